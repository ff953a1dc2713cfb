"""What drives a finding's doubt, and which reading, taken once more, would lessen it most.

Everything is read off the cloud of tries that made the confidence. What a section read again would tell is
linear: with `r` the back at the section's points, `m` the finding's measure, `E` what fresh readings err by,
the tries' covariances give the part of Var(m) that goes, `c' (C + E)⁻¹ c / Var(m)`, `c = cov(m, r)`,
`C = cov(r)`. A mark, a mass or a length measured once more by the same hand halves its own part.

References
----------
Raiffa H & Schlaifer R (1961) Applied Statistical Decision Theory, ch. 5 (preposterior analysis: what is known
after a measurement that was not made yet). JCGM 101:2008 for the tries. Fisher RA (1924) Proc. Int. Math.
Congr. Toronto 2: 805-813 (the variance ratio's distribution: what so many numbers explain by chance; cited
from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import inf

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, special, stats

from saddlebench.engine.back.gaussian import place_rows
from saddlebench.engine.back.radial import radial_data
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.agreement import AGREEING
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.findings import Finding, Row, held_of, severities
from saddlebench.engine.fit.measures.names import Key, MeasureKey, Side
from saddlebench.engine.fit.measures.table import MeasureTable
from saddlebench.engine.fit.saddle_error import MODE_WORDS
from saddlebench.engine.fit.uncertain import (
    GIRTH_TENSION,
    HORSE_MASS,
    MARK_WORDS,
    NEAR_OFF,
    RIDER_MASS,
    Inputs,
)
from saddlebench.engine.fit.verdicts import Levels, Limit, Verdict
from saddlebench.engine.frames import FloatArray

LEAST_SHARE = 0.05
"""What carries less of the spread than this is not listed."""
CHANCE = 0.05
"""So often at most a finding's sources hold one that chance alone shows; with few tries chance shows much."""
LEAST_REMOVED = 0.02
MOST_LISTED = 8
LIKELY = 0.5
"""A repeat is advised as settling the matter where it does so more often than not."""
HALF_WIDTH = 1.959964
"""Standard deviations on either side of a mean that hold 95 %."""


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


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingDoubt:
    """Where the doubt of one finding comes from, the largest source first."""

    finding: FindingName
    side: Side
    what: str
    """The measure that wavers, as its key says it."""
    unit: str
    value: float
    """Mean of the tries, in the unit people see."""
    half_width: float
    """Of its 95 % [same unit]."""
    bounds: tuple[float, ...]
    """Limits at which the verdict changes [same unit]."""
    agreeing: float
    """Share of the tries that agree with what was computed [1]."""
    is_told: bool
    sources: tuple[WorthRepeating, ...]

    @property
    def best(self) -> WorthRepeating | Undetermined:
        """The repeat that helps most."""
        return best_of(self.sources)

    @property
    def would_settle(self) -> bool:
        """Whether the best repeat settles the finding more often than not."""
        best = self.best
        return not self.is_told and not isinstance(best, Undetermined) and best.settles >= LIKELY

    def half_width_after(self, source: WorthRepeating) -> float:
        """Return the expected half width of the measure's 95 % after one repeat, in the unit people see."""
        return self.half_width * float(np.sqrt(1.0 - source.removes))


NO_REPEAT_HELPS = Undetermined("no single reading stands out that would lessen the doubt if taken again")


def best_of(sources: Sequence[WorthRepeating]) -> WorthRepeating | Undetermined:
    """Return the repeat that helps most, where one does."""
    useful = [one for one in sources if one.kind is not SourceKind.ASSUMPTION]
    worth = max(useful, key=lambda one: one.removes, default=None)
    if worth is None or worth.removes < LEAST_REMOVED:
        return NO_REPEAT_HELPS
    return worth


@dataclass(frozen=True, slots=True)
class Section:
    """One side of one section, as the tries know it."""

    words: str
    station: int
    at_mm: float
    """Behind the shoulder mark."""
    known: FloatArray
    """(d, k) float, back frame: the tries' radii at the section's points, centred [mm]."""
    inverse: FloatArray
    """(k, k) float, of the covariance of what fresh readings would show [mm⁻²]."""
    pure: FloatArray
    """(k, k) float, of the covariance of the back alone [mm⁻²]."""
    dimension: tuple[float, float]
    """How many independent numbers the fresh readings, and the section itself, tell."""


