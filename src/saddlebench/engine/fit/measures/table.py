"""Measures of a cloud of solutions, column by column; a single solution is a cloud of one."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.names import Key
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import Unit

Absent = NotMeasured | Undetermined
Columns = dict[Key, FloatArray | Absent]
"""What a family of measures returns: (d,) values in the engine's units, or why there are none."""


@dataclass(frozen=True, slots=True)
class Measure:
    """One number in the engine's own unit, and the unit people see it in."""

    value: float
    unit: Unit

    @property
    def shown(self) -> float:
        """The number in the unit people see."""
        return self.value / self.unit.in_engine


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureTable:
    """Every measure of `count` solutions of one pair."""

    count: int
    columns: Mapping[Key, FloatArray]
    """(count,) float each, engine units; meaningless where not `known`."""
    known: Mapping[Key, NDArray[np.bool_]]
    """(count,) bool each: whether the solution the value was read off sits at all."""
    absent: Mapping[Key, Absent]
    """Measures that have no column, and why."""
    unsettled: Mapping[State, Absent]
    """States in which the first solution does not sit, and why."""

    @property
    def keys(self) -> tuple[Key, ...]:
        """Every measure that was asked for, answered or not."""
        return (*self.columns, *self.absent)

    def at(self, key: Key, index: int = 0) -> Measure | Absent:
        """Return one number, or why there is none."""
        if key in self.absent:
            return self.absent[key]
        if key not in self.columns:
            return Undetermined("this was not read off")
        if not self.known[key][index]:
            return next(iter(self._why(key)), Undetermined("the saddle does not sit"))
        return Measure(float(self.columns[key][index]), key.unit)

    def _why(self, key: Key) -> tuple[Absent, ...]:
        if key.state is not None and key.state in self.unsettled:
            return (self.unsettled[key.state],)
        return tuple(self.unsettled.values())
