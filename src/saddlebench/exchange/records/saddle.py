"""The saddle record file: numbers as given, underside as measured, what may be altered, pads beneath."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.alterable import Alterable
from saddlebench.engine.saddle.model import PadLayer
from saddlebench.engine.saddle.numbers import (
    BarsNumbers,
    CutBackNumbers,
    FlexibleTreeNumbers,
    PanelledNumbers,
    SideSaddleNumbers,
    TreelessNumbers,
)
from saddlebench.engine.saddle.record import SaddleRecord, UndersideMesh
from saddlebench.engine.saddle.sections import UndersideSection
from saddlebench.engine.saddle.shape_error import SaddleError
from saddlebench.engine.units import Length
from saddlebench.exchange.records.back import Label, Notes
from saddlebench.exchange.records.document import (
    Document,
    OneOf,
    Part,
    read_document,
    write_document,
)

Pair = tuple[float, float]
Triple = tuple[float, float, float]
Corners = tuple[int, int, int]


class NumbersPart(OneOf):
    """The numbers, under the name of the saddle's family."""

    panelled: PanelledNumbers | None = None
    cut_back: CutBackNumbers | None = None
    bars: BarsNumbers | None = None
    side_saddle: SideSaddleNumbers | None = None
    treeless: TreelessNumbers | None = None
    flexible_tree: FlexibleTreeNumbers | None = None


class SectionPart(Part):
    """One section across the underside: points (y, z), saddle frame [mm]."""

    behind_mm: float
    left: tuple[Pair, ...]
    right: tuple[Pair, ...]


class MeshPart(Part):
    """A mesh of the underside alone, saddle frame, in its stated unit."""

    unit: Length
    vertices: tuple[Triple, ...]
    faces: tuple[Corners, ...]


class SaddleDocument(Document):
    """A saddle record, version 1. Lengths in mm, angles in degrees, masses in kg."""

    NAME: ClassVar[str] = "saddle record"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench saddle record"] = "saddlebench saddle record"
    version: Literal[1] = 1
    label: Label
    serial: Annotated[str, Field(max_length=200)] = ""
    numbers: NumbersPart
    alterable: Alterable
    underside_sections: tuple[SectionPart, ...] | None = None
    underside_mesh: MeshPart | None = None
    pads: tuple[PadLayer, ...] = ()
    assumed: tuple[str, ...] = ()
    """Fields that were not given and stand at their usual value."""
    notes: Notes = ""
    shape_error: SaddleError | None = None
    """How well its shape is known where a scan or tracings of the underside say so."""

    @classmethod
    def of(cls, record: SaddleRecord) -> Self:
        """Return the document of a record."""
        underside = record.underside
        return cls(
            label=record.label,
            serial=record.serial,
            numbers=NumbersPart.holding(**{_FAMILIES[type(record.numbers)]: record.numbers}),
            alterable=record.alterable,
            underside_sections=_section_parts(underside) if isinstance(underside, tuple) else None,
            underside_mesh=_mesh_part(underside) if isinstance(underside, UndersideMesh) else None,
            pads=record.pads,
            assumed=record.assumed,
            notes=record.notes,
            shape_error=record.shape_error,
        )

    def record(self) -> SaddleRecord:
        """Return the record.

        Raises
        ------
        InputProblemsError
            If of several alternatives none is given, or more than one.
        """
        underside: tuple[UndersideSection, ...] | UndersideMesh | None = None
        if self.underside_mesh is not None:
            mesh = self.underside_mesh
            underside = UndersideMesh(
                vertices_saddle=read_only(np.reshape(np.array(mesh.vertices, dtype=float), (-1, 3))),
                faces=np.reshape(np.array(mesh.faces, dtype=np.int64), (-1, 3)),
                unit=mesh.unit,
            )
        elif self.underside_sections is not None:
            underside = tuple(
                UndersideSection(behind_mm=one.behind_mm, left=_points(one.left), right=_points(one.right))
                for one in self.underside_sections
            )
        return SaddleRecord(
            label=self.label,
            numbers=self.numbers.the_one(),
            alterable=self.alterable,
            underside=underside,
            pads=self.pads,
            serial=self.serial,
            assumed=self.assumed,
            notes=self.notes,
            shape_error=self.shape_error,
        )


_FAMILIES: dict[type, str] = {
    PanelledNumbers: "panelled",
    CutBackNumbers: "cut_back",
    BarsNumbers: "bars",
    SideSaddleNumbers: "side_saddle",
    TreelessNumbers: "treeless",
    FlexibleTreeNumbers: "flexible_tree",
}


def _points(pairs: Sequence[Pair]) -> FloatArray:
    return np.reshape(np.array(pairs, dtype=float), (-1, 2))


def _pairs(points: FloatArray) -> tuple[Pair, ...]:
    return tuple((float(y), float(z)) for y, z in points)


def _section_parts(sections: tuple[UndersideSection, ...]) -> tuple[SectionPart, ...]:
    return tuple(
        SectionPart(behind_mm=float(one.behind_mm), left=_pairs(one.left), right=_pairs(one.right))
        for one in sections
    )


def _mesh_part(mesh: UndersideMesh) -> MeshPart:
    return MeshPart(
        unit=mesh.unit,
        vertices=tuple((float(x), float(y), float(z)) for x, y, z in mesh.vertices_saddle),
        faces=tuple((int(a), int(b), int(c)) for a, b, c in mesh.faces),
    )


def write_saddle(record: SaddleRecord, path: Path) -> None:
    """Write a saddle record."""
    write_document(SaddleDocument.of(record), path)


def read_saddle(path: Path) -> SaddleRecord:
    """Read a saddle record.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the field it lies in.
    OSError
        If the file cannot be opened.
    """
    return read_document(SaddleDocument, path, SaddleDocument.record)
