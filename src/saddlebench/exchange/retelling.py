"""The program's own finished sentences, told again in a reader's language and units.

Records hold sentences (why a number is missing, what a finding rests on), and records of years ago have to be
readable in another language too. So a sentence is recognised by the catalogue's templates, its parts are told
one by one, and names that people gave are left as written. The catalogues are gettext's; a message's
placeholders say by their names what stands there:

- `{number}`: a number; `{numbers}`: several, with commas
- `{quantity}`: a number, or two, with a unit
- `{mm}`: millimetres whose unit stands elsewhere in the sentence
- `{day}`: a day, “3 May 2026”
- `{words}`: words of the program's own, told in their turn
- `{name}`: what people wrote, never touched

Digits at the end tell placeholders of one kind apart: `{number2}`.
"""

import datetime as dt
import gettext
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files

from saddlebench.engine.days import MONTHS
from saddlebench.engine.units import Length
from saddlebench.exchange.readers import DAY, INCH_SIGN, NUMBER, PLACE, QUANTITY, Language, Reader

DOMAIN = "saddlebench"
_SPACES = re.compile(r"[ \u00a0]+")
_KINDS = {
    "number": NUMBER.pattern,
    "mm": NUMBER.pattern,
    "numbers": rf"{NUMBER.pattern}(?:, {NUMBER.pattern})*",
    "quantity": QUANTITY.pattern.replace("(", "(?:").replace("(?:?", "(?"),
    "day": DAY.pattern.replace("(", "(?:"),
    "words": ".+?",
    "name": ".+?",
}
PLACEHOLDER = re.compile(r"\{(" + "|".join(sorted(_KINDS, key=len, reverse=True)) + r")(\d*)\}")
_JOINTS = ("\n", ". ", "; ", ": ", ", ")
_MOST_SPLITS = 40


@dataclass(frozen=True, slots=True)
class _Template:
    pattern: re.Pattern[str]
    told: str


@dataclass(frozen=True, slots=True)
class _Book:
    """One reader's catalogue."""

    exact: dict[str, str]
    templates: tuple[_Template, ...]


def retold(text: str, reader: Reader) -> str:
    """Return the program's own words as a reader has them; those the catalogue lacks as they are."""
    told = _told(text, reader)
    if told is not None:
        return told
    noted = _missed.get()
    if noted is not None:
        noted.append(text)
    return reader.quantities(text)


def retold_where_known(text: str, reader: Reader) -> str:
    """Return words that may be a person's own as a reader has them, where they are known."""
    return _told(text, reader) or text


_missed: ContextVar[list[str] | None] = ContextVar("missed", default=None)


@contextmanager
def noting_missed() -> Iterator[list[str]]:
    """Gather the words for which a catalogue had nothing while this lasts."""
    missed: list[str] = []
    token = _missed.set(missed)
    try:
        yield missed
    finally:
        _missed.reset(token)


@cache
def messages(language: Language) -> dict[str, str]:
    """Return a language's messages, by their English."""
    folder = files("saddlebench.exchange").joinpath("locale", language.value, "LC_MESSAGES", f"{DOMAIN}.mo")
    with folder.open("rb") as held:
        # The standard library's reader keeps what it read in this one place.
        catalogue: dict[str, str] = vars(gettext.GNUTranslations(held))["_catalog"]
    return {english: told for english, told in catalogue.items() if english}


@cache
def _book(reader: Reader) -> _Book:
    pairs = messages(Language.GERMAN)
    if reader.language is Language.ENGLISH:
        pairs = {english: english for english in pairs}
    exact, templates = {}, []
    for english, told in pairs.items():
        if PLACEHOLDER.search(english):
            templates.append(_Template(_pattern(english), _literal_quantities(told, reader)))
        else:
            exact[english] = reader.quantities(told)
    templates.sort(key=lambda one: -len(PLACEHOLDER.sub("", one.told)))
    return _Book(exact, tuple(templates))