def worth_repeating(
    findings: Sequence[Finding],
    rows: Sequence[Row],
    table: MeasureTable,
    inputs: Inputs,
    radius_shift_mm: FloatArray,
    estimated: EstimatedBack,
) -> tuple[FindingDoubt, ...]:
    """Return where the doubt of each finding comes from.

    Parameters
    ----------
    findings : with their confidence
    rows : the criterion of each
    table : the measures of all tries
    inputs : what was drawn beside the back, the errors of the record's frame among them
    radius_shift_mm : (d, n_s, n_phi) float, back frame: each drawn back less the estimate [mm]
    estimated : the back and its readings

    Returns
    -------
    one for every finding whose measure varies; a pressure only ranks and has none
    """
    sections = sections_of(estimated, radius_shift_mm)
    held = []
    for finding, row in zip(findings, rows, strict=True):
        limit = _wavering(finding, row, table)
        if limit is not None:
            held.append(_doubt(finding, row, limit, table, inputs, sections))
    return tuple(held)


def _wavering(finding: Finding, row: Row, table: MeasureTable) -> Limit | None:
    """Return the limit whose own answer changes most often in the tries; the deciding one if none does."""
    _, each = severities(row, table)
    first = finding.decided_by.limit
    limits = [
        (float(np.mean(codes != np.bincount(codes).argmax())), held is first, held)
        for held, codes in zip(held_of(row), each, strict=True)
        if isinstance(held, Limit) and _varies(table, held.measure)
    ]
    return max(limits, key=lambda one: one[:2])[2] if limits else None


def _varies(table: MeasureTable, key: Key) -> bool:
    if key not in table.columns or table.known[key].sum() < 0.5 * table.count:
        return False
    return float(np.ptp(table.columns[key][table.known[key]])) > 0.0


def sections_of(estimated: EstimatedBack, radius_shift_mm: FloatArray) -> tuple[Section, ...]:
    """Return the two sides of each section; `radius_shift_mm` (d, n_s, n_phi), back frame [mm]."""
    points, grid = estimated.points, estimated.surface.grid
    s, phi, _ = grid.polar(points.points_back)
    data = radial_data(points, grid, estimated.surface.spline.radius(s, phi)[:, 1:3])
    along, across = place_rows(grid, s, phi)
    count = len(radius_shift_mm)
    held = []
    for index, station in enumerate(points.stations):
        for side, sign in ((Side.NEAR, 1), (Side.OFF, -1)):
            rows = _thinned(np.flatnonzero((points.station == index) & (points.side == sign)))
            if not len(rows):
                continue
            seen = np.einsum("dnk,kn->dk", radius_shift_mm @ across[rows].T, along[rows])
            seen = seen - seen.mean(axis=0)
            back = seen.T @ seen / (count - 1)
            gain = data.error_gain[rows][:, _fresh(points, station.number)]
            fresh = gain @ gain.T + np.diag(data.noise_mm[rows] ** 2)
            inverse = linalg.pinvh(back + fresh)
            pure = linalg.pinvh(back, rtol=1e-3)
            held.append(
                Section(
                    words=f"station {station.number}, {side} side",
                    station=station.number,
                    at_mm=station.distance_mm,
                    known=seen,
                    inverse=inverse,
                    pure=pure,
                    dimension=(float(np.trace(inverse @ back)), float(np.trace(pure @ back))),
                )
            )
    return tuple(held)


def _thinned(rows: NDArray[np.intp], most: int = 16) -> NDArray[np.intp]:
    """Return at most so many of a section's points, evenly: its neighbours say the same."""
    if len(rows) <= most:
        return rows
    return rows[np.linspace(0, len(rows) - 1, most).round().astype(np.intp)]


def _fresh(points: MeasuredPoints, number: int) -> list[int]:
    """Return the elementary errors that are others when a station is read again.

    Errors of zeros and of the mark's place are the same again; that they are left out makes a repeat look a
    little better than it is.
    """
    words = f"station {number}"
    return [
        index
        for index, source in enumerate(points.error_source)
        if source == words or source.startswith((f"{words},", f"{words} "))
    ]


