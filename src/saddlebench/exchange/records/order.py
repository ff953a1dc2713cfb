"""The work order: what a saddler is asked to do, what to leave alone, and what was done."""

import datetime as dt
from pathlib import Path
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from saddlebench.engine.alter import Alteration, ReplicaCheck
from saddlebench.engine.alter.bedding import RECHECK_WEEKS
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.study import StudyInputs
from saddlebench.exchange.altering import needs_panel_off, others_of, work_lines
from saddlebench.exchange.records.document import Document, Part, read_document, write_document

Line = Annotated[str, Field(max_length=200)]
Lines = Annotated[tuple[Line, ...], Field(max_length=40)]
OrderState = Literal[
    "being written", "sent", "accepted", "in work", "ready", "back and checked", "declined", "withdrawn"
]


class SaddlePart(Part):
    """Which saddle: what is stamped, sold and seen."""

    label: Line
    serial: Line = ""
    seat: Line = ""
    colour: Line = ""
    photos: Lines = ()
    """Names of photos that go with the order."""


class WorkPart(Part):
    """One place: what was found, what is wanted, what is asked for on the bench, and what was done."""

    place: Line
    found: Line = ""
    wanted_mm: float
    """After bedding in, against how it is now."""
    bench_mm: float
    """On the bench, against how it is now."""
    tolerance_bench_mm: float
    tolerance_bedded_mm: float
    how: Line
    done_mm: float | None = None


class ArchPart(Part):
    """The front arch: between the insides of the points, at a stated depth below the inside of its top."""

    at_depth_mm: float
    found_mm: float
    target_mm: float
    found_angle_deg: float
    target_angle_deg: float
    done_mm: float | None = None


class OrderDocument(Document):
    """A work order, version 1. Lengths in mm. What was done is filled in when the saddle comes back."""

    NAME: ClassVar[str] = "work order"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench work order"] = "saddlebench work order"
    version: Literal[1] = 1
    number: Line
    state: OrderState = "being written"
    written_on: dt.date
    due_on: dt.date | None = None
    practice: Line = ""
    workshop: Line = ""
    horse: Line
    saddle: SaddlePart
    unsafe_first: Lines = ()
    """Unsafe things found; mended before anything else, or the saddle stays."""
    fill_to_match: Line = "match the fill that is in the panel; do not mix"
    panel_off: bool
    work: tuple[WorkPart, ...]
    others: Lines
    """Arch, pad and straps in words."""
    arch: ArchPart | None = None
    alteration: Alteration
    do_not_touch: Lines = ()
    price_limit: Line = ""
    loan_saddle: Line = ""
    return_check: Line = "girthed and ridden on the horse, before and after 20 minutes"
    recheck_weeks: tuple[int, int] = RECHECK_WEEKS
    on_replica: ReplicaCheck | None = None
    no_replica: Undetermined | None = None
    inputs: StudyInputs
    cautions: tuple[str, ...]
    notes: Annotated[str, Field(max_length=2000)] = ""

    @property
    def is_done(self) -> bool:
        """Whether every line says what was done."""
        return all(line.done_mm is not None for line in self.work)


def work_parts(alteration: Alteration) -> tuple[WorkPart, ...]:
    """Return the lines of an alteration for an order."""
    return tuple(
        WorkPart(
            place=line.place,
            wanted_mm=line.wanted_mm,
            bench_mm=line.bench_mm,
            tolerance_bench_mm=line.tolerance_bench_mm,
            tolerance_bedded_mm=line.tolerance_bedded_mm,
            how=line.how,
        )
        for line in work_lines(alteration)
    )


def order_parts(alteration: Alteration) -> tuple[tuple[WorkPart, ...], tuple[str, ...], bool]:
    """Return lines, other work in words, and whether the panel comes off."""
    return work_parts(alteration), others_of(alteration), needs_panel_off(alteration)


def write_order(document: OrderDocument, path: Path) -> None:
    """Write a work order."""
    write_document(document, path)


def read_order(path: Path) -> OrderDocument:
    """Read a work order.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the field it lies in.
    OSError
        If the file cannot be opened.
    """
    return read_document(OrderDocument, path, lambda held: held)