def _pattern(english: str) -> re.Pattern[str]:
    parts, at = [], 0
    for found in PLACEHOLDER.finditer(english):
        literal = re.escape(english[at : found.start()]).replace(r"\ ", "[ \u00a0]")
        parts += [literal, f"(?P<{found[1]}{found[2]}>{_KINDS[found[1]]})"]
        at = found.end()
    return re.compile("".join([*parts, re.escape(english[at:]).replace(r"\ ", "[ \u00a0]")]))


def _literal_quantities(told: str, reader: Reader) -> str:
    if reader.length is Length.INCH:
        told = re.sub(r"(\{mm\d*\}) mm", rf"\1{INCH_SIGN}", told)
    parts = PLACEHOLDER.split(told)
    parts[::3] = [reader.quantities(literal) for literal in parts[::3]]
    literals, kinds, digits = parts[::3], parts[1::3], parts[2::3]
    held = [
        f"{literal}{{{kind}{digit}}}" for literal, kind, digit in zip(literals, kinds, digits, strict=False)
    ]
    return "".join([*held, literals[-1]])


@lru_cache(maxsize=8192)
def _told(text: str, reader: Reader) -> str | None:
    """Return the text as told, or None where the catalogue does not have all of it."""
    whole = _whole(text, reader)
    if whole is not None or not text:
        return whole
    if text[-1] in ".?!" and (short := _told(text[:-1], reader)) is not None:
        return f"{short}{text[-1]}"
    if text[0].isupper():
        lower = _whole(f"{text[0].lower()}{text[1:]}", reader)
        if lower is not None:
            return f"{lower[:1].upper()}{lower[1:]}"
    return _joined(text, reader)


def _whole(text: str, reader: Reader) -> str | None:
    book = _book(reader)
    plain = _SPACES.sub(" ", text)
    if plain in book.exact:
        return book.exact[plain]
    if not any(character.isalpha() for character in plain):
        return reader.number(reader.quantities(text))
    if QUANTITY.fullmatch(text):
        return reader.quantities(text)
    if DAY.fullmatch(text):
        return _day(text, reader)
    for template in book.templates:
        found = template.pattern.fullmatch(text)
        if found is not None and (filled := _filled(template.told, found, reader)) is not None:
            return filled
    return None


def _filled(told: str, found: re.Match[str], reader: Reader) -> str | None:
    parts: dict[str, str] = {}
    values = found.groupdict()
    for held in PLACEHOLDER.finditer(told):
        placeholder = f"{held[1]}{held[2]}"
        is_place = PLACE.match(told, held.end()) is not None
        one = _part(held[1], values[placeholder], reader, is_place=is_place)
        if one is None:
            return None
        parts[placeholder] = one
    return PLACEHOLDER.sub(lambda held: parts[f"{held[1]}{held[2]}"], told)


def _part(kind: str, value: str, reader: Reader, *, is_place: bool) -> str | None:
    if kind == "name":
        return value
    if kind == "number":
        return reader.number(value)
    if kind == "mm":
        return reader.millimetres(value, is_place=is_place)
    if kind == "quantity":
        return reader.quantities(value, is_place=is_place)
    if kind == "day":
        return _day(value, reader)
    return value if kind == "numbers" else _told(value, reader)


def _day(value: str, reader: Reader) -> str:
    day, month, year = DAY.fullmatch(value).groups()  # type: ignore[union-attr]
    return reader.day(dt.date(int(year), MONTHS.index(month) + 1, int(day)))


def _joined(text: str, reader: Reader) -> str | None:
    """Return a row of words that the catalogue has one by one, parted where the two sides are both told."""
    for joint in _JOINTS:
        places = [found.start() for found in re.finditer(re.escape(joint), text)]
        for place in places[:_MOST_SPLITS]:
            first = _told(text[:place], reader)
            if first is None:
                continue
            rest = _told(text[place + len(joint) :], reader)
            if rest is not None:
                return f"{first}{joint}{rest}"
    return None
