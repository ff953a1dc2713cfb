"""All pictures of a change study, written to a folder."""

from pathlib import Path

from saddlebench.engine.change.results import ChangeStudy, NotComparable
from saddlebench.exchange.drawings.change_map import change_map
from saddlebench.exchange.drawings.change_numbers import change_numbers
from saddlebench.exchange.drawings.change_sections import change_sections
from saddlebench.exchange.drawings.sheet import PAGE_WIDTH_MM, write_drawing

PICTURES = {"change-map": change_map, "change-sections": change_sections, "change-numbers": change_numbers}


def write_change_album(
    study: ChangeStudy, folder: Path, file_type: str = "svg", *, width_mm: float = PAGE_WIDTH_MM
) -> list[Path]:
    """Write map, sections and chart of a study; nothing where its records cannot be compared.

    Parameters
    ----------
    study
        A change study.
    folder
        Made if it is not there.
    file_type
        “svg”, “png” or “pdf”.
    width_mm
        Paper width [mm].

    Raises
    ------
    OSError
        If the folder cannot be written.
    """
    if isinstance(study.whole, NotComparable):
        return []
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, draw in PICTURES.items():
        path = folder / f"{name}.{file_type}"
        write_drawing(draw(study, width_mm=width_mm), path)
        written.append(path)
    return written
