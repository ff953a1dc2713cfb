"""The file that a phone saves of everything unsent: one JSON object a line, the first says how many."""

import base64
import binascii
import hashlib
import json
import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from saddlebench.engine.errors import InputProblemsError, Problem, SaddlebenchError, Where, input_problem
from saddlebench.practice.enums import Outcome
from saddlebench.practice.queries.standing import Standing
from saddlebench.web.phone.photos import Described, keep_photo, marks_of
from saddlebench.web.phone.protocol import is_spoken
from saddlebench.web.phone.taking import REFUSED, Taken, take

FORMAT = "saddlebench unsent entries"
LARGEST_BYTES = 512 << 20
_MOST_AT_ONCE = 500


@dataclass(slots=True, kw_only=True)
class ReadIn:
    """What became of a file."""

    entries: int = 0
    counted: dict[str, int] = field(default_factory=dict)
    """How many entries came out as saved, same, held, refused."""
    held: list[tuple[str, Taken]] = field(default_factory=list)
    """By field: what somebody else had entered otherwise. Both values are kept."""
    problems: list[Problem] = field(default_factory=list)
    photos: int = 0

    def count(self, sent: Mapping[str, Any], taken: Taken) -> None:
        """Add one entry's outcome."""
        self.entries += 1
        self.counted[taken.outcome] = self.counted.get(taken.outcome, 0) + 1
        name = str(sent.get("field") or sent.get("label") or sent.get("kind") or "entry")
        if taken.outcome == Outcome.HELD.value:
            self.held.append((name, taken))
        elif taken.outcome == REFUSED:
            self.problems += [
                Problem(what=one.what, cure=one.cure, where=Where(field=name)) for one in taken.problems
            ]


def read_journal(standing: Standing, content: bytes) -> ReadIn:
    """Take in a file of unsent entries; reading it in twice, or after they were sent, changes nothing.

    Raises
    ------
    InputProblemsError
        If it is no such file, of a newer version, or of another practice: nothing is taken in then.
    """
    lines = content.splitlines()
    head = _head(lines, standing)
    result = ReadIn()
    entries: list[dict[str, Any]] = []
    photos: list[tuple[int, dict[str, Any]]] = []
    for row, line in enumerate(lines[1:], start=2):
        one = _object(line)
        if one is None:
            cure = "The lines before and after it were taken in; save the file on the phone again."
            result.problems.append(
                Problem(what="the line cannot be read, it is cut or changed", cure=cure, where=Where(row=row))
            )
        elif "photo" in one:
            photos.append((row, one))
        else:
            entries.append(one)
    for begins in range(0, len(entries), _MOST_AT_ONCE):
        part = entries[begins : begins + _MOST_AT_ONCE]
        for sent, taken in zip(part, take(standing.actor, part), strict=True):
            result.count(sent, taken)
    for row, one in photos:
        _take_photo(standing, one, row, result)
    missing = int(head["entries"]) + int(head["photos"]) - len(entries) - len(photos)
    if missing > 0:
        what = f"{missing} of the {head['entries']} entries and {head['photos']} photos are not in the file"
        result.problems.append(
            Problem(what=what, cure="The file was cut short: save it on the phone again, and read it in too.")
        )
    return result


def _head(lines: list[bytes], standing: Standing) -> dict[str, Any]:
    head = _object(lines[0]) if lines else None
    counts = [head.get("entries"), head.get("photos")] if head else []
    if head is None or head.get("format") != FORMAT or not all(type(one) is int for one in counts):
        what = "this is no file of unsent entries"
        raise input_problem(
            what, "Choose the file that the phone saved; its name begins with “saddlebench-unsent”."
        )
    if not is_spoken(head.get("version")):
        what = "the file is of a newer version than this program"
        raise input_problem(what, "Bring this program up to date, then read it in.")
    if head.get("practice") != str(standing.practice_uuid):
        what = "the file belongs to another practice"
        raise input_problem(what, "Sign in to the practice it belongs to.")
    return head


def _object(line: bytes) -> dict[str, Any] | None:
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


def _take_photo(standing: Standing, one: Mapping[str, Any], row: int, result: ReadIn) -> None:
    where = Where(row=row)
    try:
        content = base64.b64decode(str(one.get("photo")), validate=True)
        described = Described(
            uuid=uuids.UUID(str(one.get("uuid"))),
            visit=uuids.UUID(str(one.get("visit"))),
            shot=str(one.get("shot") or "")[:48],
            label=str(one.get("label") or "")[:200],
            drawn=marks_of(one.get("drawn")),
        )
    except InputProblemsError as error:
        result.problems += [Problem(what=p.what, cure=p.cure, where=where) for p in error.problems]
        return
    except (binascii.Error, ValueError):
        result.problems.append(
            Problem(what="the photo cannot be read", cure="Save the file again.", where=where)
        )
        return
    if hashlib.sha256(content).hexdigest() != one.get("sha256"):
        result.problems.append(
            Problem(what="the photo is not whole", cure="Save the file on the phone again.", where=where)
        )
        return
    try:
        keep_photo(standing.actor, content, described, ZoneInfo(standing.zone))
    except InputProblemsError as error:
        result.problems += [Problem(what=p.what, cure=p.cure, where=where) for p in error.problems]
    except SaddlebenchError as error:
        result.problems.append(Problem(what=str(error).rstrip("."), cure="Look at its visit.", where=where))
    else:
        result.photos += 1
