"""Which input a measure's spread comes from: squared rank correlation with every input and every station.

References
----------
Spearman C (1904) Am J Psychol 15:72–101 (rank correlation). Its square is taken as the input's share of the
spread, as for a sum of independent inputs.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import rankdata

from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.back.stations import Station
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.findings import Driver
from saddlebench.engine.fit.measures.names import Side
from saddlebench.engine.frames import FloatArray

LEAST_SHARE = 0.10
"""An input with less of the spread than this is not worth naming."""
INNER_PHI, OUTER_PHI = np.deg2rad(8.0), np.deg2rad(60.0)
HALF_LENGTH_MM = 25.0
SAMPLE_MM = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sources:
    """Everything a spread may come from, ranked draw by draw."""

    words: tuple[str, ...]
    stations: tuple[tuple[int, ...], ...]
    """The stations to measure again for each source; none for what is not of the back."""
    ranks: FloatArray
    """(d, m) float, centred and of unit length, any frame [1]."""


def sources_of(
    names: Sequence[str],
    values: FloatArray,
    grid: PolarGrid,
    radius_shift_mm: FloatArray,
    stations: Sequence[Station],
) -> Sources:
    """Gather drawn inputs and the drawn back near every station, near and off.

    Parameters
    ----------
    names : of the inputs
    values : (d, m) float, standard normal, any frame [1]
    grid : of the back
    radius_shift_mm : (d, n_s, n_phi) float, back frame [mm]
    stations : of the record
    """
    words, columns = list(names), [values]
    numbers: list[tuple[int, ...]] = [()] * len(words)
    for station in stations:
        rows = np.abs(grid.s_mm - station.distance_mm) <= max(HALF_LENGTH_MM, 0.75 * grid.ds_mm)
        for side, sign in ((Side.NEAR, 1.0), (Side.OFF, -1.0)):
            phi = sign * grid.phi
            places = rows[:, None] & ((phi >= INNER_PHI) & (phi <= OUTER_PHI))[None, :]
            if not places.any():
                continue
            words.append(f"station {station.number}, {side} side")
            numbers.append((station.number,))
            columns.append(radius_shift_mm[:, places].mean(axis=1, keepdims=True))
    return Sources(words=tuple(words), stations=tuple(numbers), ranks=_ranks(np.concatenate(columns, axis=1)))


def _ranks(values: FloatArray) -> FloatArray:
    """Return centred ranks of unit length, column by column; a constant column becomes zeros."""
    order = rankdata(values, axis=0)
    order -= order.mean(axis=0)
    return order / np.maximum(np.linalg.norm(order, axis=0), 1e-12)


def driver_of(sources: Sources, column: FloatArray) -> Driver | Undetermined:
    """Return the source with the largest share of one measure's spread.

    Parameters
    ----------
    sources : Sources
    column : (d,) float, any frame [any unit]
    """
    shares = (sources.ranks.T @ _ranks(column[:, None])[:, 0]) ** 2
    best = int(np.argmax(shares))
    if shares[best] < LEAST_SHARE:
        return Undetermined("no single reading stands out")
    return Driver(source=sources.words[best], share=float(shares[best]), stations=sources.stations[best])
