"""A back sheet as TOML or JSON: whose back, which day, how it stood, and the marks felt on it."""

import datetime as dt
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from saddlebench.engine.back.landmarks import (
    GIRTH_GROOVE_SD_MM,
    LAST_RIB_SD_MM,
    LOWEST_SD_MM,
    NOT_MARKED,
    SHOULDER_SD_MM,
    SPINE_STRIP_SD_MM,
    WITHERS_SD_MM,
    Landmarks,
    Mark,
)
from saddlebench.engine.back.mark_order import mark_problems
from saddlebench.engine.back.record import COAT_NOT_MEASURED, Coat
from saddlebench.engine.back.stance import Stance
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Problem, Where
from saddlebench.engine.units import parse_number
from saddlebench.exchange.doors import read_settings, refused

DEFAULT_SD_MM = {
    "withers": WITHERS_SD_MM,
    "lowest": LOWEST_SD_MM,
    "last_rib": LAST_RIB_SD_MM,
    "shoulder_left": SHOULDER_SD_MM,
    "shoulder_right": SHOULDER_SD_MM,
    "girth_groove": GIRTH_GROOVE_SD_MM,
    "spine_strip_width": SPINE_STRIP_SD_MM,
}


class _Door(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class MarkOnSheet(_Door):
    """A mark: its distance behind the shoulder mark, and its error where it is not the usual one."""

    mm: Annotated[float, Field(ge=-1000.0, le=2000.0)]
    sd_mm: Annotated[float, Field(gt=0.0, le=200.0)] | None = None


def _bare_number(given: object) -> object:
    """Let a bare number, or one with a decimal comma in quotes, stand for a mark with the usual error."""
    if isinstance(given, str):
        read = parse_number(given, Where())
        if isinstance(read, Problem):
            raise ValueError(read.what)  # noqa: TRY004 (only a ValueError becomes a field's fault)
        return {"mm": read}
    return {"mm": given} if isinstance(given, int | float) and not isinstance(given, bool) else given


def _width(mark: MarkOnSheet) -> MarkOnSheet:
    if not 0.0 < mark.mm <= 200.0:
        msg = "must lie between 0 and 200 mm"
        raise ValueError(msg)
    return mark


MarkField = Annotated[
    MarkOnSheet, BeforeValidator(_bare_number, json_schema_input_type=float | str | MarkOnSheet)
]


class Marks(_Door):
    """Distances behind the shoulder mark (negative: in front), and one width; all in mm."""

    withers: MarkField | None = None
    lowest: MarkField | None = None
    last_rib: MarkField | None = None
    shoulder_left: MarkField | None = None
    shoulder_right: MarkField | None = None
    girth_groove: MarkField | None = None
    spine_strip_width: Annotated[MarkField, AfterValidator(_width)] | None = None

    def landmarks(self) -> Landmarks:
        """Return the marks with their errors; what was left out is not marked."""
        return Landmarks(**{name: _mark(getattr(self, name), sd) for name, sd in DEFAULT_SD_MM.items()})


class StanceOnSheet(_Door):
    """Tilt of the floor, in degrees, as read off a level."""

    pitch_deg: Annotated[float, Field(ge=-45.0, le=45.0)] = 0.0
    roll_deg: Annotated[float, Field(ge=-45.0, le=45.0)] = 0.0
    sd_deg: Annotated[float, Field(gt=0.0, le=20.0)] = 0.5


class BackSheet(_Door):
    """What a fitter writes beside the readings."""

    horse: Annotated[str, Field(min_length=1, max_length=200)]
    measured_on: dt.date
    instrument: Annotated[str, Field(min_length=1, max_length=500)]
    """An instrument file beside the sheet, or the name of one that comes with the program."""
    stance: StanceOnSheet = StanceOnSheet()
    marks: Marks = Marks()
    coat: Coat = Coat.NOT_NOTED
    coat_mm: Annotated[float, Field(ge=0.0, le=100.0)] | None = None
    notes: Annotated[str, Field(max_length=10_000)] = ""

    @property
    def stance_read(self) -> Stance:
        """The stance as the engine takes it."""
        return Stance(**self.stance.model_dump())

    @property
    def coat_depth(self) -> float | NotMeasured:
        """The coat's depth [mm], or that it was not measured."""
        return COAT_NOT_MEASURED if self.coat_mm is None else self.coat_mm


def _mark(given: MarkOnSheet | None, usual_sd_mm: float) -> Mark | NotMeasured:
    if given is None:
        return NOT_MARKED
    return Mark(given.mm, usual_sd_mm if given.sd_mm is None else given.sd_mm)


def read_back_sheet(path: Path) -> BackSheet:
    """Read a back sheet.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the field it lies in.
    OSError
        If the file cannot be opened.
    """
    try:
        sheet = BackSheet.model_validate(read_settings(path))
    except ValidationError as error:
        raise refused(error, str(path)) from error
    problems = mark_problems(sheet.marks.landmarks(), str(path))
    if problems:
        raise InputProblemsError(problems)
    return sheet


def sheet_schema() -> dict[str, Any]:
    """Return the published JSON Schema (draft 2020-12) of a back sheet."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **BackSheet.model_json_schema()}
