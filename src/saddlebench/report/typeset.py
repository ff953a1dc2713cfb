"""Typesetting: a template and plain data in, a PDF out; equal data gives equal bytes."""

import json
from importlib.resources import files
from typing import Any

import typst


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
    made = compiler.compile(format="pdf", timestamp=0)
    if not isinstance(made, bytes):
        msg = "the typesetter returned no single document"
        raise TypeError(msg)
    return made
