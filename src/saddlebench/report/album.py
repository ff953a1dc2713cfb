"""All pictures of a fit study, written as files."""

from collections.abc import Callable, Iterator, Sequence
from enum import StrEnum
from pathlib import Path

from saddlebench.engine.errors import Undetermined, input_problem
from saddlebench.engine.fit.loads import HALT
from saddlebench.engine.fit.settled import Position
from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange.drawings import (
    PAGE_WIDTH_MM,
    Drawing,
    Scene,
    findings_strip,
    line_load,
    overview,
    plan,
    sections,
    side,
    write_drawing,
)

Told = Callable[[int, int, str], None]


class Picture(StrEnum):
    """What can be drawn of a study."""

    OVERVIEW = "overview"
    SECTIONS = "sections"
    PLAN = "plan"
    SIDE = "side"
    LOAD = "load"
    FINDINGS = "findings"


class FileType(StrEnum):
    """As what a picture is written."""

    SVG = "svg"
    PNG = "png"
    PDF = "pdf"


def drawings_of(
    study: FitStudy,
    wanted: Sequence[Picture] = tuple(Picture),
    *,
    case_name: str = HALT.name,
    position: Position = Position.PUT,
    width_mm: float = PAGE_WIDTH_MM,
) -> Iterator[tuple[Picture, Drawing]]:
    """Yield the wanted pictures of one state of a study.

    Raises
    ------
    InputProblemsError
        If the study has no such state.
    """
    scene = Scene.of_study(study, case_name, position)
    if isinstance(scene, Undetermined):
        known = ", ".join(dict.fromkeys(step.case.name for step in study.settlement.steps))
        what = f"there is nothing to draw: {scene.reason}"
        raise input_problem(what, f"Choose one of: {known}.")
    makers: dict[Picture, Callable[[], Drawing]] = {
        Picture.OVERVIEW: lambda: overview(scene, study.findings),
        Picture.SECTIONS: lambda: sections(scene, width_mm=width_mm),
        Picture.PLAN: lambda: plan(scene, width_mm=width_mm),
        Picture.SIDE: lambda: side(scene, width_mm=width_mm),
        Picture.LOAD: lambda: line_load(scene, width_mm=width_mm),
        Picture.FINDINGS: lambda: findings_strip(study.findings, pair=scene.pair, width_mm=width_mm),
    }
    for picture in wanted:
        yield picture, makers[picture]()


def write_album(
    study: FitStudy,
    folder: Path,
    file_types: Sequence[FileType],
    wanted: Sequence[Picture] = tuple(Picture),
    *,
    case_name: str = HALT.name,
    position: Position = Position.PUT,
    width_mm: float = PAGE_WIDTH_MM,
    told: Told | None = None,
) -> tuple[Path, ...]:
    """Write pictures into a folder, and return their paths.

    Raises
    ------
    InputProblemsError
        If the study has no such state.
    OSError
        If a file cannot be written.
    """
    written: list[Path] = []
    drawn = drawings_of(study, wanted, case_name=case_name, position=position, width_mm=width_mm)
    for count, (picture, drawing) in enumerate(drawn, start=1):
        folder.mkdir(parents=True, exist_ok=True)
        for file_type in file_types:
            path = folder / f"{picture.value}.{file_type.value}"
            write_drawing(drawing, path)
            written.append(path)
        if told is not None:
            told(count, len(wanted), picture.value)
    return tuple(written)
