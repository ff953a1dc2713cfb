"""Bringing records: each under a uuid that follows from the file, so that bringing it twice is once."""

import hashlib
import json
import time
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any
from uuid import NAMESPACE_OID, UUID, uuid5

from saddlebench.cli.console import progress
from saddlebench.cli.records_at import RecordsAt
from saddlebench.cli.records_kinds import Kind
from saddlebench.engine.errors import Where, input_problem

_LOOK_EVERY_S = 0.5
_LARGEST_VALUES = 4 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What was said beside the file."""

    of: str = ""
    horse: str = ""
    saddle: str = ""
    visit: str = ""
    why: str = ""
    shot: str = ""
    seen: int | None = None
    quiet: bool = False


def bring(held: RecordsAt, kind: Kind, file: Path, given: Given) -> dict[str, Any]:
    """Bring a file's record, and return its uuid and what was done.

    Raises
    ------
    InputProblemsError
        If it cannot be taken, and why.
    """
    content = file.read_bytes()
    if kind is Kind.PHOTOS:
        return _photo(held, content, given)
    if kind is Kind.STUDIES:
        return _study(held, _object(content, file), content, given)
    if kind is Kind.BACKS:
        return _version(held, kind, content, given) if given.of else _back(held, content, file, given)
    if kind is Kind.SADDLES and _object(content, file).get("format"):
        if not given.of:
            raise input_problem("a saddle's record belongs to a saddle", "Say to which: --of UUID.")
        return _version(held, kind, content, given)
    return _values(held, kind, _object(content, file), content)


def _object(content: bytes, file: Path) -> dict[str, Any]:
    try:
        found = (
            json.loads(content) if len(content) <= _LARGEST_VALUES or b'"format"' in content[:200] else None
        )
    except ValueError:
        found = None
    if not isinstance(found, dict):
        what, cure = "holds no JSON object", "Give a file as `records get` writes it."
        raise input_problem(what, cure, Where(file=str(file)))
    return found


def _named(*parts: bytes | str) -> str:
    digest = hashlib.sha256()
    for part in parts:
        digest.update(part if isinstance(part, bytes) else part.encode())
        digest.update(b"\0")
    return str(uuid5(NAMESPACE_OID, f"saddlebench record {digest.hexdigest()}"))


def _photo(held: RecordsAt, content: bytes, given: Given) -> dict[str, Any]:
    if not (given.visit or given.horse or given.saddle):
        raise input_problem("a photo belongs to something", "Say to what: --visit, --horse or --saddle.")
    uuid = _named(content, given.visit, given.horse, given.saddle)
    params = {"visit": given.visit, "horse": given.horse, "saddle": given.saddle, "shot": given.shot}
    made = held.send("PUT", f"photos/{uuid}", params=params, content=content)
    flaws = f" The check found: {', '.join(made['flaws'])}." if made["flaws"] else ""
    return {"uuid": uuid, "said": f"The photo is kept.{flaws}"}


def _back(held: RecordsAt, content: bytes, file: Path, given: Given) -> dict[str, Any]:
    record = _object(content, file)
    if not given.horse:
        raise input_problem("a back belongs to a horse", "Say to which: --horse UUID.")
    day, uuid = str(record.get("measured_on", "")), _named(content, given.horse)
    try:
        date.fromisoformat(day)
    except ValueError:
        cure = "Give a back record, as `saddlebench back` writes it."
        raise input_problem("is no back record", cure, Where(file=str(file))) from None
    label = str(record.get("label", ""))[:200]
    params = {"horse": given.horse, "visit": given.visit, "measured_on": day, "label": label}
    made = held.send("PUT", f"backs/{uuid}", params=params, content=content)
    return {"uuid": uuid, "said": f"Recorded as version {made['number']}."}


def _version(held: RecordsAt, kind: Kind, content: bytes, given: Given) -> dict[str, Any]:
    seen = given.seen
    if seen is None:
        rows = held.get(f"{kind.value}/{given.of}/versions")
        seen = next((row["number"] for row in rows if row["is_current"]), 0)
    if kind is Kind.BACKS and not given.why.strip():
        raise input_problem("a correction says why it was made", "Add --why “…”.")
    params = {"seen": seen, "why": given.why}
    made = held.send("POST", f"{kind.value}/{given.of}/record", params=params, content=content)
    return {"uuid": given.of, "said": f"Recorded as version {made['number']}."}


def _values(held: RecordsAt, kind: Kind, found: Mapping[str, Any], content: bytes) -> dict[str, Any]:
    values, uuid = found.get("values"), str(found.get("uuid") or _named(content))
    if not isinstance(values, dict):
        raise input_problem("the file has no values", 'Write {"values": {…}}, as `records get` does.')
    try:
        UUID(uuid)
    except ValueError:
        raise input_problem("the file's uuid is none", "Leave it out for a new record.") from None
    path = f"{kind.value}/{uuid}"
    if not held.is_there(path):
        made = _made(held, kind, uuid, values)
        return {"uuid": uuid, "said": f"{made} is taken on."}
    seen = found.get("revision", 0)
    held.send("PATCH", path, json={"values": values, "seen": seen, "key": _named(content, path)})
    return {"uuid": uuid, "said": "The values are entered."}


def _made(held: RecordsAt, kind: Kind, uuid: str, values: Mapping[str, Any]) -> str:
    if kind is not Kind.VISITS:
        made = held.send("POST", kind.value, json={"uuid": uuid, "values": values})
        return str(made["label"])
    asked = {
        "uuid": uuid,
        "on": values.get("date"),
        "purpose": values.get("purpose"),
        "horse": values.get("horse"),
        "yard": values.get("yard"),
    }
    held.send("POST", "visits", json={name: value for name, value in asked.items() if value is not None})
    rest = {name: value for name, value in values.items() if name not in {"horse", "yard"}}
    held.send("PATCH", f"visits/{uuid}", json={"values": rest, "seen": 0})
    return "The visit"


def _study(held: RecordsAt, asked: Mapping[str, Any], content: bytes, given: Given) -> dict[str, Any]:
    """Ask for a fit check, and wait until it is computed and recorded."""
    uuid = str(asked.get("uuid") or _named(content))
    job = held.send("POST", "studies", json={**asked, "uuid": uuid})
    if job["is_over"] and job["state"] != "done":
        # The same question was asked before, and was stopped, interrupted, or failed.
        job = held.send("POST", f"jobs/{uuid}/again")
    if not job["is_over"]:
        held.work()
    with progress(quiet=given.quiet) as show:
        while not job["is_over"]:
            time.sleep(_LOOK_EVERY_S)
            job = held.get(f"jobs/{uuid}")
            show(job["words"], job["done"], max(job["of"], 1), job["doing"])
    if job["state"] != "done":
        raise input_problem(f"the fit check was not made ({job['state']})", job["said"])  # noqa: EM102
    return {"uuid": uuid, "said": f"{job['words']}: computed and recorded."}
