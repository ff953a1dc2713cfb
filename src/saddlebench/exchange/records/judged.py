"""Measures and findings as parts of a study's document. Numbers are in the unit people see."""

from math import inf
from typing import Any, Self

import numpy as np
from pydantic import Field

from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.criteria import FindingName, Note
from saddlebench.engine.fit.findings import Confidence, Doubt, Driver, Finding, Judged
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures import names
from saddlebench.engine.fit.measures.names import (
    Key,
    MeasureKey,
    MeasureName,
    PressureKey,
    PressureName,
    Side,
)
from saddlebench.engine.fit.measures.table import Absent, Measure, MeasureTable
from saddlebench.engine.fit.verdicts import Levels, Limit, PressureGuide, Verdict
from saddlebench.exchange.records.document import OneOf, Part

DECIMALS = 9
End = float | None
"""An end of a range; null where it is open."""


class AbsentPart(OneOf):
    """Why there is no number."""

    not_measured: NotMeasured | None = None
    undetermined: Undetermined | None = None

    @classmethod
    def of(cls, held: Absent) -> Self:
        """Return the part that holds a reason."""
        return cls.holding(**{"not_measured" if isinstance(held, NotMeasured) else "undetermined": held})


class KeyPart(Part):
    """What is measured, where, in which state: either a measure or a pressure."""

    measure: MeasureName | None = None
    pressure: PressureName | None = None
    state: State | None = None
    side: Side = Side.BOTH
    part: names.Part = names.Part.WHOLE

    @classmethod
    def of(cls, key: Key) -> Self:
        """Return the part of a key."""
        if isinstance(key, PressureKey):
            return cls(pressure=key.name, state=key.state, part=key.part)
        return cls(measure=key.name, state=key.state, side=key.side, part=key.part)

    def key(self) -> Key:
        """Return the key; a pressure without a state is one of the rider up."""
        if self.pressure is not None:
            return PressureKey(name=self.pressure, state=self.state or State.RIDER_UP, part=self.part)
        name = self.measure or MeasureName.CONTACT_AREA
        return MeasureKey(name=name, state=self.state, side=self.side, part=self.part)


class NumberPart(Part):
    """One measure: its number and unit, or why there is none."""

    of: KeyPart
    value: float | None = None
    unit: str = ""
    absent: AbsentPart | None = None

    @classmethod
    def holding(cls, key: Key, held: Measure | Absent) -> Self:
        """Return the part of one measure."""
        if isinstance(held, Measure):
            return cls(of=KeyPart.of(key), value=round(held.shown, DECIMALS), unit=held.unit.symbol)
        return cls(of=KeyPart.of(key), absent=AbsentPart.of(held))

    def measure(self) -> Measure | Absent:
        """Return the measure."""
        if self.value is not None:
            unit = self.of.key().unit
            return Measure(self.value * unit.in_engine, unit)
        return self.absent.the_one() if self.absent is not None else Undetermined("not given in the file")


class LimitPart(Part):
    """A limit: two nested ranges, or for a pressure the level usually kept below."""

    fine: tuple[End, End] | None = None
    borderline: tuple[End, End] | None = None
    usual_below_kpa: float | None = None
    source: str
    owner: str

    @classmethod
    def of(cls, held: Limit | PressureGuide) -> Self:
        """Return the part of a limit."""
        if isinstance(held, PressureGuide):
            return cls(usual_below_kpa=held.usual_below_kpa, source=held.source, owner=held.owner)
        fine, borderline = _open(held.levels.fine), _open(held.levels.borderline)
        return cls(fine=fine, borderline=borderline, source=held.source, owner=held.owner)

    def limit(self, key: Key) -> Limit | PressureGuide:
        """Return the limit of a measure."""
        if isinstance(key, PressureKey):
            level = self.usual_below_kpa if self.usual_below_kpa is not None else inf
            return PressureGuide(measure=key, usual_below_kpa=level, source=self.source, owner=self.owner)
        levels = Levels(fine=_closed(self.fine), borderline=_closed(self.borderline))
        return Limit(measure=key, levels=levels, source=self.source, owner=self.owner)


def _open(ends: tuple[float, float]) -> tuple[End, End]:
    return (None if ends[0] == -inf else ends[0], None if ends[1] == inf else ends[1])


def _closed(ends: tuple[End, End] | None) -> tuple[float, float]:
    low, high = ends or (None, None)
    return (-inf if low is None else low, inf if high is None else high)


