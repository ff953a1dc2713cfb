"""The document for owner and workshop: contents and pictures in, A4 pages out."""

import json
from importlib.resources import files
from pathlib import Path

import typst

from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange.drawings import Drawing, as_svg
from saddlebench.exchange.drawings.ink import drawable
from saddlebench.exchange.whole_file import write_whole
from saddlebench.report.contents import contents_of
from saddlebench.report.pictures import Pictures, pictures_of

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
    template = files("saddlebench.report").joinpath(TEMPLATE).read_bytes()
    compiler = typst.Compiler(
        template, ignore_system_fonts=True, sys_inputs={"data": json.dumps(contents, allow_nan=False)}
    )
    made = compiler.compile(format="pdf", timestamp=0)
    if not isinstance(made, bytes):
        msg = "the typesetter returned no single document"
        raise TypeError(msg)
    return made


def _picture(drawing: Drawing) -> dict[str, str]:
    return {"svg": as_svg(drawing), "alt": drawable(f"{drawing.title}. {drawing.description}")}
