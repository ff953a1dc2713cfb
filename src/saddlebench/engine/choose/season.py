"""Many horses and many saddles: a short list for each horse, and which horses could take one saddle."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from saddlebench.engine.choose.candidates import Candidate, Wanted
from saddlebench.engine.choose.limits import RuledOut
from saddlebench.engine.choose.listed import Entry, NotJudged, Shortlist
from saddlebench.engine.choose.pool import HERE, Pool
from saddlebench.engine.choose.settings import ShortlistSettings
from saddlebench.engine.choose.shortlist import shortlist
from saddlebench.engine.fit.study import Progress

SEASON_LENGTH = 5


def _silent(done: int, of: int, doing: str) -> None:
    del done, of, doing


def _never() -> bool:
    return False


def season(
    wanted: Sequence[Wanted],
    candidates: Sequence[Candidate],
    settings: ShortlistSettings | None = None,
    *,
    pool: Pool = HERE,
    progress: Progress = _silent,
    stop: Callable[[], bool] = _never,
) -> Iterator[Shortlist]:
    """Yield a short list for every horse, as they are done, in no order that means anything.

    Entries carry no fit check and no confidence: a season plans, a shortlist for one horse decides.

    Parameters
    ----------
    wanted : the horses and riders, each with its own key
    candidates : the stock
    settings : as for a shortlist; five saddles a horse if not given
    pool : where the work is done, horse by horse
    progress : told of every horse
    stop : asked after every horse; what was not begun is then left out
    """
    plain = replace(
        settings or ShortlistSettings(length=SEASON_LENGTH), draws=0, with_studies=False, try_fill=False
    )
    asked = [replace(one, estimated=None) for one in wanted]
    answers = pool.run(_for_one_horse, (tuple(candidates), plain), asked)
    for done, (_, found) in enumerate(answers, start=1):
        progress(done, len(asked), f"list for {found.wanted_label}")
        yield found
        if stop():
            answers.close()  # type: ignore[attr-defined]
            return


def _for_one_horse(shared: tuple[tuple[Candidate, ...], ShortlistSettings], wanted: Wanted) -> Shortlist:
    candidates, settings = shared
    return shortlist(wanted, candidates, settings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Taker:
    """One horse that a saddle could go to."""

    wanted_key: str
    wanted_label: str
    entry: Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Takers:
    """The horses for one saddle, those it suits best first."""

    key: str
    label: str
    takers: tuple[Taker, ...]
    ruled_out: tuple[tuple[str, RuledOut], ...]
    """By the horse's name."""
    not_judged: tuple[tuple[str, NotJudged], ...]
    is_complete: bool


def takers(
    candidate: Candidate,
    wanted: Sequence[Wanted],
    settings: ShortlistSettings | None = None,
    *,
    pool: Pool = HERE,
    progress: Progress = _silent,
    stop: Callable[[], bool] = _never,
) -> Takers:
    """Return the horses that could take one saddle; see `season` for the parameters."""
    lists = list(season(wanted, (candidate,), settings, pool=pool, progress=progress, stop=stop))
    lists.sort(key=lambda one: (one.entries[0].cost if one.entries else 0.0, one.wanted_key))
    return Takers(
        key=candidate.key,
        label=candidate.label,
        takers=tuple(
            Taker(wanted_key=one.wanted_key, wanted_label=one.wanted_label, entry=replace(entry, rank=place))
            for place, (one, entry) in enumerate(
                ((one, entry) for one in lists for entry in one.entries), start=1
            )
        ),
        ruled_out=tuple((one.wanted_label, out) for one in lists for out in one.ruled_out),
        not_judged=tuple((one.wanted_label, odd) for one in lists for odd in one.not_judged),
        is_complete=len(lists) == len(wanted),
    )