class JudgedPart(Part):
    """A measure against its limit."""

    number: NumberPart
    limit: LimitPart
    verdict: Verdict

    @classmethod
    def of(cls, held: Judged) -> Self:
        """Return the part of one judgement."""
        number = NumberPart.holding(held.limit.measure, held.measure)
        return cls(number=number, limit=LimitPart.of(held.limit), verdict=held.verdict)

    def judged(self) -> Judged:
        """Return the judgement."""
        limit = self.limit.limit(self.number.of.key())
        return Judged(limit=limit, measure=self.number.measure(), verdict=self.verdict)


class ConfidencePart(Part):
    """How often the finding came out the same, and the range of its number."""

    tried: int
    shares: dict[Verdict, float]
    interval: tuple[float, float] | None = None
    no_interval: Undetermined | None = None
    driver: Driver | None = None
    no_driver: Undetermined | None = None

    @classmethod
    def of(cls, held: Confidence) -> Self:
        """Return the part of a confidence."""
        given: dict[str, Any] = {"tried": held.tried, "shares": dict(held.shares)}
        given["no_interval" if isinstance(held.interval, Undetermined) else "interval"] = held.interval
        given["no_driver" if isinstance(held.driver, Undetermined) else "driver"] = held.driver
        return cls(**given)

    def confidence(self) -> Confidence:
        """Return the confidence."""
        absent = Undetermined("not given in the file")
        return Confidence(
            tried=self.tried,
            shares=self.shares,
            interval=self.interval if self.interval is not None else self.no_interval or absent,
            driver=self.driver if self.driver is not None else self.no_driver or absent,
        )


class FindingPart(Part):
    """One finding."""

    name: FindingName
    side: Side
    verdict: Verdict
    as_computed: Verdict
    judged: tuple[JudgedPart, ...]
    decided_by: int
    """Which of `judged` decides, from 0."""
    note: Note | None = None
    confidence: ConfidencePart | None = None
    no_confidence: Undetermined | None = None
    doubt: Doubt | None = None

    @classmethod
    def of(cls, held: Finding) -> Self:
        """Return the part of a finding."""
        confidence = held.confidence
        return cls(
            name=held.name,
            side=held.side,
            verdict=held.verdict,
            as_computed=held.as_computed,
            judged=tuple(JudgedPart.of(judged) for judged in held.all_judged),
            decided_by=held.all_judged.index(held.decided_by),
            note=held.note,
            confidence=ConfidencePart.of(confidence) if isinstance(confidence, Confidence) else None,
            no_confidence=confidence if isinstance(confidence, Undetermined) else None,
            doubt=held.doubt,
        )

    def finding(self) -> Finding:
        """Return the finding."""
        judged = tuple(part.judged() for part in self.judged)
        absent = self.no_confidence or Undetermined("not given in the file")
        return Finding(
            name=self.name,
            side=self.side,
            verdict=self.verdict,
            as_computed=self.as_computed,
            decided_by=judged[self.decided_by],
            all_judged=judged,
            note=self.note,
            confidence=absent if self.confidence is None else self.confidence.confidence(),
            doubt=self.doubt,
        )

    def problems(self) -> list[str]:
        """Return what does not fit together, in words."""
        if 0 <= self.decided_by < len(self.judged):
            return []
        return [f"decided_by of “{self.name}” is {self.decided_by}, of {len(self.judged)} judged measures"]


class MeasuresPart(Part):
    """Every measure of one position."""

    numbers: tuple[NumberPart, ...]
    unsettled: dict[State, AbsentPart] = Field(default_factory=dict)

    @classmethod
    def of(cls, table: MeasureTable) -> Self:
        """Return the part of a table of one solution."""
        return cls(
            numbers=tuple(NumberPart.holding(key, table.at(key)) for key in table.keys),
            unsettled={state: AbsentPart.of(why) for state, why in table.unsettled.items()},
        )

    def table(self) -> MeasureTable:
        """Return the table."""
        columns: dict[Key, Any] = {}
        absent: dict[Key, Absent] = {}
        for number in self.numbers:
            key, held = number.of.key(), number.measure()
            if isinstance(held, Measure):
                columns[key] = np.array([held.value])
            else:
                absent[key] = held
        return MeasureTable(
            count=1,
            columns=columns,
            known=dict.fromkeys(columns, np.ones(1, dtype=bool)),
            absent=absent,
            unsettled={state: why.the_one() for state, why in self.unsettled.items()},
        )
