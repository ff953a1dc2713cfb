"""Typesetting: a template and plain data in, a PDF out; equal data gives equal bytes."""

import json
import tempfile
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import typst

from saddlebench.report.settable import all_settable

SHARED = "page.typ"
"""What the reports' templates import."""
LEAST_PICTURE_MM = 68.0
"""Height below which the words in a picture as wide as the page become too small to read."""


def typeset(template: str, contents: dict[str, Any]) -> bytes:
    """Return the PDF of a template beside this file, filled with data. Fonts are those inside the typesetter.

    Raises
    ------
    TypeError
        If the typesetter returned no single document.
    """
    text = files("saddlebench.report").joinpath(template).read_bytes()
    compiler = typst.Compiler(
        text, ignore_system_fonts=True, sys_inputs={"data": json.dumps(contents, allow_nan=False)}
    )
    return _pdf(compiler)


def typeset_for_all(
    template: str,
    choices: Sequence[dict[str, Any]],
    *,
    pictures: Mapping[str, bytes] | None = None,
    on_one_page: bool = False,
    shared: bool = True,
) -> bytes:
    """Return a report as PDF/UA-1 (ISO 14289-1): tagged, titled, in a stated language, figures described.

    Parameters
    ----------
    template
        Beside this file.
    choices
        The same report from roomy to terse.
    pictures
        Photos and logo, by the names that the data gives them.
    shared
        Whether it imports what all reports share.
    on_one_page
        Whether the first choice that fits one page with room for its picture is taken; the last if none does.

    Raises
    ------
    TypeError
        If the typesetter returned no single document.
    """
    with tempfile.TemporaryDirectory(prefix="saddlebench-") as folder:
        root = Path(folder)
        for name in (template, SHARED) if shared else (template,):
            (root / Path(name).name).write_bytes(files("saddlebench.report").joinpath(name).read_bytes())
        for name, content in (pictures or {}).items():
            (root / name).write_bytes(content)
        compiler = _of(root / Path(template).name, choices[-1])
        for contents in choices:
            compiler = _of(root / Path(template).name, contents)
            if not on_one_page or _fits(compiler):
                break
        return _pdf(compiler, ["ua-1"])


def _of(path: Path, contents: dict[str, Any]) -> typst.Compiler:
    data = json.dumps(all_settable(contents), allow_nan=False)
    return typst.Compiler(path, root=path.parent, ignore_system_fonts=True, sys_inputs={"data": data})


def _fits(compiler: typst.Compiler) -> bool:
    (pages,) = json.loads(compiler.query("<pages>", field="value"))
    rooms = json.loads(compiler.query("<room>", field="value"))
    return pages == 1 and all(room >= LEAST_PICTURE_MM for room in rooms)


def _pdf(compiler: typst.Compiler, standards: list[Literal["ua-1"]] | None = None) -> bytes:
    made = compiler.compile(format="pdf", timestamp=0, pdf_standards=[*(standards or [])])
    if not isinstance(made, bytes):
        msg = "the typesetter returned no single document"
        raise TypeError(msg)
    return made
