"""The study file: a fit check with everything it was made from, what was found, and how sure."""

from pathlib import Path
from typing import Any, ClassVar, Literal, Self

from pydantic import Field

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.errors import (
    InputProblemsError,
    NotMeasured,
    Problem,
    Undetermined,
    Where,
)
from saddlebench.engine.fit.hand_slide import HandSlide
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.measures.clearance import SpineClearance
from saddlebench.engine.fit.measures.names import Side
from saddlebench.engine.fit.measures.pressure import LineLoad
from saddlebench.engine.fit.settled import Position
from saddlebench.engine.fit.study import FitStudy, Reading, StudyInputs
from saddlebench.engine.fit.worth_repeating import FindingDoubt
from saddlebench.engine.saddle.model import PadLayer
from saddlebench.exchange.records.arrays import Lengths, Mirror
from saddlebench.exchange.records.document import Document, Part, read_document, write_document
from saddlebench.exchange.records.judged import FindingPart, MeasuresPart
from saddlebench.exchange.records.solved import SaddleModelPart, StatesPart, SurfacePart


class LineLoadPart(Mirror):
    """Load along one panel."""

    ENGINE: ClassVar[type] = LineLoad
    side: Side
    s_mm: Lengths
    newton_per_mm: Lengths


class SpinePart(Mirror):
    """Clearance above the spine strip along the channel."""

    ENGINE: ClassVar[type] = SpineClearance
    s_mm: Lengths
    clearance_mm: tuple[float | NotMeasured, ...]


class ReadingPart(Part):
    """Everything read off one position of the saddle; where a part is missing, why."""

    position: Position
    measures: MeasuresPart
    findings: tuple[FindingPart, ...]
    hand_slide: tuple[HandSlide, HandSlide] | None = None
    line_load_rider_up: tuple[LineLoadPart, LineLoadPart] | None = None
    spine_girthed: SpinePart | None = None
    spine_rider_up: SpinePart | None = None
    doubts: tuple[FindingDoubt, ...] = ()
    """Where each finding's doubt comes from, and which repeat would help."""
    missing: dict[str, Undetermined] = Field(default_factory=dict)

    @classmethod
    def of(cls, held: Reading) -> Self:
        """Return the part of a reading."""
        names = ("hand_slide", "line_load_rider_up", "spine_girthed", "spine_rider_up")
        given = {name: getattr(held, name) for name in names}
        missing = {name: value for name, value in given.items() if isinstance(value, Undetermined)}
        loads, girthed, up = held.line_load_rider_up, held.spine_girthed, held.spine_rider_up
        return cls(
            position=held.position,
            measures=MeasuresPart.of(held.measures),
            findings=tuple(FindingPart.of(finding) for finding in held.findings),
            hand_slide=None if isinstance(held.hand_slide, Undetermined) else held.hand_slide,
            line_load_rider_up=None if isinstance(loads, Undetermined) else _load_parts(loads),
            spine_girthed=None if isinstance(girthed, Undetermined) else SpinePart.of(girthed),
            spine_rider_up=None if isinstance(up, Undetermined) else SpinePart.of(up),
            doubts=held.doubts,
            missing=missing,
        )

    def reading(self) -> Reading:
        """Return the reading."""
        loads, girthed, up = self.line_load_rider_up, self.spine_girthed, self.spine_rider_up
        return Reading(
            position=self.position,
            measures=self.measures.table(),
            findings=tuple(part.finding() for part in self.findings),
            hand_slide=self.hand_slide or self._why("hand_slide"),
            line_load_rider_up=(
                (loads[0].engine(), loads[1].engine()) if loads else self._why("line_load_rider_up")
            ),
            spine_girthed=girthed.engine() if girthed else self._why("spine_girthed"),
            spine_rider_up=up.engine() if up else self._why("spine_rider_up"),
            doubts=self.doubts,
        )

    def _why(self, name: str) -> Undetermined:
        return self.missing.get(name, Undetermined("not given in the file"))


def _load_parts(loads: tuple[LineLoad, LineLoad]) -> tuple[LineLoadPart, LineLoadPart]:
    return LineLoadPart.of(loads[0]), LineLoadPart.of(loads[1])


class StudyDocument(Document):
    """A fit check, version 1. Lengths in mm, pressures in kPa, forces in N; measures in the unit people see.

    Inputs are named by label and version (a digest of the record), so that the check can be made again.
    """

    NAME: ClassVar[str] = "fit check"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench fit check"] = "saddlebench fit check"
    version: Literal[1] = 1
    engine_version: str
    inputs: StudyInputs
    tries: int
    """How often everything uncertain was varied; 0 where confidence was not asked for."""
    seed: int
    rider: Rider
    horse: Horse
    pads: tuple[PadLayer, ...]
    landmarks: Landmarks
    put: ReadingPart
    works_to: ReadingPart | None = None
    no_works_to: Undetermined | None = None
    cautions: tuple[str, ...]
    surface: SurfacePart
    saddle: SaddleModelPart
    states: StatesPart

    @classmethod
    def of(cls, study: FitStudy) -> Self:
        """Return the document of a study."""
        works_to = study.works_to
        return cls(
            engine_version=study.engine_version,
            inputs=study.inputs,
            tries=study.draws,
            seed=study.seed,
            rider=study.rider,
            horse=study.horse,
            pads=study.pads,
            landmarks=study.landmarks,
            put=ReadingPart.of(study.put),
            works_to=None if isinstance(works_to, Undetermined) else ReadingPart.of(works_to),
            no_works_to=works_to if isinstance(works_to, Undetermined) else None,
            cautions=study.cautions,
            surface=SurfacePart.of(study.surface),
            saddle=SaddleModelPart.of(study.saddle),
            states=StatesPart.of(study.settlement),
        )

    def study(self) -> FitStudy:
        """Return the study.

        Raises
        ------
        InputProblemsError
            If its parts do not fit together; every problem is listed.
        """
        wrong = self._problems()
        if wrong:
            cure = "The file was changed or damaged: make the fit check again."
            raise InputProblemsError([Problem(what=what, cure=cure, where=Where()) for what in wrong])
        absent = self.no_works_to or Undetermined("not given in the file")
        given: dict[str, Any] = {
            "inputs": self.inputs,
            "engine_version": self.engine_version,
            "seed": self.seed,
            "landmarks": self.landmarks,
            "pads": self.pads,
            "rider": self.rider,
            "horse": self.horse,
            "cautions": self.cautions,
        }
        return FitStudy(
            **given,
            draws=self.tries,
            surface=self.surface.engine(),
            saddle=self.saddle.engine(),
            settlement=self.states.engine(),
            put=self.put.reading(),
            works_to=absent if self.works_to is None else self.works_to.reading(),
        )

    def _problems(self) -> list[str]:
        n_points = len(self.saddle.bearing.points_saddle)
        wrong = self.surface.problems() + self.saddle.problems()
        for step in self.states.steps:
            wrong += step.problems(n_points)
        for reading in (self.put, self.works_to):
            for finding in reading.findings if reading is not None else ():
                wrong += finding.problems()
        return wrong


def write_study(study: FitStudy, path: Path) -> None:
    """Write a fit check."""
    write_document(StudyDocument.of(study), path)


def read_study(path: Path) -> FitStudy:
    """Read a fit check.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the field it lies in.
    OSError
        If the file cannot be opened.
    """
    return read_document(StudyDocument, path, StudyDocument.study)
