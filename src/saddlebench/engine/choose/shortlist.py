"""From a whole stock to the few for one horse: hard limits, a quick pass, full resolution where it matters.

How the search goes is told in `search.py`. A saddle that found no rest in the quick pass may yet find it in
full: it counts what is certain of it.
"""

from collections.abc import Callable, Sequence

from saddlebench.engine.choose.assess import (
    FINE_POINTS,
    AssessJob,
)
from saddlebench.engine.choose.candidates import Candidate, Wanted
from saddlebench.engine.choose.fill import AfterFill, after_fill
from saddlebench.engine.choose.finalists import Finalist, FinalJob, look_closely
from saddlebench.engine.choose.limits import FrontSection, HardLimits, RuledOut, broken_limit, width_is_within
from saddlebench.engine.choose.listed import Entry, NotJudged, OrderDoubt, Shortlist, Work
from saddlebench.engine.choose.order_doubt import doubts_of_order
from saddlebench.engine.choose.pool import HERE, Pool
from saddlebench.engine.choose.ranking import Known, Place, entries_of, in_order, ranked, with_fill
from saddlebench.engine.choose.search import Search, refine
from saddlebench.engine.choose.settings import ShortlistSettings
from saddlebench.engine.choose.variants import variants_of
from saddlebench.engine.fit.confidence import CloudSettings
from saddlebench.engine.fit.measures.batch import pad_thickness
from saddlebench.engine.fit.study import Progress
from saddlebench.engine.saddle.model import PadLayer, Zone
from saddlebench.engine.saddle.numbers import RigidNumbers, family_of
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.saddle.unmodelled import why_not

_RIVALS = 8
"""Saddles after the list that are tried as well: what the list's own places are held against."""


def _silent(done: int, of: int, doing: str) -> None:
    del done, of, doing


def _never() -> bool:
    return False


def _unseen(best: Sequence[Place]) -> None:
    del best


def shortlist(
    wanted: Wanted,
    candidates: Sequence[Candidate],
    settings: ShortlistSettings | None = None,
    *,
    pool: Pool = HERE,
    progress: Progress = _silent,
    stop: Callable[[], bool] = _never,
    so_far: Callable[[Sequence[Place]], None] = _unseen,
) -> Shortlist:
    """Return the saddles of a stock that suit one horse and rider best.

    Parameters
    ----------
    wanted : horse and rider
    candidates : the stock
    settings : length of the list, tries, what weighs how much, hard limits
    pool : where the work is done; the result is the same in every digit
    progress : told of every step
    stop : asked between steps; once it says yes, what is known so far is returned as partial
    so_far : shown the best saddles known in full, whenever more were settled; the list may still change

    Returns
    -------
    Shortlist
        Best first. Without the back's own uncertainty (`Wanted.estimated`) entries carry no fit check.
    """
    settings = settings or ShortlistSettings()
    front = FrontSection.of(wanted)
    kept, ruled_out, not_judged = sieve(wanted, candidates, settings.limits)
    search = Search(
        wanted=wanted,
        settings=settings,
        pool=pool,
        stop=stop,
        progress=progress,
        sorted=variants_of(
            kept, wanted.pads, lambda record, pads: _may_be(record, pads, front, settings.limits)
        ),
        first={},
        quick={},
        full={},
        odd={},
        margin=settings.margin,
        so_far=so_far,
    )
    everything = range(len(search.sorted.shapes))
    if settings.exhaustive:
        search.assess(everything, FINE_POINTS, search.full, "every saddle in full")
    else:
        search.look_first()
        if not search.stopped:
            refine(search)
    known = Known(full=search.full, quick=search.quick if search.stopped else {})
    if search.stopped:
        places = ranked(search.sorted.variants, known, settings.rules)
    else:
        places = _final_places(search)
    finalists = _close_look(search, places)
    entries = entries_of(places, search.sorted, known, settings, finalists)
    doubts = doubts_of_order(places[: settings.length], finalists, wanted, _cloud_of(settings))
    return _listed(search, len(candidates), ruled_out, not_judged, entries, doubts)


def sieve(
    wanted: Wanted, candidates: Sequence[Candidate], limits: HardLimits
) -> tuple[tuple[Candidate, ...], tuple[RuledOut, ...], tuple[NotJudged, ...]]:
    """Return the saddles that pass the hard limits, those ruled out, and those that cannot be judged."""
    kept, out, odd = [], [], []
    front = FrontSection.of(wanted)
    for candidate in candidates:
        numbers = candidate.record.numbers
        if not isinstance(numbers, RigidNumbers):
            reason = why_not(family_of(numbers)).reason
            odd.append(NotJudged(key=candidate.key, label=candidate.label, reason=reason))
            continue
        pads = candidate.record.pads if wanted.pads is None else wanted.pads
        broken = broken_limit(candidate, numbers, wanted, front, _front_pad_mm(pads), limits)
        if broken is None:
            kept.append(candidate)
        else:
            out.append(broken)
    return tuple(kept), tuple(out), tuple(odd)


