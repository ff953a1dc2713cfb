"""The document for owner and workshop: contents and pictures in, A4 pages out."""

from pathlib import Path

from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange.drawings import Drawing, as_svg
from saddlebench.exchange.drawings.ink import drawable
from saddlebench.exchange.whole_file import write_whole
from saddlebench.report.contents import contents_of
from saddlebench.report.pictures import Pictures, pictures_of
from saddlebench.report.typeset import typeset

TEMPLATE = "owner_and_workshop.typ"
COMFORTABLE_ROWS = 22
"""With more findings than this the rows of the table stand closer."""


def owner_and_workshop(study: FitStudy, path: Path, *, pictures: Pictures | None = None) -> None:
    """Write the document of a study: page 1 for the owner, page 2 for the workshop.

    Parameters
    ----------
    study
        The fit check.
    path
        The PDF to write; it is written whole or not at all.
    pictures
        As drawn by `pictures_of`; by default they are drawn here.
    """
    write_whole(path, as_document(study, pictures or pictures_of(study)))


def as_document(study: FitStudy, pictures: Pictures) -> bytes:
    """Return the document as PDF; equal studies give equal bytes. Fonts are those inside the typesetter."""
    contents = contents_of(study)
    contents["row_inset"] = 1.6 if len(contents["findings"]) > COMFORTABLE_ROWS else 2.4
    contents["pictures"] = {
        name: _picture(drawing)
        for name, drawing in (
            ("back", pictures.back),
            ("sections", pictures.sections),
            ("load", pictures.load),
            ("side", pictures.side),
        )
        if drawing is not None
    }
    return typeset(TEMPLATE, contents)


def _picture(drawing: Drawing) -> dict[str, str]:
    return {"svg": as_svg(drawing), "alt": drawable(f"{drawing.title}. {drawing.description}")}
