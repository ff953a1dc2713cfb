"""What was typed, read by the field's kind; every problem with its field."""

import re
import uuid
from collections.abc import Callable, Mapping
from datetime import date, time
from zoneinfo import available_timezones

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.practice.catalogue.field import Field, Kind, Value
from saddlebench.practice.catalogue.numbers import read_number
from saddlebench.practice.estimates import height_from_hands
from saddlebench.practice.identity import read_microchip, read_ueln

_MOST_ITEMS = 200
_LARGEST = 1e15
_HANDS = re.compile(r"(.*?)\s*(?:hh|h|hands)", re.IGNORECASE)
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
# Deliberately loose: an address is proved by a letter that arrives, not by a pattern.
_EMAIL = re.compile(r"[^@\s]+@[^@\s]+\.[^@\s]+")


def _text(field: Field, raw: Value) -> Value:
    if not isinstance(raw, str):
        raise input_problem("this field holds words", "Write it as text.")
    if _CONTROL.search(raw) or "\ufffd" in raw:
        raise input_problem("the text holds characters that cannot be read", "Type it again.")
    try:
        raw.encode("utf-8")
    except UnicodeEncodeError:
        raise input_problem("the text holds characters that cannot be read", "Type it again.") from None
    trimmed = raw.strip()
    if len(trimmed) > field.max_length:
        what = f"{len(trimmed)} characters are more than the {field.max_length} that fit"
        raise input_problem(what, "Shorten it, or use the note.")
    if field.kind is Kind.TEXT and ("\n" in trimmed or "\r" in trimmed):
        raise input_problem("this field is one line", "Take the line breaks out.")
    return trimmed


def _yes_no(_field: Field, raw: Value) -> Value:
    words = {"yes": True, "no": False, "true": True, "false": False, "1": True, "0": False}
    if isinstance(raw, bool):
        return raw
    if isinstance(raw, str) and raw.strip().lower() in words:
        return words[raw.strip().lower()]
    raise input_problem("this is answered by yes or no", "Choose yes or no, or leave it open.")


def _choice(field: Field, raw: Value) -> Value:
    if isinstance(raw, str) and raw.strip() in field.choices:
        return raw.strip()
    msg = f"“{raw}” is not one of the choices"
    raise input_problem(msg, f"Choose one of: {', '.join(field.choices)}.")


def _choices(field: Field, raw: Value) -> Value:
    parts: list[Value] = (
        [part for part in re.split(r"[;,]", raw) if part.strip()] if isinstance(raw, str) else []
    )
    given = raw if isinstance(raw, list) else parts
    chosen = {str(_choice(field, one)) for one in given[:_MOST_ITEMS]}
    return [choice for choice in field.choices if choice in chosen]


def _list(field: Field, raw: Value) -> Value:
    given: list[Value] = (
        list(raw.split("\n")) if isinstance(raw, str) else raw if isinstance(raw, list) else []
    )
    if len(given) > _MOST_ITEMS or (not given and raw not in ("", [])):
        raise input_problem("this is a list, one a line", "Write one a line.")
    return [item for item in (_text(field, one) for one in given) if item]


def _number(field: Field, raw: Value) -> Value:
    if isinstance(raw, bool) or not isinstance(raw, str | int | float):
        raise input_problem("this is a number", "Write digits with one comma or point.")
    if isinstance(raw, str):
        return _within(field, read_number(raw))
    if not abs(raw) < _LARGEST:
        raise input_problem("this is no number that can be kept", "Check number and unit.")
    return _within(field, float(raw))


def _within(field: Field, number: float) -> float:
    low, high = field.low, field.high
    if (low is not None and number < low) or (high is not None and number > high):
        unit = f" {field.unit}" if field.unit else ""
        msg = f"{number:g}{unit} is outside {low:g} to {high:g}{unit}"
        raise input_problem(msg, "Check number and unit.")
    return number


def _whole(field: Field, raw: Value) -> Value:
    number = _number(field, raw)
    if not isinstance(number, float) or number != int(number):
        raise input_problem("this is a whole number", "Leave the decimals out.")
    return int(number)


def _height(field: Field, raw: Value) -> Value:
    hands = _HANDS.fullmatch(raw.strip()) if isinstance(raw, str) else None
    if hands:
        return _within(field, round(height_from_hands(hands[1]), 1))
    centimetres = re.sub(r"\s*cm$", "", raw.strip()) if isinstance(raw, str) else raw
    number = _number(Field(name=field.name, words=field.words), centimetres)
    if isinstance(number, float) and number < 20:
        msg = f"{number:g} cm is no horse's height"
        raise input_problem(msg, f"For hands write {number:g} hh.")
    return _within(field, number) if isinstance(number, float) else number


def _date(_field: Field, raw: Value) -> Value:
    try:
        day = date.fromisoformat(raw.strip() if isinstance(raw, str) else "")
    except ValueError:
        msg = f"“{raw}” is not a date"
        raise input_problem(msg, "Write year-month-day, such as 2026-03-31.") from None
    if not 1900 <= day.year <= 2200:
        msg = f"the year {day.year} is out of reach"
        raise input_problem(msg, "Check the year.")
    return day.isoformat()


