"""Kinds of record as the commands name, list, show and write them."""

import json
from collections.abc import Mapping, Sequence
from enum import StrEnum
from typing import Any

from saddlebench.cli.console import results, words
from saddlebench.cli.records_at import RecordsAt
from saddlebench.engine.errors import input_problem


class Kind(StrEnum):
    """A kind of record, as its address is called."""

    HORSES = "horses"
    SADDLES = "saddles"
    BACKS = "backs"
    STUDIES = "studies"
    VISITS = "visits"
    PHOTOS = "photos"
    CLIENTS = "clients"
    YARDS = "yards"

    @property
    def narrowed_by(self) -> tuple[str, ...]:
        """What its list can be narrowed to."""
        return _NARROWED.get(self, ())

    @property
    def is_document(self) -> bool:
        """Whether it holds a record document with versions."""
        return self in _DOCUMENTS


_NARROWED = {
    Kind.BACKS: ("horse",),
    Kind.STUDIES: ("horse", "saddle"),
    Kind.VISITS: ("horse",),
    Kind.PHOTOS: ("visit", "horse", "saddle"),
}
_DOCUMENTS = (Kind.BACKS, Kind.SADDLES, Kind.STUDIES)
COLUMNS: Mapping[Kind, tuple[tuple[str, str], ...]] = {
    Kind.HORSES: (
        ("name", "label"),
        ("height", "height_hands"),
        ("client", "client"),
        ("last visit", "last_visit"),
    ),
    Kind.SADDLES: (("name", "label"), ("family", "family"), ("whose", "holding"), ("serial", "serial")),
    Kind.BACKS: (("day", "measured_on"), ("horse", "horse"), ("name", "label"), ("version", "number")),
    Kind.STUDIES: (("made", "made_at"), ("horse", "horse"), ("saddle", "saddle"), ("run", "number")),
    Kind.VISITS: (("day", "day"), ("horse", "horse"), ("purpose", "purpose"), ("state", "state")),
    Kind.PHOTOS: (("day", "day"), ("horse", "horse"), ("shot", "shot"), ("type", "media_type")),
    Kind.CLIENTS: (("name", "label"), ("town", "town"), ("telephone", "phone")),
    Kind.YARDS: (("name", "label"), ("town", "town"), ("horses", "n_horses")),
}


def _cell(value: object) -> str:
    if isinstance(value, Mapping):
        return str(value.get("label", ""))
    return "" if value is None else str(value)[:60]


def _table(kind: Kind, rows: Sequence[Mapping[str, Any]]) -> None:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False)
    table.add_column("uuid", no_wrap=True)
    for heading, _ in COLUMNS[kind]:
        table.add_column(heading, overflow="fold")
    for row in rows:
        table.add_row(row["uuid"], *(Text(_cell(row.get(name))) for _, name in COLUMNS[kind]))
    results().print(table)


def print_list(kind: Kind, found: Mapping[str, Any]) -> None:
    """Print a page of records."""
    if not found["rows"]:
        words().print(f"No {kind.value} here.")
        return
    _table(kind, found["rows"])
    if found["pages"] > 1:
        words().print(f"Page {found['page']} of {found['pages']}, {found['total']} in all: --page")


def print_found(found: Mapping[str, Any]) -> None:
    """Print what was found, kind by kind."""
    kinds = [kind for kind in (Kind.HORSES, Kind.SADDLES, Kind.CLIENTS, Kind.YARDS) if found[kind.value]]
    for kind in kinds:
        results().print(f"{kind.value.capitalize()} ({found[f'n_{kind.value}']})", style="bold")
        _table(kind, found[kind.value])
    if not kinds:
        words().print("Nothing here holds all of these words.")


def facts_of(record: Mapping[str, Any]) -> None:
    """Print a record fact by fact; what is empty is left out."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, show_header=False)
    table.add_column(no_wrap=True, style="dim")
    table.add_column(overflow="fold")
    # A record's name stands in its head and among its values: told once.
    for name, value in dict.fromkeys(_lines(record)):
        table.add_row(name, Text(value))
    results().print(table)


def _lines(record: Mapping[str, Any], before: str = "") -> list[tuple[str, str]]:
    lines: list[tuple[str, str]] = []
    for name, value in record.items():
        # A record's own fields stand beside its facts, without the names of what holds them.
        said = name if name in {"values", "head", "answers"} else f"{before}{name}"
        if value in (None, "", [], {}):
            continue
        if isinstance(value, Mapping) and "label" in value and "uuid" in value:
            lines.append((said, f"{value['label']}  {value['uuid']}"))
        elif name in {"values", "head"}:
            lines += _lines(value, before)
        elif name == "answers":
            lines += [
                (f"{before}{field}", _plain(one["value"])) for field, one in value.items() if _holds(one)
            ]
        elif isinstance(value, Mapping):
            lines += _lines(value, f"{said} ")
        elif isinstance(value, list) and isinstance(value[0], Mapping):
            for one in value:
                lines += _item(said, one)
        else:
            lines.append((said, _plain(value)))
    return lines


def _item(said: str, one: Mapping[str, Any]) -> list[tuple[str, str]]:
    if "label" not in one or "uuid" not in one:
        return _lines(one, f"{said} ")
    parts = (one["label"], one.get("day"), one.get("detail"), one["uuid"])
    return [(said, "  ".join(str(part) for part in parts if part))]


def _holds(answer: Mapping[str, Any]) -> bool:
    return answer["value"] not in (None, "", [])


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def record_of(held: RecordsAt, kind: Kind, uuid: str, version: int | None) -> bytes:
    """Return a record as a file holds it.

    Raises
    ------
    InputProblemsError
        If a version is asked for of what has none.
    """
    if kind.is_document:
        of = f"versions/{version}" if version else "document"
        return held.get_bytes(f"{kind.value}/{uuid}/{of}")
    if version is not None:
        raise input_problem(f"{kind.value} have no versions", "Leave --version out.")  # noqa: EM102
    if kind is Kind.PHOTOS:
        return held.get_bytes(f"photos/{uuid}/file")
    text = json.dumps(values_file(held.get(f"{kind.value}/{uuid}")), ensure_ascii=False, indent=2)
    return f"{text}\n".encode()


def values_file(record: Mapping[str, Any]) -> dict[str, Any]:
    """Return a record's values with the revision they are of: what `put` takes to change them."""
    values = dict(record.get("values") or {})
    values |= record.get("head") or {}
    values |= {name: one["value"] for name, one in (record.get("answers") or {}).items()}
    for name in ("client", "yard", "horse"):
        if record.get(name):
            values[name] = record[name]["uuid"]
    kept = {name: value for name, value in values.items() if value is not None}
    return {"uuid": record["uuid"], "revision": record["revision"], "values": kept}
