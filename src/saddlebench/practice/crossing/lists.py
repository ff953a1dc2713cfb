"""People and horses as tables, out and in again."""

import uuid as uuids
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue import CLIENT_FIELDS, HORSE_FIELDS, Field, Value, read_all
from saddlebench.practice.crossing.tables import MOST_PROBLEMS, Row, read_table, write_table
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import Client, Horse, Practice, Yard
from saddlebench.practice.models.base import Kept
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.columns import column_value
from saddlebench.practice.services.deeds import Deed, deed
from saddlebench.practice.services.finding import folded, refresh_found_by
from saddlebench.practice.services.taking_on import take_on_in

_ID = {"uuid": "Record"}
_OWNER_AND_YARD = {"client": "Client", "yard": "Yard"}
_PEOPLE_FILE, _HORSES_FILE = "people", "horses"


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What an import did."""

    taken_on: int
    already_here: int
    yards_made: int = 0


def _columns(fields: Mapping[str, Field], more: Mapping[str, str]) -> dict[str, str]:
    return {**_ID, **{name: field.words for name, field in fields.items()}, **more}


def export_people(actor: Actor | None) -> str:
    """Return all standing clients as a table."""
    allowed = require(actor, Action.EXPORT)
    rows = Client.objects.of(allowed.practice_id).standing().order_by("label", "id")
    with deed(actor, Action.EXPORT, "export_people", Subject.PRACTICE, practice_uuid(allowed)):
        return write_table(
            list(_columns(CLIENT_FIELDS, {})),
            [
                {"uuid": str(row.uuid), **{name: column_value(row, name) for name in CLIENT_FIELDS}}
                for row in rows
            ],
        )


def export_horses(actor: Actor | None) -> str:
    """Return all standing horses as a table, with the names of client and yard."""
    allowed = require(actor, Action.EXPORT)
    rows = Horse.objects.of(allowed.practice_id).standing().select_related("client", "yard")
    with deed(actor, Action.EXPORT, "export_horses", Subject.PRACTICE, practice_uuid(allowed)):
        return write_table(
            list(_columns(HORSE_FIELDS, _OWNER_AND_YARD)),
            [
                {
                    "uuid": str(row.uuid),
                    **{name: column_value(row, name) for name in HORSE_FIELDS},
                    "client": row.client.label if row.client else None,
                    "yard": row.yard.label if row.yard else None,
                }
                for row in rows.order_by("label", "id")
            ],
        )


def practice_uuid(actor: Actor) -> uuids.UUID:
    """Return the practice's uuid, for the audit of what is done to it as a whole."""
    return Practice.objects.values_list("uuid", flat=True).get(pk=actor.practice_id)


class _Problems:
    """Collects problems row by row."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._found: list[Problem] = []

    def of_row(self, number: int, attempt: Callable[[], None]) -> bool:
        """Carry out an attempt, and keep its problems with the row; tell whether there were none."""
        try:
            attempt()
        except InputProblemsError as error:
            self._found += [
                Problem(
                    what=p.what,
                    cure=p.cure,
                    where=Where(file=self._file, row=number, field=p.where.field),
                    weight=p.weight,
                )
                for p in error.problems
            ]
            return False
        return True

    def raise_if_any(self) -> None:
        """Report everything that was found, at most the first few hundred."""
        if self._found:
            raise InputProblemsError(self._found[:MOST_PROBLEMS])


def _one_problem(field: str, what: str, cure: str) -> InputProblemsError:
    return InputProblemsError([Problem(what=what, cure=cure, where=Where(field=field))])


def _uuid_of(row: Row) -> uuids.UUID:
    given = row.cells.get("uuid", "")
    try:
        return uuids.UUID(given) if given else uuids.uuid4()
    except ValueError:
        raise _one_problem("uuid", f"“{given[:40]}” is no record's number", "Leave the cell empty.") from None


def _known(model: type[Kept], actor: Actor) -> set[uuids.UUID]:
    return set(model.objects.of(actor.practice_id).values_list("uuid", flat=True))


def _likeness(subject: Subject, cells: Mapping[str, str]) -> tuple[str, ...]:
    """Return what makes a row without a record's number the same as one that is here."""
    names = ("label", "email", "phone") if subject is Subject.CLIENT else ("label", "client", "microchip")
    return tuple(folded(cells.get(name, "")) for name in names)


def _alike(subject: Subject, actor: Actor) -> set[tuple[str, ...]]:
    if subject is Subject.CLIENT:
        people = Client.objects.of(actor.practice_id).standing()
        return {
            _likeness(subject, {"label": row.label, "email": row.email, "phone": row.phone}) for row in people
        }
    horses = Horse.objects.of(actor.practice_id).standing().select_related("client")
    return {
        _likeness(
            subject,
            {
                "label": row.label,
                "client": row.client.label if row.client else "",
                "microchip": row.microchip,
            },
        )
        for row in horses
    }


