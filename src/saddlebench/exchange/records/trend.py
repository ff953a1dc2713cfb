"""The trend file: every visit in numbers, so that a later trend need not measure it again, and the trends."""

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.back.record import Coat
from saddlebench.engine.change.trend.belonging import OddVisit
from saddlebench.engine.change.trend.recheck import RecheckAdvice
from saddlebench.engine.change.trend.series import Correlations, Visit
from saddlebench.engine.change.trend.study import Trend
from saddlebench.engine.fit.study import ErrorsUsed
from saddlebench.exchange.records.document import Document, Part, read_document, write_document


class VisitNumberPart(Part):
    """One number of one visit."""

    quantity: Quantity
    estimate: Estimate
    fresh_share: float
    with_earlier: tuple[Annotated[float, Field(ge=-1.0, le=1.0)], ...] | None = None
    """How what is fresh in it goes with that of the numbers before it that have this; null: unknown."""


class VisitPart(Part):
    """A visit in numbers."""

    day: dt.date
    device: str
    coat: Coat
    numbers: tuple[VisitNumberPart, ...]
    own_errors: ErrorsUsed | None = None
    """Own errors that it went by; null: those that its instrument states."""

    @classmethod
    def of(cls, visit: Visit, own_errors: ErrorsUsed | None = None) -> Self:
        """Return the part of a visit."""
        fresh = visit.correlations.of_those(tuple(visit.estimates))
        together = dict(zip(fresh.quantities, fresh.rows, strict=True))
        return cls(
            day=visit.day,
            device=visit.device,
            coat=visit.coat,
            own_errors=own_errors,
            numbers=tuple(
                VisitNumberPart(
                    quantity=quantity,
                    estimate=estimate,
                    fresh_share=visit.fresh_share.get(quantity, 1.0),
                    with_earlier=together.get(quantity),
                )
                for quantity, estimate in visit.estimates.items()
            ),
        )

    @model_validator(mode="after")
    def _counts_agree(self) -> Self:
        rows = [one.with_earlier for one in self.numbers if one.with_earlier is not None]
        for k, row in enumerate(rows):
            if len(row) != k:
                msg = (
                    f"a number's “with_earlier” holds {len(row)} values, where {k} numbers before it have it"
                )
                raise ValueError(msg)
        return self

    def visit(self, label: str) -> Visit:
        """Return the visit."""
        return Visit(
            day=self.day,
            label=label,
            device=self.device,
            coat=self.coat,
            estimates={number.quantity: number.estimate for number in self.numbers},
            fresh_share={number.quantity: number.fresh_share for number in self.numbers},
            correlations=Correlations(
                quantities=tuple(one.quantity for one in self.numbers if one.with_earlier is not None),
                rows=tuple(one.with_earlier for one in self.numbers if one.with_earlier is not None),
            ),
        )


class TrendDocument(Document):
    """A trend, version 1. Every number in its own unit."""

    NAME: ClassVar[str] = "trend"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench trend"] = "saddlebench trend"
    version: Literal[1] = 1
    label: str
    visits: tuple[VisitPart, ...]
    trends: tuple[Trend, ...]
    odd_visits: tuple[OddVisit, ...] = ()
    advice: RecheckAdvice | None = None

    @classmethod
    def of(
        cls,
        visits: tuple[Visit, ...],
        trends: tuple[Trend, ...],
        advice: RecheckAdvice | None = None,
        *,
        odd_visits: tuple[OddVisit, ...] = (),
        own_errors: Mapping[dt.date, ErrorsUsed] | None = None,
    ) -> Self:
        """Return the document of a trend."""
        return cls(
            label=visits[0].label if visits else "",
            visits=tuple(VisitPart.of(visit, (own_errors or {}).get(visit.day)) for visit in visits),
            trends=trends,
            odd_visits=odd_visits,
            advice=advice,
        )

    def held_visits(self) -> tuple[Visit, ...]:
        """Return the visits in numbers."""
        return tuple(part.visit(self.label) for part in self.visits)

    def held_errors(self) -> dict[dt.date, ErrorsUsed]:
        """Return the own errors that visits went by, by their days; the stated ones are left out."""
        return {part.day: part.own_errors for part in self.visits if part.own_errors is not None}


def write_trend(document: TrendDocument, path: Path) -> None:
    """Write a trend."""
    write_document(document, path)


def read_trend(path: Path) -> TrendDocument:
    """Read a trend.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the field it lies in.
    OSError
        If the file cannot be opened.
    """
    return read_document(TrendDocument, path, lambda document: document)
