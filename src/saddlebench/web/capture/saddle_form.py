"""A saddle's form becomes a saddle file's object, and a record fills the form."""

import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.saddle.sections import UndersideSection
from saddlebench.engine.units import Length
from saddlebench.exchange.saddles import read_sections, saddle_document, saddle_from_document
from saddlebench.web.capture.instrument_form import at_path, put_at
from saddlebench.web.capture.saddle_fields import ARCHES, FILLS, MAIN, MORE, N_PADS, PAD_MATERIALS

_TEXT = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """What the records know of the saddle already."""

    label: str
    serial: str
    family: str
    """As a saddle file calls it."""


def texts_of_record(record: SaddleRecord) -> dict[str, str]:
    """Return what stands in the form's fields for a recorded saddle; what was assumed stays blank."""
    document = saddle_document(record)
    family = str(document["family"])
    texts = {one.path: _text(at_path(document, one.path)) for one in (*MAIN[family], *MORE[family])}
    fill = at_path(document, "panel.fill")
    arch = at_path(document, "alterable.arch")
    texts |= {
        "lengths_in": "mm",
        "fill": fill if isinstance(fill, str) else "",
        "arch": arch if isinstance(arch, str) else "not known",
        "nothing_because": _text(at_path(document, "alterable.nothing_because")),
        "notes": record.notes,
    }
    for i, pad in enumerate(document["pads"][:N_PADS], start=1):
        thickness = pad["thickness_mm"] if "thickness_mm" in pad else pad["thickness"]
        texts |= {
            f"pad{i}.made_of": pad["made_of"] if isinstance(pad["made_of"], str) else "",
            f"pad{i}.thickness": _text(_even(thickness)),
            f"pad{i}.cut": pad["cut"],
        }
    return texts


def _even(thickness: object) -> object:
    return max(thickness.values()) if isinstance(thickness, dict) else thickness


def _text(value: object) -> str:
    return "" if value is None else f"{value:.6g}" if isinstance(value, int | float) else str(value)


def record_of_form(
    named: Named,
    texts: Mapping[str, str],
    *,
    table: bytes | None = None,
    before: SaddleRecord | None = None,
) -> SaddleRecord:
    """Return the record that the form describes.

    Parameters
    ----------
    named : the saddle
    texts : what stands in the fields, by their paths
    table : a table of sections of the underside, if one was sent
    before : the record that stood before, whose measured underside stays if no table was sent

    Raises
    ------
    InputProblemsError
        With every problem, each with its field's path.
    """
    problems: list[Problem] = []
    document = _document(named, texts)
    unit = Length(document["lengths_in"]) if document["lengths_in"] in list(Length) else Length.MM
    sections: tuple[UndersideSection, ...] | None = None
    if table:
        try:
            sections = _sections(table, unit)
        except InputProblemsError as error:
            problems += error.problems
    try:
        record = saddle_from_document(document)
    except InputProblemsError as error:
        problems += [replace(one, where=Where(field=_place(one.where.field))) for one in error.problems]
    if problems:
        raise InputProblemsError(problems)
    kept = before.underside if before is not None and not texts.get("forget_underside") else None
    return replace(record, underside=sections or kept)


def _document(named: Named, texts: Mapping[str, str]) -> dict[str, Any]:
    document: dict[str, Any] = {
        "family": named.family,
        "label": named.label,
        "serial": named.serial,
        "lengths_in": texts.get("lengths_in", "mm"),
        "notes": texts.get("notes", "").strip()[:_TEXT],
    }
    for one in (*MAIN[named.family], *MORE[named.family]):
        text = texts.get(one.path, "").strip()
        if text:
            put_at(document, one.path, text)
    if texts.get("fill") in FILLS and named.family in {"panelled", "cut-back"}:
        put_at(document, "panel.fill", texts["fill"])
    if texts.get("nothing_because", "").strip():
        put_at(document, "alterable.nothing_because", texts["nothing_because"].strip()[:200])
    elif texts.get("arch") in ARCHES:
        put_at(document, "alterable.arch", texts["arch"])
    pads = [_pad(texts, i) for i in range(1, N_PADS + 1) if texts.get(f"pad{i}.thickness", "").strip()]
    if pads:
        document["pads"] = pads
    return document


def _pad(texts: Mapping[str, str], i: int) -> dict[str, Any]:
    made_of, cut = texts.get(f"pad{i}.made_of", ""), texts.get(f"pad{i}.cut", "")
    pad: dict[str, Any] = {
        "made_of": made_of if made_of in PAD_MATERIALS else "cotton",
        "thickness": texts[f"pad{i}.thickness"].strip(),
    }
    return pad | ({"cut": cut} if cut else {})


def _place(field: str) -> str:
    """Return the form's name of a saddle file's field."""
    pad = re.match(r"pads\.(\d+)\.(thickness|cut|made_of)", field)
    if pad:
        return f"pad{pad[1]}.{pad[2]}"
    if field.startswith("pads."):
        return f"pad{field.split('.')[1]}.thickness"
    return {"panel.fill": "fill", "alterable.arch": "arch"}.get(field, field)


def _sections(table: bytes, unit: Length) -> tuple[UndersideSection, ...]:
    with tempfile.TemporaryDirectory(prefix="saddlebench-sections-") as folder:
        path = Path(folder) / "sections.csv"
        path.write_bytes(table)
        try:
            return read_sections(path, unit)
        except InputProblemsError as error:
            told = [replace(one, where=replace(one.where, file="the table")) for one in error.problems]
            raise InputProblemsError(told) from error
