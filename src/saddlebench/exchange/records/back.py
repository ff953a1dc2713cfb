"""The back record file: readings as they were read, the instrument in full, stance, marks, day and notes."""

import datetime as dt
from pathlib import Path
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field

from saddlebench.engine.back.instruments import JointedChain, PinComb, Scan, TapeAndHand, TracedCurve
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.readings import (
    BackReadings,
    SectionPoints,
    StationReadings,
    ToplineHeights,
    ToplineJoints,
)
from saddlebench.engine.back.record import COAT_NOT_MEASURED, BackRecord, Coat
from saddlebench.engine.back.stance import Stance
from saddlebench.engine.errors import NotMeasured, Problem
from saddlebench.exchange.records.document import (
    Document,
    OneOf,
    Part,
    read_document,
    write_document,
)

Label = Annotated[str, Field(min_length=1, max_length=200)]
Notes = Annotated[str, Field(max_length=10_000)]


class InstrumentPart(OneOf):
    """The instrument, under the name of its family."""

    jointed_chain: JointedChain | None = None
    pin_comb: PinComb | None = None
    traced_curve: TracedCurve | None = None
    scan: Scan | None = None
    tape_and_hand: TapeAndHand | None = None


class ToplinePart(OneOf):
    """How the topline was measured, or why not."""

    heights: ToplineHeights | None = None
    joints: ToplineJoints | None = None
    not_measured: NotMeasured | None = None


class ScanFile(Part):
    """The file that a scan's sections were cut from: kept apart, and known again by its digest."""

    name: Annotated[str, Field(max_length=500)]
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class BackDocument(Document):
    """A back record, version 1. Lengths in mm, angles in degrees, readings in the instrument's own unit."""

    NAME: ClassVar[str] = "back record"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench back record"] = "saddlebench back record"
    version: Literal[1] = 1
    label: Label
    measured_on: dt.date
    instrument: InstrumentPart
    stations: tuple[StationReadings, ...] | None = None
    """Of a chain, a comb, or tape and hand."""
    sections: tuple[SectionPoints, ...] | None = None
    """Of a tracing, or cut from a scan."""
    topline: ToplinePart
    stance: Stance
    landmarks: Landmarks
    coat: Coat
    coat_mm: Annotated[float, Field(ge=0.0, le=100.0)] | None = None
    coat_not_measured: NotMeasured | None = None
    """Why the coat's depth is not known; given exactly when `coat_mm` is not."""
    notes: Notes = ""
    scan_file: ScanFile | None = None
    questioned: tuple[Problem, ...] = ()
    """What was odd about the scan that the sections were cut from."""

    @classmethod
    def of(cls, record: BackRecord, scan_file: ScanFile | None = None) -> Self:
        """Return the document of a record."""
        stations = tuple(one for one in record.readings.stations if isinstance(one, StationReadings))
        sections = tuple(one for one in record.readings.stations if isinstance(one, SectionPoints))
        is_drawn = isinstance(record.instrument, TracedCurve | Scan)
        coat = record.coat_mm
        return cls(
            label=record.label,
            measured_on=record.measured_on,
            instrument=InstrumentPart.holding(
                **{INSTRUMENT_FIELDS[type(record.instrument)]: record.instrument}
            ),
            stations=stations if stations or not is_drawn else None,
            sections=sections if sections or is_drawn else None,
            topline=ToplinePart.holding(
                **{TOPLINE_FIELDS[type(record.readings.topline)]: record.readings.topline}
            ),
            stance=record.stance,
            landmarks=record.landmarks,
            coat=record.coat,
            coat_mm=None if isinstance(coat, NotMeasured) else coat,
            coat_not_measured=coat if isinstance(coat, NotMeasured) else None,
            notes=record.notes,
            questioned=record.questioned,
            scan_file=scan_file,
        )

    def record(self) -> BackRecord:
        """Return the record.

        Raises
        ------
        InputProblemsError
            If of several alternatives none is given, or more than one.
        """
        coat = self.coat_mm
        return BackRecord(
            label=self.label,
            measured_on=self.measured_on,
            instrument=self.instrument.the_one(),
            readings=BackReadings(
                stations=(*(self.stations or ()), *(self.sections or ())), topline=self.topline.the_one()
            ),
            stance=self.stance,
            landmarks=self.landmarks,
            coat_mm=(self.coat_not_measured or COAT_NOT_MEASURED) if coat is None else coat,
            coat=self.coat,
            notes=self.notes,
            questioned=self.questioned,
        )


INSTRUMENT_FIELDS: dict[type, str] = {
    JointedChain: "jointed_chain",
    PinComb: "pin_comb",
    TracedCurve: "traced_curve",
    Scan: "scan",
    TapeAndHand: "tape_and_hand",
}
TOPLINE_FIELDS: dict[type, str] = {
    ToplineHeights: "heights",
    ToplineJoints: "joints",
    NotMeasured: "not_measured",
}


def write_back(record: BackRecord, path: Path, *, scan_file: ScanFile | None = None) -> None:
    """Write a back record; for a scan, name the file its sections were cut from."""
    write_document(BackDocument.of(record, scan_file), path)


def read_back(path: Path) -> BackRecord:
    """Read a back record.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the field it lies in.
    OSError
        If the file cannot be opened.
    """
    return read_document(BackDocument, path, BackDocument.record)
