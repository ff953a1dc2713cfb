"""People as vCards (RFC 6350), out and in again. Lines are folded and escaped by the calendar library."""

import uuid as uuids

from icalendar import vAdr, vN, vOrg, vText
from icalendar.parser import Contentline, Contentlines, Parameters, split_on_unescaped_semicolon

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.practice.catalogue import CLIENT_FIELDS, Value, read_all
from saddlebench.practice.crossing.lists import Imported, practice_uuid
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import Client
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import deed
from saddlebench.practice.services.taking_on import take_on_in

LARGEST_BYTES = 20 << 20
_MOST_CARDS = 5_000
_URN = "urn:uuid:"
_EOL = "\r\n"


def export_cards(actor: Actor | None) -> str:
    """Return all standing clients as vCards 4.0."""
    allowed = require(actor, Action.EXPORT)
    rows = Client.objects.of(allowed.practice_id).standing().order_by("label", "id")
    with deed(actor, Action.EXPORT, "export_cards", Subject.PRACTICE, practice_uuid(allowed)):
        return "".join(card_of(row) for row in rows)


def _line(name: str, value: object, **parameters: str) -> str:
    ical = Contentline.from_parts(name, Parameters(parameters), value).to_ical()
    return str(ical.decode("utf-8")) + _EOL


def card_of(client: Client) -> str:
    """Return one client's card."""
    lines = [
        _line("BEGIN", vText("VCARD")),
        _line("VERSION", vText("4.0")),
        _line("UID", vText(f"{_URN}{client.uuid}")),
        _line("FN", vText(client.label)),
        _line("N", vN(_name_parts(client.label))),
    ]
    if client.organisation:
        lines.append(_line("ORG", vOrg((client.organisation,))))
    if client.email:
        lines.append(_line("EMAIL", vText(client.email)))
    lines += [_line("TEL", vText(number)) for number in (client.phone, client.phone_2) if number]
    address = (client.street, client.town, client.postcode, client.country)
    if any(address):
        street, town, postcode, country = address
        lines.append(_line("ADR", vAdr(("", "", street, town, "", postcode, country))))
    if client.note:
        lines.append(_line("NOTE", vText(client.note)))
    lines.append(_line("END", vText("VCARD")))
    return "".join(lines)


def _name_parts(label: str) -> tuple[str, str, str, str, str]:
    """Return family and given name; a name's order is not ours to know, so the last word goes first."""
    *given, family = label.split() or [""]
    return (family, " ".join(given), "", "", "")


def import_cards(actor: Actor | None, content: bytes, file: str = "cards") -> Imported:
    """Take on the people of vCards (3.0 or 4.0): all of them, or none and every problem by card.

    Raises
    ------
    InputProblemsError
        With every problem; the row is the card's place in the file.
    """
    allowed = require(actor, Action.IMPORT)
    cards = read_cards(content, file)
    here = set(Client.objects.of(allowed.practice_id).values_list("uuid", flat=True))
    problems: list[Problem] = []
    new = 0
    with deed(actor, Action.IMPORT, "import_cards", Subject.PRACTICE, practice_uuid(allowed)) as done:
        for number, (uuid, values) in enumerate(cards, start=1):
            if uuid in here:
                continue
            here.add(uuid)
            try:
                read_all(CLIENT_FIELDS, values, new=True)
                take_on_in(done, Subject.CLIENT, uuid, values)
                new += 1
            except InputProblemsError as error:
                problems += [
                    Problem(what=p.what, cure=p.cure, where=Where(file=file, row=number, field=p.where.field))
                    for p in error.problems
                ]
        if problems:
            raise InputProblemsError(problems)
    return Imported(taken_on=new, already_here=len(cards) - new)


def read_cards(content: bytes, file: str = "cards") -> list[tuple[uuids.UUID, dict[str, Value]]]:
    """Return each card's uuid (its own, or a new one) and its values.

    Raises
    ------
    InputProblemsError
        If the file is no file of vCards, or too large.
    """
    if len(content) > LARGEST_BYTES:
        raise input_problem("is larger than 20 MB", "Split it into several files.", Where(file=file))
    try:
        lines = Contentlines.from_ical(content.decode("utf-8-sig"))
        parsed = [line.raw_parts() for line in lines if line.strip()]
    except ValueError as error:
        raise input_problem(
            "is no file of vCards", "Export it again as vCard 3.0 or 4.0.", Where(file=file)
        ) from error
    cards: list[tuple[uuids.UUID, dict[str, Value]]] = []
    open_card: list[tuple[str, str]] | None = None
    for name, _parameters, raw in parsed:
        # “item1.TEL” groups lines; the group says nothing to us.
        kind = str(name).rsplit(".", 1)[-1].upper()
        if kind == "BEGIN":
            open_card = []
        elif kind == "END" and open_card is not None:
            cards.append(_card(open_card))
            open_card = None
        elif open_card is not None:
            open_card.append((kind, str(raw)))
    if open_card is not None or not cards:
        raise input_problem("is no whole file of vCards", "Export it again.", Where(file=file))
    if len(cards) > _MOST_CARDS:
        msg = f"has more than {_MOST_CARDS} cards"
        raise input_problem(msg, "Split it.", Where(file=file))
    return cards


def _card(lines: list[tuple[str, str]]) -> tuple[uuids.UUID, dict[str, Value]]:
    values: dict[str, Value] = {}
    uuid = uuids.uuid4()
    for kind, raw in lines:
        parts = [part.strip() for part in split_on_unescaped_semicolon(raw)]
        text = ";".join(parts).strip()
        if kind == "UID":
            uuid = _own_uuid(text) or uuid
        elif kind == "FN":
            values.setdefault("label", text)
        elif kind == "ORG":
            values.setdefault("organisation", ", ".join(part for part in parts if part))
        elif kind == "EMAIL":
            values.setdefault("email", text)
        elif kind == "TEL":
            number = text.removeprefix("tel:")
            values.setdefault("phone_2" if "phone" in values else "phone", number)
        elif kind == "ADR" and len(parts) >= 7:
            names = ("street", "town", "postcode", "country")
            values |= dict(zip(names, (parts[2], parts[3], parts[5], parts[6]), strict=True))
        elif kind == "NOTE":
            values.setdefault("note", text)
    return uuid, {name: value for name, value in values.items() if value}


def _own_uuid(text: str) -> uuids.UUID | None:
    try:
        return uuids.UUID(text.removeprefix(_URN))
    except ValueError:
        return None
