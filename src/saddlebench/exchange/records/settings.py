"""The settings file: what to set on an instrument so that it shows a back, and how near that comes."""

import datetime as dt
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field

from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.engine.back.readings import BackReadings, SectionPoints, StationReadings
from saddlebench.engine.errors import Problem
from saddlebench.engine.replica.setting_steps import SettingStep
from saddlebench.engine.replica.settings import InstrumentSettings
from saddlebench.exchange.records.back import (
    INSTRUMENT_FIELDS,
    TOPLINE_FIELDS,
    InstrumentPart,
    Label,
    ToplinePart,
)
from saddlebench.exchange.records.document import Document, Part


class StationFit(Part):
    """How near one station comes to the back."""

    number: int
    off_by_mm: float
    """Distance of the worst set point from the back."""
    between_mm: float
    """How far the back bulges between the set points."""


class SettingsDocument(Document):
    """Settings for an instrument, version 1. Lengths in mm, readings in the instrument's own unit."""

    NAME: ClassVar[str] = "settings"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench settings"] = "saddlebench settings"
    version: Literal[1] = 1
    label: Label
    """Of the back record."""
    measured_on: dt.date
    back_version: str = ""
    """Digest of the back record's file (SHA-256), where it was made from a file."""
    instrument: InstrumentPart
    stations: tuple[StationReadings, ...] | None = None
    """To set on a chain or comb."""
    sections: tuple[SectionPoints, ...] | None = None
    """To lay a curve on."""
    topline: ToplinePart
    tolerance_mm: Annotated[float, Field(gt=0.0)]
    fits: tuple[StationFit, ...]
    topline_off_by_mm: float
    steps: tuple[SettingStep, ...]
    """In the order in which one sets them."""
    warnings: tuple[Problem, ...] = ()

    @classmethod
    def of(
        cls, settings: InstrumentSettings, label: str, measured_on: dt.date, back_version: str = ""
    ) -> Self:
        """Return the document of settings."""
        held = settings.readings.stations
        stations = tuple(one for one in held if isinstance(one, StationReadings))
        sections = tuple(one for one in held if isinstance(one, SectionPoints))
        is_drawn = isinstance(settings.instrument, TracedCurve)
        topline = settings.readings.topline
        return cls(
            label=label,
            measured_on=measured_on,
            back_version=back_version,
            instrument=InstrumentPart.holding(
                **{INSTRUMENT_FIELDS[type(settings.instrument)]: settings.instrument}
            ),
            stations=None if is_drawn else stations,
            sections=sections if is_drawn else None,
            topline=ToplinePart.holding(**{TOPLINE_FIELDS[type(topline)]: topline}),
            tolerance_mm=settings.tolerance_mm,
            fits=tuple(
                StationFit(number=one.number, off_by_mm=one.off_by_mm, between_mm=one.between_mm)
                for one in settings.stations
            ),
            topline_off_by_mm=settings.topline_off_by_mm,
            steps=settings.steps,
            warnings=settings.problems,
        )

    def readings(self) -> BackReadings:
        """Return the readings to set.

        Raises
        ------
        InputProblemsError
            If the topline is given in more than one way.
        """
        return BackReadings(
            stations=(*(self.stations or ()), *(self.sections or ())), topline=self.topline.the_one()
        )