def _time(_field: Field, raw: Value) -> Value:
    try:
        hour = time.fromisoformat(raw.strip() if isinstance(raw, str) else "")
    except ValueError:
        msg = f"“{raw}” is not a time of day"
        raise input_problem(msg, "Write hours and minutes, such as 09:30.") from None
    return hour.replace(second=0, microsecond=0, tzinfo=None).isoformat("minutes")


def _zone(field: Field, raw: Value) -> Value:
    name = _text(field, raw)
    if name not in available_timezones():
        msg = f"“{name}” is not a time zone"
        raise input_problem(msg, "Choose one such as Europe/London.")
    return name


def _person(field: Field, raw: Value) -> Value:
    given = {"label": raw} if isinstance(raw, str) else raw
    if not isinstance(given, dict) or not set(given) <= {"label", "client"}:
        raise input_problem("a person is a name, or someone from the list", "Write the name, or choose them.")
    label = _text(field, given.get("label") or "")
    client = given.get("client")
    if client is None:
        return {"label": label, "client": None}
    try:
        return {"label": label, "client": str(uuid.UUID(str(client)))}
    except ValueError:
        raise input_problem("this is not someone from the list", "Choose the person again.") from None


def _mark(field: Field, raw: Value) -> Value:
    if not isinstance(raw, dict) or not {"x", "y", "kind"} <= set(raw) <= {
        "x",
        "y",
        "kind",
        "degree",
        "side",
        "note",
    }:
        raise input_problem("a mark has a place and a kind", "Set the mark again.")
    if raw["kind"] not in field.choices or raw.get("side") not in (None, "near", "off", "middle"):
        msg = f"“{raw['kind']}” is not a kind of mark here"
        raise input_problem(msg, f"Use: {', '.join(field.choices)}.")
    place = Field(name=field.name, words=field.words, low=0, high=1)
    degree = Field(name=field.name, words=field.words, low=0, high=3)
    return {
        "x": _number(place, raw["x"]),
        "y": _number(place, raw["y"]),
        "kind": raw["kind"],
        "degree": _whole(degree, raw.get("degree") or 0),
        "side": raw.get("side"),
        "note": _text(field, raw.get("note") or ""),
    }


def _marks(field: Field, raw: Value) -> Value:
    if not isinstance(raw, list) or len(raw) > _MOST_ITEMS:
        msg = f"marks are a list of at most {_MOST_ITEMS}"
        raise input_problem(msg, "Set the marks again.")
    return [_mark(field, one) for one in raw]


def _email(field: Field, raw: Value) -> Value:
    text = _text(field, raw)
    if not isinstance(text, str) or not _EMAIL.fullmatch(text):
        msg = f"“{text}” is not an e-mail address"
        raise input_problem(msg, "Write it as name@place.example.")
    return text


def _chip(field: Field, raw: Value) -> Value:
    return read_microchip(str(_text(field, raw))).code


def _ueln(field: Field, raw: Value) -> Value:
    return read_ueln(str(_text(field, raw))).code


_READERS: dict[Kind, Callable[[Field, Value], Value]] = {
    Kind.TEXT: _text,
    Kind.LONG_TEXT: _text,
    Kind.YES_NO: _yes_no,
    Kind.CHOICE: _choice,
    Kind.CHOICES: _choices,
    Kind.LIST: _list,
    Kind.NUMBER: _number,
    Kind.WHOLE: _whole,
    Kind.DATE: _date,
    Kind.TIME: _time,
    Kind.ZONE: _zone,
    Kind.PERSON: _person,
    Kind.MARKS: _marks,
    Kind.MICROCHIP: _chip,
    Kind.UELN: _ueln,
    Kind.HEIGHT: _height,
    Kind.EMAIL: _email,
}


def read_value(field: Field, raw: Value) -> Value:
    """Return the value of one field; an empty entry clears it and is None.

    Raises
    ------
    InputProblemsError
        If what was typed is not a value of this field; the problem names the field by its words.
    """
    blank = raw is None or (isinstance(raw, str) and not raw.strip())
    try:
        if blank and field.required:
            raise input_problem("is needed and was left empty", "Fill it in.")
        return None if blank else _READERS[field.kind](field, raw)
    except InputProblemsError as error:
        placed = [
            Problem(what=p.what, cure=p.cure, where=Where(field=field.words), weight=p.weight)
            for p in error.problems
        ]
        raise InputProblemsError(placed) from None


def read_all(fields: Mapping[str, Field], raw: Mapping[str, Value], *, new: bool) -> dict[str, Value]:
    """Return the values of several fields; a new record needs its required ones.

    Raises
    ------
    InputProblemsError
        With every problem of every field.
    """
    problems = [
        Problem(what="is not a field of this record", cure="Leave it out.", where=Where(field=name))
        for name in raw
        if name not in fields
    ]
    values: dict[str, Value] = {}
    for name, field in fields.items():
        if name not in raw and not (new and field.required):
            continue
        try:
            values[name] = read_value(field, raw.get(name))
        except InputProblemsError as error:
            problems += error.problems
    if problems:
        raise InputProblemsError(problems)
    return values