def _doubt(
    finding: Finding,
    row: Row,
    limit: Limit,
    table: MeasureTable,
    inputs: Inputs,
    sections: Sequence[Section],
) -> FindingDoubt:
    key: MeasureKey = limit.measure
    known = table.known[key]
    shown = table.columns[key][known] / key.unit.in_engine
    mean, sd, _ = _moments(shown)
    overall, _ = severities(row, table)
    return FindingDoubt(
        finding=finding.name,
        side=finding.side,
        what=_words(key),
        unit=key.unit.symbol,
        value=mean,
        half_width=HALF_WIDTH * sd,
        bounds=tuple(float(bound) for bound in limit.levels.bounds),
        agreeing=float(np.mean(overall == np.bincount(overall).argmax())),
        is_told=finding.verdict is not Verdict.CANNOT_TELL,
        sources=tuple(
            replace(one, settles=settling(mean, sd, one.removes, limit.levels)) if one.removes else one
            for one in sources_of(shown, known, inputs, sections)
        ),
    )


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


def _words(key: MeasureKey) -> str:
    parts = [str(key.name), str(key.part), str(key.side), "" if key.state is None else str(key.state)]
    return ", ".join(part for part in parts if part)


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
    mean, sd, count = _moments(shown)
    values = inputs.values[known]
    centred = values - values.mean(axis=0)
    size = np.maximum(np.linalg.norm(centred, axis=0), 1e-12)
    correlation = centred.T @ (shown - mean) / (size * sd * np.sqrt(max(count - 1, 1)))
    held = []
    for name, r in zip(inputs.names, correlation.tolist(), strict=True):
        share = _without_chance(r**2, 1.0, count) if beyond_chance(r**2, 1.0, count, level) else 0.0
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
    mean, sd, count = _moments(shown)
    covariance = section.known[known].T @ (shown - mean) / (count - 1)
    fresh, pure = (
        float(covariance @ inverse @ covariance) / sd**2 for inverse in (section.inverse, section.pure)
    )
    removes = share = 0.0
    if beyond_chance(pure, section.dimension[1], count, level):
        removes = _without_chance(fresh, section.dimension[0], count)
        share = _without_chance(pure, section.dimension[1], count)
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


def _moments(shown: FloatArray) -> tuple[float, float, int]:
    return float(shown.mean()), float(shown.std(ddof=1)), len(shown)


def beyond_chance(explained: float, dimension: float, count: int, level: float) -> bool:
    """Tell whether numbers explain more of a variance than as many idle ones would, by the variance ratio.

    Parameters
    ----------
    explained : share of the variance that is explained in so many tries [1]
    dimension : how many independent numbers explain it
    count : of the tries
    level : how often idle numbers may explain as much
    """
    free = count - 1.0 - dimension
    if free < 1.0 or dimension <= 0.0:
        return False
    ratio = explained / dimension / max((1.0 - explained) / free, 1e-12)
    return bool(stats.f.sf(ratio, dimension, free) < level)


def _without_chance(explained: float, dimension: float, count: int) -> float:
    """Return a share of variance less what so many numbers explain by chance (adjusted R², Ezekiel 1930)."""
    free = max(count - 1 - dimension, 1.0)
    return float(np.clip(1.0 - (1.0 - explained) * (count - 1) / free, 0.0, 1.0))


def settling(mean: float, sd: float, removes: float, levels: Levels, n: int = 81) -> float:
    """Return how probable it is that a finding can be told after a repeat.

    Afterwards the measure is known to `sd·√(1 − removes)` about a value that itself is not known yet and
    scatters by `sd·√removes`.

    Parameters
    ----------
    mean, sd : of the measure now, in the unit people see
    removes : part of its variance that the repeat takes away
    levels : what it is held against
    n : values afterwards that are tried
    """
    after = sd * float(np.sqrt(max(1.0 - removes, 1e-9)))
    values = mean + sd * float(np.sqrt(removes)) * special.ndtri((np.arange(n) + 0.5) / n)
    edges = np.array([-inf, *levels.bounds, inf])
    shares = np.diff(special.ndtr((edges[None, :] - values[:, None]) / after), axis=1)
    verdicts = [levels.judge(float(x)) for x in _inside(edges)]
    told = np.stack([shares[:, [v is one for v in verdicts]].sum(axis=1) for one in set(verdicts)])
    narrow = np.diff(edges)[np.searchsorted(edges, values) - 1] < HALF_WIDTH * after
    return float(np.mean((told.max(axis=0) >= AGREEING) & ~narrow))


def _inside(edges: FloatArray) -> FloatArray:
    """Return one place within each band between edges (k,) float, any frame [any unit]."""
    finite = edges[1:-1]
    return np.concatenate([[finite[0] - 1.0], 0.5 * (finite[1:] + finite[:-1]), [finite[-1] + 1.0]])
