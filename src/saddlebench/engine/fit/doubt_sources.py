"""The sources of a number's spread over the tries, and what one repeat of each would take away.

What a section read again would tell is linear: with `r` the back at the section's points, `m` the number, `E`
what fresh readings err by, the tries' covariances give the part of Var(m) that goes, `c' (C + E)⁻¹ c /
Var(m)`, `c = cov(m, r)`, `C = cov(r)`. A mark, a mass or a length measured once more by the same hand halves
its own part.

References
----------
Raiffa H & Schlaifer R (1961) Applied Statistical Decision Theory, ch. 5 (preposterior analysis).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.explained import HALF_WIDTH, beyond_chance, moments, without_chance
from saddlebench.engine.fit.saddle_error import MODE_WORDS
from saddlebench.engine.fit.sections_again import Section
from saddlebench.engine.fit.uncertain import (
    GIRTH_TENSION,
    HORSE_MASS,
    MARK_WORDS,
    NEAR_OFF,
    RIDER_MASS,
    Inputs,
)
from saddlebench.engine.frames import FloatArray

LEAST_SHARE = 0.05
"""What carries less of the spread than this is not listed."""
CHANCE = 0.05
"""So often at most a finding's sources hold one that chance alone shows; with few tries chance shows much."""
LEAST_REMOVED = 0.02
MOST_LISTED = 8
LIKELY = 0.5
"""A repeat is advised as settling the matter where it does so more often than not."""
NO_REPEAT_HELPS = Undetermined("no single reading stands out that would lessen the doubt if taken again")


class SourceKind(StrEnum):
    """What could be done about a source of doubt."""

    SECTION = "measure the section again"
    MARK = "feel the mark again"
    SADDLE = "measure the saddle again"
    KIT = "weigh or measure it"
    LEVEL = "read the level again, on level ground"
    ASSUMPTION = "an assumption: no reading lessens it"


@dataclass(frozen=True, slots=True, kw_only=True)
class WorthRepeating:
    """One source of a finding's doubt."""

    source: str
    """In words: “station 3, off side”, “the last-rib mark”."""
    kind: SourceKind
    share: float
    """Part of the measure's variance that goes with it; sections overlap, so shares may exceed 1 [1]."""
    low: float
    """The measure at that end of the source's 95 % which makes it small, in the unit people see."""
    high: float
    removes: float
    """Part of the measure's variance that one repeat is expected to take away [1]."""
    settles: float = 0.0
    """In how many of 100 repeats, as a share, the finding could be told afterwards [1]."""
    stations: tuple[int, ...] = ()
    """As the fitter counted them in this record; where it lies tells a section for ever."""
    at_mm: float | None = None
    """Of a section: behind the shoulder mark; None in a check kept before it was noted [mm]."""


def best_of(sources: Sequence[WorthRepeating]) -> WorthRepeating | Undetermined:
    """Return the repeat that helps most, where one does."""
    useful = [one for one in sources if one.kind is not SourceKind.ASSUMPTION]
    worth = max(useful, key=lambda one: one.removes, default=None)
    if worth is None or worth.removes < LEAST_REMOVED:
        return NO_REPEAT_HELPS
    return worth


def likely_settled(sources: Sequence[WorthRepeating]) -> bool:
    """Return whether the best repeat settles the matter more often than not."""
    best = best_of(sources)
    return not isinstance(best, Undetermined) and best.settles >= LIKELY


def sources_of(
    shown: FloatArray, known: NDArray[np.bool_], inputs: Inputs, sections: Sequence[Section]
) -> tuple[WorthRepeating, ...]:
    """Return what a number's spread over the tries goes with beyond chance, the largest source first.

    Parameters
    ----------
    shown : (k,) float, any frame, the number in those of `d` tries in which it is known [any unit]
    known : (d,) bool, which ones these are
    inputs : what was drawn beside the back
    sections : of the back
    """
    level = CHANCE / max(len(inputs.names) + len(sections), 1)
    sources = [
        *_of_inputs(shown, known, inputs, level),
        *(_of_section(shown, known, section, level) for section in sections),
    ]
    return _listed(sorted((one for one in sources if one.share >= LEAST_SHARE), key=lambda one: -one.share))


def _listed(sources: Sequence[WorthRepeating]) -> tuple[WorthRepeating, ...]:
    """Keep the largest sources, and in any case the repeat that helps most."""
    kept = list(sources[:MOST_LISTED])
    useful = [one for one in sources if one.kind is not SourceKind.ASSUMPTION]
    best = max(useful, key=lambda one: one.removes, default=None)
    if best is not None and best not in kept:
        kept[-1] = best
    return tuple(kept)


def kind_of_input(name: str) -> SourceKind:
    """Return what could be done about a drawn input, by its name; of which saddle stands in brackets."""
    name = name.partition(" (")[0]
    if name in MARK_WORDS.values():
        return SourceKind.MARK
    if name in MODE_WORDS.values() or name == NEAR_OFF:
        return SourceKind.SADDLE
    if name in (GIRTH_TENSION, HORSE_MASS, RIDER_MASS) or name.startswith("thickness of "):
        return SourceKind.KIT
    if "level" in name or name.startswith("scan, "):
        return SourceKind.LEVEL
    return SourceKind.ASSUMPTION


def _of_inputs(
    shown: FloatArray, known: NDArray[np.bool_], inputs: Inputs, level: float
) -> list[WorthRepeating]:
    mean, sd, count = moments(shown)
    values = inputs.values[known]
    centred = values - values.mean(axis=0)
    size = np.maximum(np.linalg.norm(centred, axis=0), 1e-12)
    correlation = centred.T @ (shown - mean) / (size * sd * np.sqrt(max(count - 1, 1)))
    held = []
    for name, r in zip(inputs.names, correlation.tolist(), strict=True):
        share = without_chance(r**2, 1.0, count) if beyond_chance(r**2, 1.0, count, level) else 0.0
        kind = kind_of_input(name)
        removes = 0.0 if kind is SourceKind.ASSUMPTION else 0.5 * share
        swing = HALF_WIDTH * sd * float(np.sqrt(share))
        held.append(
            WorthRepeating(
                source=name,
                kind=kind,
                share=share,
                low=mean - swing,
                high=mean + swing,
                removes=removes,
            )
        )
    return held


def _of_section(
    shown: FloatArray, known: NDArray[np.bool_], section: Section, level: float
) -> WorthRepeating:
    mean, sd, count = moments(shown)
    covariance = section.known[known].T @ (shown - mean) / (count - 1)
    fresh, pure = (
        float(covariance @ inverse @ covariance) / sd**2 for inverse in (section.inverse, section.pure)
    )
    removes = share = 0.0
    if beyond_chance(pure, section.dimension[1], count, level):
        removes = without_chance(fresh, section.dimension[0], count)
        share = without_chance(pure, section.dimension[1], count)
    swing = HALF_WIDTH * sd * float(np.sqrt(share))
    return WorthRepeating(
        source=section.words,
        kind=SourceKind.SECTION,
        share=share,
        low=mean - swing,
        high=mean + swing,
        removes=min(removes, share),
        stations=(section.station,),
        at_mm=section.at_mm,
    )
