"""The search for a list's saddles: every shape as closely as it needs, the most promising first.

Every shape is girthed on few points first: what that tells is the least that its quick pass can cost. The
quick pass errs; by how much was measured on exhaustive runs (`MARGIN`, see docs/why/shortlist.md). Whatever
promises most is looked at next, one step more closely, until nothing is left whose least cost so far, less
the margin, could still reach the list. An error larger than foreseen widens the margin as soon as it is seen.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from saddlebench.engine.choose.assess import (
    COARSE_POINTS,
    FINE_POINTS,
    Assessed,
    AssessJob,
    assess,
    first_looks,
)
from saddlebench.engine.choose.candidates import Wanted
from saddlebench.engine.choose.cost import CostRules
from saddlebench.engine.choose.pool import Pool, in_chunks
from saddlebench.engine.choose.ranking import Known, Place, ranked
from saddlebench.engine.choose.settings import ShortlistSettings
from saddlebench.engine.choose.variants import Shape, Sorted
from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.study import Progress

_Shared = TypeVar("_Shared")
_Found = TypeVar("_Found")
WIDENED = 1.25
"""A larger error than foreseen is multiplied by this to make the new margin."""
_CHUNK = 16
_BATCH = 16
"""Shapes settled in full between two looks at the list; fixed, so that no result depends on the workers."""
_QUICK_BATCH = 64
"""The same for the quick pass."""


@dataclass(slots=True)
class Search:
    """What is known so far; filled as answers come."""

    wanted: Wanted
    settings: ShortlistSettings
    pool: Pool
    stop: Callable[[], bool]
    progress: Progress
    sorted: Sorted
    first: dict[int, float]
    quick: dict[int, Assessed]
    full: dict[int, Assessed]
    odd: dict[int, NotMeasured | Undetermined]
    margin: float
    so_far: Callable[[Sequence[Place]], None]
    largest_error: float = 0.0
    stopped: bool = False

    def look_first(self) -> None:
        """Girth every shape on few points."""
        job = AssessJob.of(self.wanted, self.settings.criteria, self.settings.rules)
        self._run(first_looks, job, range(len(self.sorted.shapes)), _CHUNK, self.first, "first look")

    def assess(self, numbers: Sequence[int], n_points: int, known: dict[int, Assessed], doing: str) -> None:
        """Assess shapes by number; leaves off where it is told to stop."""
        job = AssessJob.of(self.wanted, self.settings.criteria, self.settings.rules)
        size = _CHUNK if n_points == COARSE_POINTS else 4
        self._run(_assess_chunk, (job, n_points), numbers, size, known, doing)

    def _run(
        self,
        work: Callable[[_Shared, tuple[Shape, ...]], list[_Found | NotMeasured | Undetermined]],
        shared: _Shared,
        numbers: Sequence[int],
        size: int,
        known: dict[int, _Found],
        doing: str,
    ) -> None:
        chunks = in_chunks(numbers, size)
        items = [tuple(self.sorted.shapes[k] for k in chunk) for chunk in chunks]
        answers = self.pool.run(work, shared, items)
        done = 0
        for index, found in answers:
            for number, one in zip(chunks[index], found, strict=True):
                if isinstance(one, NotMeasured | Undetermined):
                    self.odd[number] = one
                else:
                    known[number] = one
            done += len(found)
            self.progress(done, len(numbers), doing)
            if self.stop():
                self.stopped = True
                answers.close()  # type: ignore[attr-defined]
                return


def _assess_chunk(
    shared: tuple[AssessJob, int], shapes: tuple[Shape, ...]
) -> list[Assessed | NotMeasured | Undetermined]:
    job, n_points = shared
    return assess(job, shapes, n_points)


def refine(search: Search) -> None:
    """Look ever more closely at whatever may be in the list, the most promising first."""
    price = _cheapest_ways(search.sorted, search.settings.rules)
    waiting = sorted(search.first, key=lambda k: (search.first[k] + price[k], k))
    promising: list[int] = []
    while not search.stopped:
        bar = _bar(search)
        due = [k for k in waiting[:_QUICK_BATCH] if search.first[k] + price[k] - search.margin < bar]
        near = [k for k in promising[:_BATCH] if search.quick[k].least + price[k] - search.margin < bar]
        if not due and not near:
            return
        if due and not (near and _least_of(search, near[0], price) < search.first[due[0]] + price[due[0]]):
            waiting = waiting[len(due) :]
            search.assess(due, COARSE_POINTS, search.quick, "quick pass over what may be in the list")
            more = [k for k in due if k in search.quick]
            promising = sorted([*promising, *more], key=lambda k: (_least_of(search, k, price), k))
        else:
            promising = promising[len(near) :]
            _in_full(search, near)


def _least_of(search: Search, shape: int, price: dict[int, float]) -> float:
    return search.quick[shape].least + price[shape]


def _in_full(search: Search, batch: Sequence[int]) -> None:
    """Settle shapes in full, learn from them how the quick pass errs, and tell what the list is so far."""
    search.assess(batch, FINE_POINTS, search.full, "in full, what may be in the list")
    for k in batch:
        if k in search.full:
            search.largest_error = max(search.largest_error, search.quick[k].least - search.full[k].total)
    search.margin = max(search.margin, WIDENED * search.largest_error)
    best = ranked(search.sorted.variants, Known(full=search.full, quick={}), search.settings.rules)
    search.so_far(best[: search.settings.length])


def _cheapest_ways(found: Sorted, rules: CostRules) -> dict[int, float]:
    """Return, for each shape, the least that any saddle pays to be altered to it."""
    least: dict[int, float] = {}
    for variant in found.variants:
        price = rules.arch_set if variant.arch_by_mm else 0.0
        least[variant.shape] = min(least.get(variant.shape, price), price)
    return least


def _bar(search: Search) -> float:
    """Return the cost of the list's last place as far as it is known in full; infinite while it is open."""
    places = ranked(search.sorted.variants, Known(full=search.full, quick={}), search.settings.rules)
    length = search.settings.length
    return places[length - 1].cost if len(places) >= length else float("inf")
