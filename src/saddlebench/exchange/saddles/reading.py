"""A saddle file becomes a record; everything wrong with it is told at once."""

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.check import check_numbers
from saddlebench.engine.saddle.mesh import IntArray, mesh_problems
from saddlebench.engine.saddle.model import Family
from saddlebench.engine.saddle.record import SaddleRecord, UndersideMesh
from saddlebench.engine.saddle.sections import UndersideSection, section_problems
from saddlebench.engine.units import Length
from saddlebench.exchange.doors import in_file, read_settings, refused
from saddlebench.exchange.saddles.about import AboutTables
from saddlebench.exchange.saddles.families import SaddleDocument
from saddlebench.exchange.saddles.quantities import Door
from saddlebench.exchange.saddles.section_table import read_sections

MAX_SADDLE_BYTES = 40_000_000
"""A saddle file with a mesh of its underside in it."""
_ADAPTER: TypeAdapter[Any] = TypeAdapter(SaddleDocument)
_NOT_NUMBERS = {
    "serial",
    "notes",
    "pads",
    "alterable",
    "underside",
    "label",
    "lengths_in",
    "family",
    "disc_dip",
}


def read_saddle(path: Path) -> SaddleRecord:
    """Read a saddle file: TOML, or JSON where its name ends in .json.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the field it lies in.
    OSError
        If the file, or a table of sections that it names, cannot be opened.
    """
    document = read_settings(path, limit_bytes=MAX_SADDLE_BYTES)
    return saddle_from_document(document, file=str(path), folder=path.parent)


def saddle_from_document(
    document: Mapping[str, Any], *, file: str = "", folder: Path | None = None
) -> SaddleRecord:
    """Return the record that a saddle file's object describes.

    Parameters
    ----------
    document : the object
    file : its file's name, for problems
    folder : where a table of sections that it names is looked for

    Raises
    ------
    InputProblemsError
        With every fault of the object and the field it lies in.
    OSError
        If a table of sections that it names cannot be opened.
    """
    held = _validated(document, file)
    numbers = held.numbers()
    problems = in_file(check_numbers(numbers), file)
    underside, more = _underside(held, file, folder)
    if problems or more:
        raise InputProblemsError([*problems, *more])
    return SaddleRecord(
        label=held.label,
        numbers=numbers,
        alterable=held.alterable.alterable(numbers),
        underside=underside,
        pads=tuple(pad.layer() for pad in held.pads),
        serial=held.serial,
        assumed=_assumed(held, ""),
        notes=held.notes,
    )


def with_mesh(
    record: SaddleRecord, vertices_saddle: FloatArray, faces: IntArray, unit: Length
) -> SaddleRecord:
    """Return the record with its underside taken from a mesh.

    Parameters
    ----------
    record : the saddle by its numbers
    vertices_saddle : (v, 3) float, saddle frame [the stated unit]
    faces : (f, 3) int
    unit : the unit the vertices are in

    Raises
    ------
    InputProblemsError
        With everything that is wrong with the mesh.
    """
    problems = mesh_problems(vertices_saddle * unit.in_mm, faces, unit)
    if problems:
        raise InputProblemsError(problems)
    return replace(record, underside=UndersideMesh(vertices_saddle=vertices_saddle, faces=faces, unit=unit))


def saddle_schema() -> dict[str, Any]:
    """Return the published JSON Schema (draft 2020-12) of a saddle file."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **_ADAPTER.json_schema()}


def _validated(document: Mapping[str, Any], file: str) -> Any:
    unit = document.get("lengths_in")
    known = [one for one in Length if one.value == unit]
    try:
        return _ADAPTER.validate_python(
            dict(document), context={"lengths_in": known[0] if known else Length.MM}
        )
    except ValidationError as error:
        raise _by_field(refused(error, file)) from error


def _by_field(error: InputProblemsError) -> InputProblemsError:
    """Take the family's name, which validation puts in front of every field, off again."""
    told: dict[str, Problem] = {}
    for problem in error.problems:
        parts = problem.where.field.split(".")
        parts = parts[1:] if parts[0] in _FAMILIES else parts
        # What validation calls the members of a choice is no key of the file.
        field = ".".join(part for part in parts if not _INTERNAL.search(part))
        if not field:
            problem = Problem(  # noqa: PLW2901
                what=f"the family must be one of {', '.join(_FAMILIES)}",
                cure="Name the family of saddle.",
                where=problem.where,
            )
        told.setdefault(field, replace(problem, where=replace(problem.where, field=field or "family")))
    return InputProblemsError(list(told.values()))


_FAMILIES = tuple(family.value for family in Family)
_INTERNAL = re.compile(r"[\[(]|^[A-Z]|^float$|^function")


def _underside(
    held: AboutTables, file: str, folder: Path | None
) -> tuple[tuple[UndersideSection, ...] | UndersideMesh | None, list[Problem]]:
    table = held.underside
    if table is None:
        return None, []
    stated = [part for part in (table.sections, table.sections_file, table.mesh) if part is not None]
    if len(stated) != 1:
        what = "the underside is stated in more than one way, or in none"
        where = Where(file=file, field="underside")
        return None, [Problem(what=what, cure="Keep one of sections, sections_file, mesh.", where=where)]
    if table.mesh is not None:
        mesh = table.mesh.mesh()
        found = mesh_problems(mesh.vertices_saddle * mesh.unit.in_mm, mesh.faces, mesh.unit)
        return mesh, in_file(found, file)
    if table.sections is not None:
        sections = tuple(one.section() for one in table.sections)
        found = section_problems(sorted(sections, key=lambda one: one.behind_mm))
        return sections, in_file(found, file)
    if folder is None:
        raise input_problem(
            "names a table of sections, but has no folder of its own",
            "Put the sections into the file itself.",
            Where(file=file, field="underside.sections_file"),
        )
    try:
        return read_sections(folder / str(table.sections_file), held.lengths_in), []
    except InputProblemsError as error:
        return None, list(error.problems)


def _assumed(table: Door, before: str) -> tuple[str, ...]:
    """Return the fields that stand at their usual value, by their path in the file."""
    names: list[str] = []
    for name, field in type(table).model_fields.items():
        path = f"{before}{field.alias or name}"
        value = getattr(table, name)
        measured_otherwise = name == "firmness" and getattr(table, "disc_dip", None) is not None
        if name in _NOT_NUMBERS or measured_otherwise:
            continue
        if isinstance(value, Door):
            names += _assumed(value, f"{path}.")
        elif value is None:
            names.append(path)
    return tuple(names)
