"""Which of two saddles stands first, how sure that is, and which reading would make it surer.

Saddles of a list are tried on the same backs under the same rider, try for try, so that the difference of
what they cost has a spread of its own: what doubts both alike drops out of it. A cost orders and measures
nothing, so the difference counts by its rank: as the normal score of each try, laid so that the share of a
normal distribution above 0 is the share of the tries in which the first costs less. Its sources are told as
those of a finding's measure are (`worth_repeating.py`): by the share of its variance, beyond chance. A try in
which both cost the same counts half for either.

References
----------
Blom G (1958) Statistical Estimates and Transformed Beta-Variables (normal scores (r − 3/8)/(n + 1/4); cited
from memory).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import compress

import numpy as np
from scipy import special, stats

from saddlebench.engine.choose.candidates import Wanted
from saddlebench.engine.choose.finalists import Finalist
from saddlebench.engine.choose.listed import OrderDoubt
from saddlebench.engine.choose.ranking import Place
from saddlebench.engine.fit.confidence import CloudSettings, draw_backs
from saddlebench.engine.fit.doubt_sources import sources_of
from saddlebench.engine.fit.explained import settling
from saddlebench.engine.fit.sections_again import Section, sections_of
from saddlebench.engine.fit.uncertain import OF_SADDLE, Inputs
from saddlebench.engine.fit.verdicts import at_least
from saddlebench.engine.frames import FloatArray

MOST_RIVALS = 3
"""The first place is held against so many others from which it cannot be told."""
FIRST_WINS = at_least(0.0, 0.0)
"""By its lead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One saddle of a list in all tries."""

    key: str
    label: str
    cost: FloatArray
    """(d,) float, any frame, with what its alterations count [1]."""
    inputs: Inputs


def doubts_of_order(
    places: Sequence[Place], finalists: Mapping[str, Finalist], wanted: Wanted, cloud: CloudSettings
) -> tuple[OrderDoubt, ...]:
    """Return where the doubt of a list's first place comes from.

    Parameters
    ----------
    places : of the list, in order
    finalists : by the key of their place's saddle
    wanted : the horse whose back they were tried on
    cloud : how they were tried
    """
    tried = [
        Tried(
            key=place.variant.candidate.key,
            label=place.variant.candidate.label,
            cost=finalist.tried + place.price,
            inputs=finalist.inputs,
        )
        for place in places
        if (finalist := finalists.get(place.variant.candidate.key)) is not None
        and finalist.inputs is not None
    ]
    estimated = wanted.estimated
    if len(tried) < 2 or estimated is None:
        return ()
    backs = draw_backs(estimated, wanted.surface, cloud)
    return order_doubts(tried, sections_of(estimated, backs.radius_shift_mm))


def order_doubts(ordered: Sequence[Tried], sections: Sequence[Section]) -> tuple[OrderDoubt, ...]:
    """Return where the doubt of the first place comes from, against each that may stand there as well.

    Parameters
    ----------
    ordered : saddles of a list, the best first
    sections : of the back that all were tried on

    Returns
    -------
    at most `MOST_RIVALS`, in the list's order; those that cost the same in every try are no rivals
    """
    found: list[OrderDoubt] = []
    for other in ordered[1:]:
        one = order_doubt(ordered[0], other, sections)
        if one is not None and not one.is_told:
            found.append(one)
    return tuple(found[:MOST_RIVALS])


def order_doubt(first: Tried, other: Tried, sections: Sequence[Section]) -> OrderDoubt | None:
    """Return the doubt between two saddles; None where they cost the same, or were not tried alike."""
    inputs = _together(first, other)
    if inputs is None:
        return None
    more = other.cost - first.cost
    if float(np.ptp(more)) == 0.0:
        return None
    agreeing = float(np.mean(more > 0.0) + 0.5 * np.mean(more == 0.0))
    scores = _scores(more, agreeing)
    mean, sd = float(scores.mean()), float(scores.std(ddof=1))
    sources = sources_of(scores, np.ones(len(more), dtype=bool), inputs, sections)
    return OrderDoubt(
        first=first.key,
        first_label=first.label,
        other=other.key,
        other_label=other.label,
        lead=mean,
        agreeing=agreeing,
        sources=tuple(
            replace(one, settles=settling(mean, sd, one.removes, FIRST_WINS)) if one.removes else one
            for one in sources
        ),
    )


def _scores(more: FloatArray, agreeing: float) -> FloatArray:
    """Return the normal score of each difference, (d,) [1], with `agreeing` of their distribution above 0.

    `more` : (d,) float, any frame [1].
    """
    n = len(more)
    scores = special.ndtri((stats.rankdata(more) - 0.375) / (n + 0.25))
    lead = special.ndtri(np.clip(agreeing, 0.5 / n, 1.0 - 0.5 / n))
    return np.asarray(scores - scores.mean() + lead)


def _together(first: Tried, other: Tried) -> Inputs | None:
    """Return what is common to both once, and each saddle's own by its label; None if not tried alike."""
    ours, theirs = first.inputs, other.inputs
    if ours.names != theirs.names or ours.values.shape != theirs.values.shape:
        return None
    is_own = np.array([name in OF_SADDLE for name in ours.names])
    if not np.array_equal(ours.values[:, ~is_own], theirs.values[:, ~is_own]):
        return None
    common, own = compress(ours.names, ~is_own), tuple(compress(ours.names, is_own))
    return Inputs(
        names=(
            *common,
            *(f"{name} ({first.label})" for name in own),
            *(f"{name} ({other.label})" for name in own),
        ),
        values=np.concatenate(
            [ours.values[:, ~is_own], ours.values[:, is_own], theirs.values[:, is_own]], axis=1
        ),
    )
