"""The change study file: which records were compared, how they were laid together, what is real."""

from pathlib import Path
from typing import Annotated, ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.change.registration import Registration
from saddlebench.engine.change.results import (
    ChangeMap,
    ChangeStudy,
    Comparison,
    DiscScan,
    LeastWide,
    NotComparable,
    NumberChange,
    RegionVolume,
    SideChange,
    Step,
    Visit,
)
from saddlebench.engine.errors import input_problem
from saddlebench.exchange.records.arrays import Bits, FieldRows, LengthRows, Mirror
from saddlebench.exchange.records.document import (
    Document,
    OneOf,
    Part,
    read_document,
    write_document,
)

_ARRAYS = ("change_mm", "sd_mm", "earlier_mm", "later_mm", "told_mm")


class MapPart(Mirror):
    """The map, row by row from front to rear, right to left across."""

    ENGINE: ClassVar[type] = ChangeMap

    grid: PolarGrid
    common: Bits
    change_mm: LengthRows
    sd_mm: LengthRows
    band: Annotated[float, Field(gt=0.0)]
    earlier_mm: LengthRows
    later_mm: LengthRows
    told_mm: FieldRows
    """null: no change would be told there."""

    def map(self) -> ChangeMap:
        """Return the map.

        Raises
        ------
        InputProblemsError
            If an array is not of the grid's size.
        """
        shape = (self.grid.n_s, self.grid.n_phi)
        wrong = [name for name in _ARRAYS if getattr(self, name).shape != shape]
        if wrong or self.common.size != shape[0] * shape[1]:
            msg = f"{', '.join(wrong) or 'common'} of the map has not {shape[0]} rows of {shape[1]} numbers"
            raise input_problem(msg, "Write the file again from its records.")
        return ChangeMap(
            grid=self.grid,
            common=self.common.reshape(shape),
            change_mm=self.change_mm,
            sd_mm=self.sd_mm,
            band=self.band,
            earlier_mm=self.earlier_mm,
            later_mm=self.later_mm,
            told_mm=np.where(np.isfinite(self.told_mm), self.told_mm, np.inf),
        )


class ComparisonPart(Part):
    """Two records, compared in full."""

    earlier: Annotated[int, Field(ge=0)]
    later: Annotated[int, Field(ge=0)]
    registration: Registration
    scan: DiscScan
    map: MapPart
    volumes: tuple[RegionVolume, ...]
    numbers: tuple[NumberChange, ...]
    sides: tuple[SideChange, ...]
    cautions: tuple[str, ...]
    least_wide: LeastWide | None = None

    @classmethod
    def of(cls, held: Comparison) -> Self:
        """Return the part of a comparison."""
        given = {name: getattr(held, name) for name in cls.model_fields}
        return cls(**given | {"map": MapPart.of(held.map)})

    def comparison(self) -> Comparison:
        """Return the comparison."""
        given = {name: getattr(self, name) for name in type(self).model_fields}
        return Comparison(**given | {"map": self.map.map()})


class WholePart(OneOf):
    """The first record against the last, or why they say nothing of each other."""

    compared: ComparisonPart | None = None
    not_comparable: NotComparable | None = None


class StepPart(OneOf):
    """A record in between against the first, or why not."""

    compared: Step | None = None
    not_comparable: NotComparable | None = None


class ChangeDocument(Document):
    """A change study, version 1. Changes are later less earlier, mm along the skin's outward normal."""

    NAME: ClassVar[str] = "change study"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench change study"] = "saddlebench change study"
    version: Literal[1] = 1
    engine_version: str
    horse: Annotated[str, Field(min_length=1, max_length=200)]
    seed: int
    visits: Annotated[tuple[Visit, ...], Field(min_length=2)]
    whole: WholePart
    steps: tuple[StepPart, ...]
    cautions: tuple[str, ...]

    @classmethod
    def of(cls, study: ChangeStudy) -> Self:
        """Return the document of a study."""
        whole = study.whole
        return cls(
            engine_version=study.engine_version,
            horse=study.horse,
            seed=study.seed,
            visits=study.visits,
            whole=WholePart(not_comparable=whole)
            if isinstance(whole, NotComparable)
            else WholePart(compared=ComparisonPart.of(whole)),
            steps=tuple(
                StepPart(not_comparable=step) if isinstance(step, NotComparable) else StepPart(compared=step)
                for step in study.steps
            ),
            cautions=study.cautions,
        )

    def study(self) -> ChangeStudy:
        """Return the study.

        Raises
        ------
        InputProblemsError
            If a part names a visit that is not there, or of several alternatives not exactly one is given.
        """
        whole = self.whole.the_one()
        held = whole.comparison() if isinstance(whole, ComparisonPart) else whole
        steps = tuple(step.the_one() for step in self.steps)
        named = [held.earlier, held.later, *(step.later for step in steps)]
        if max(named) >= len(self.visits):
            msg = f"names visit {max(named)}, counted from 0, of {len(self.visits)}"
            raise input_problem(msg, "Write the file again from its records.")
        return ChangeStudy(
            horse=self.horse,
            visits=self.visits,
            whole=held,
            steps=steps,
            engine_version=self.engine_version,
            seed=self.seed,
            cautions=self.cautions,
        )


def write_change(study: ChangeStudy, path: Path) -> None:
    """Write a change study."""
    write_document(ChangeDocument.of(study), path)


def read_change(path: Path) -> ChangeStudy:
    """Read a change study.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the field it lies in.
    OSError
        If the file cannot be opened.
    """
    return read_document(ChangeDocument, path, ChangeDocument.study)