def _front_pad_mm(pads: tuple[PadLayer, ...]) -> float:
    return float(pad_thickness(pads, over_spine=False)[Zone.FRONT])


def _may_be(
    record: SaddleRecord, pads: tuple[PadLayer, ...], front: FrontSection, limits: HardLimits
) -> bool:
    numbers = record.numbers
    return isinstance(numbers, RigidNumbers) and width_is_within(numbers, front, _front_pad_mm(pads), limits)


def _final_places(search: Search) -> list[Place]:
    """Return the saddles in order, their fill changed where that betters them.

    Fill is tried for the list and the next few, and on down the order for as long as that brings a saddle
    into the list.
    """
    settings = search.settings
    places = ranked(search.sorted.variants, Known(full=search.full, quick={}), settings.rules)
    if not settings.try_fill:
        return places
    done, tried, batch = 0, places, settings.length + _RIVALS
    while done < len(places) and not search.stopped:
        near = places[done : done + batch]
        before = {place.variant.candidate.key for place in tried[: settings.length]}
        changed = _changed_fill(search, near)
        keys = {place.variant.candidate.key for place in near}
        others = [place for place in tried if place.variant.candidate.key not in keys]
        tried = in_order([*others, *with_fill(near, changed, settings.rules)])
        listed = {place.variant.candidate.key for place in tried[: settings.length]}
        if done and listed == before:
            break
        done, batch = done + batch, _RIVALS
    return tried


def _changed_fill(search: Search, places: Sequence[Place]) -> dict[int, AfterFill]:
    """Try other fill in the shapes of some places."""
    numbers = list(dict.fromkeys(place.variant.shape for place in places))
    job = AssessJob.of(search.wanted, search.settings.criteria, search.settings.rules)
    changed: dict[int, AfterFill] = {}
    answers = search.pool.run(after_fill, job, [search.sorted.shapes[k] for k in numbers])
    for done, (index, one) in enumerate(answers, start=1):
        if isinstance(one, AfterFill):
            changed[numbers[index]] = one
        search.progress(done, len(numbers), "trying other fill")
        if search.stop():
            search.stopped = True
            answers.close()  # type: ignore[attr-defined]
            break
    return changed


def _close_look(search: Search, places: Sequence[Place]) -> dict[str, Finalist]:
    """Return the study and the tries of the list's saddles, and the tries of the next ones."""
    settings, wanted = search.settings, search.wanted
    if wanted.estimated is None or not settings.with_studies or search.stopped:
        return {}
    rivals = places[settings.length : settings.length + _RIVALS] if settings.draws else ()
    asked = [*((place, True) for place in places[: settings.length]), *((place, False) for place in rivals)]
    job = FinalJob(
        wanted=wanted,
        criteria=settings.criteria,
        rules=settings.rules,
        cloud=_cloud_of(settings),
    )
    items = [(search.sorted.shapes[place.variant.shape], place.fill, full) for place, full in asked]
    found: dict[str, Finalist] = {}
    answers = search.pool.run(look_closely, job, items)
    for done, (index, one) in enumerate(answers, start=1):
        if isinstance(one, Finalist):
            found[asked[index][0].variant.candidate.key] = one
        search.progress(done, len(asked), "looking closely at the list")
        if search.stop():
            search.stopped = True
            answers.close()  # type: ignore[attr-defined]
            break
    return found


def _cloud_of(settings: ShortlistSettings) -> CloudSettings:
    return CloudSettings(draws=settings.draws, seed=settings.seed, points=settings.cloud_points, threads=1)


def _listed(
    search: Search,
    n_candidates: int,
    ruled_out: tuple[RuledOut, ...],
    not_judged: tuple[NotJudged, ...],
    entries: tuple[Entry, ...],
    order_doubts: tuple[OrderDoubt, ...],
) -> Shortlist:
    settings, found = search.settings, search.sorted
    odd = {
        v.candidate.key: (v.candidate, search.odd[v.shape]) for v in found.variants if v.shape in search.odd
    }
    more = tuple(NotJudged(key=k, label=c.label, reason=why.reason) for k, (c, why) in odd.items())
    return Shortlist(
        wanted_key=search.wanted.key,
        wanted_label=search.wanted.label,
        entries=entries,
        ruled_out=ruled_out,
        not_judged=(*not_judged, *more),
        is_complete=not search.stopped,
        length=settings.length,
        rules=settings.rules,
        limits=settings.limits,
        order_doubts=order_doubts,
        own_errors=search.wanted.own_errors,
        work=Work(
            candidates=n_candidates,
            ways=len(found.variants),
            shapes=len(found.shapes),
            first=len(search.first),
            quick=len(search.quick),
            in_full=len(search.full),
            margin=search.margin,
            largest_error=search.largest_error,
        ),
    )