def _take_on_rows(
    done: Deed,
    subject: Subject,
    rows: list[Row],
    problems: _Problems,
    values: Callable[[Row], dict[str, Value]],
) -> tuple[int, int]:
    here = _known(Client if subject is Subject.CLIENT else Horse, done.actor)
    alike = _alike(subject, done.actor)
    counts: Counter[str] = Counter()
    made: list[int] = []

    def take_on(row: Row) -> None:
        uuid = _uuid_of(row)
        if uuid in here or _likeness(subject, row.cells) in alike:
            counts["here"] += 1
            return
        here.add(uuid)
        made.append(take_on_in(done, subject, uuid, values(row)).pk)
        counts["new"] += 1

    for row in rows:
        problems.of_row(row.number, lambda row=row: take_on(row))  # type: ignore[misc]
    if subject is Subject.HORSE:
        refresh_found_by(made)
    return counts["new"], counts["here"]


def _plain(row: Row, fields: Mapping[str, Field]) -> dict[str, Value]:
    return {name: cell for name, cell in row.cells.items() if name in fields and cell}


def import_people(actor: Actor | None, content: bytes, file: str = _PEOPLE_FILE) -> Imported:
    """Take on the clients of a table: all of them, or none and every problem by row and field.

    Raises
    ------
    InputProblemsError
        With every problem.
    """
    allowed = require(actor, Action.IMPORT)
    rows = read_table(content, _columns(CLIENT_FIELDS, {}), file)
    problems = _Problems(file)
    with deed(actor, Action.IMPORT, "import_people", Subject.PRACTICE, practice_uuid(allowed)) as done:
        new, here = _take_on_rows(
            done, Subject.CLIENT, rows, problems, lambda row: _plain(row, CLIENT_FIELDS)
        )
        problems.raise_if_any()
    return Imported(taken_on=new, already_here=here)


def import_horses(actor: Actor | None, content: bytes, file: str = _HORSES_FILE) -> Imported:
    """Take on the horses of a table; clients are found by name, yards are made where they are new.

    Raises
    ------
    InputProblemsError
        With every problem by row and field; then nothing is taken on.
    """
    allowed = require(actor, Action.IMPORT)
    rows = read_table(content, _columns(HORSE_FIELDS, _OWNER_AND_YARD), file)
    problems = _Problems(file)
    with deed(actor, Action.IMPORT, "import_horses", Subject.PRACTICE, practice_uuid(allowed)) as done:
        clients = _by_name(Client, allowed)
        yards = _by_name(Yard, allowed)
        n_yards = sum(map(len, yards.values()))

        def values(row: Row) -> dict[str, Value]:
            # All of a row's problems in one go: its own fields' first, then whom it names.
            plain = _plain(row, HORSE_FIELDS)
            found: list[Problem] = []
            for attempt in (
                lambda: read_all(HORSE_FIELDS, plain, new=True),
                lambda: plain.update(client=_named_client(row, clients)),
                lambda: plain.update(yard=_named_yard(row, yards, done)),
            ):
                try:
                    attempt()
                except InputProblemsError as error:
                    found += error.problems
            if found:
                raise InputProblemsError(found)
            return plain

        new, here = _take_on_rows(done, Subject.HORSE, rows, problems, values)
        problems.raise_if_any()
        n_made = sum(map(len, yards.values())) - n_yards
    return Imported(taken_on=new, already_here=here, yards_made=n_made)


def _by_name(model: type[Kept], actor: Actor) -> dict[str, list[str]]:
    named: dict[str, list[str]] = {}
    for row in model.objects.of(actor.practice_id).standing():
        named.setdefault(folded(row.label), []).append(str(row.uuid))
    return named


def _named_client(row: Row, clients: Mapping[str, list[str]]) -> Value:
    name = row.cells.get("client", "")
    found = clients.get(folded(name), []) if name else []
    if name and not found:
        raise _one_problem("client", f"“{name}” is not among the clients", "Bring the people in first.")
    if len(found) > 1:
        cure = "Leave the cell empty, and choose the client on the horse's page."
        raise _one_problem("client", f"{len(found)} clients are called “{name}”", cure)
    return found[0] if found else None


def _named_yard(row: Row, yards: dict[str, list[str]], done: Deed) -> Value:
    name = row.cells.get("yard", "")
    if not name:
        return None
    found = yards.setdefault(folded(name), [])
    if len(found) > 1:
        cure = "Leave the cell empty, and choose the yard on the horse's page."
        raise _one_problem("yard", f"{len(found)} yards are called “{name}”", cure)
    if not found:
        found.append(str(take_on_in(done, Subject.YARD, uuids.uuid4(), {"label": name}).uuid))
    return found[0]
