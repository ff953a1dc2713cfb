"""What the page of a pack shows of plans, work orders and visits."""

import datetime as dt
import re
from collections.abc import Iterator
from html import escape

from pydantic import JsonValue

from saddlebench.exchange.altering import others_of, signed_mm, work_lines
from saddlebench.exchange.packs.document import PackDocument, VisitPart
from saddlebench.exchange.packs.markup import Files, link, listed, read, rows, table
from saddlebench.exchange.readers import reader
from saddlebench.exchange.records import OrderDocument, PlanDocument, parse_document
from saddlebench.exchange.vocabulary import said

_UNIT = re.compile(r"_(mm|cm|kg|years)$")
_CHOICE = re.compile(r"[a-z][a-z0-9]*(?:_[a-z0-9]+)*")
"""A choice's name, as the program's forms have it; what people write has blanks, capitals or stops."""


def plans_told(document: PackDocument, files: Files) -> Iterator[str]:
    """Yield a section for each alteration plan: place by place what is to be done."""
    for part in document.plans:
        held = parse_document(PlanDocument, read(files, part.version.file), part.version.file)
        lines = [
            [said(one.place), signed_mm(one.bench_mm), signed_mm(one.wanted_mm), said(one.how)]
            for one in work_lines(held.alteration)
        ]
        others = listed(escape(said(one)) for one in others_of(held.alteration))
        work = table(("place", "on the bench", "bedded in", "how"), lines) if lines else ""
        nothing = "" if lines or others else f"<p>{said('Nothing is to be altered.')}</p>"
        whole = link(part.version.file, said("The whole plan, as JSON"))
        yield (
            f"<section><h2>{said('Alteration plan')}: {escape(part.label)}</h2>"
            f"{work}{others}{nothing}<p>{whole}</p></section>"
        )


def orders_told(document: PackDocument, files: Files) -> Iterator[str]:
    """Yield a section for each work order: where it is, what is asked, what was done."""
    for part in document.orders:
        held = parse_document(OrderDocument, read(files, part.version.file), part.version.file)
        facts = rows(
            (
                ("state", said(held.state)),
                ("written on", reader().day(held.written_on)),
                ("due on", reader().day(held.due_on) if held.due_on else ""),
                ("Said last", part.said),
                ("price limit", held.price_limit),
                ("Notes", held.notes),
            )
        )
        lines = [
            [said(one.place), signed_mm(one.bench_mm), "" if one.done_mm is None else signed_mm(one.done_mm)]
            for one in held.work
        ]
        unsafe = listed(f"<strong>{escape(one)}</strong>" for one in held.unsafe_first)
        work = table(("place", "asked on the bench", "done"), lines) if lines else ""
        whole = link(part.version.file, said("The whole work order, as JSON"))
        yield (
            f"<section><h2>{said('Work order')}: {escape(part.label)}</h2>"
            f"{facts}{unsafe}{work}<p>{whole}</p></section>"
        )


def visits_told(document: PackDocument) -> Iterator[str]:
    """Yield a section for each visit, field by field."""
    horses = {one.uuid: one.label for one in document.horses}
    saddles = {one.uuid: one.label for one in document.saddles}
    for part in document.visits:
        tried = "".join(
            f"<h3>{said('Tried')}: {escape(saddles[one.saddle])}</h3>{_answers(one.answers)}"
            for one in part.tried
        )
        head = f"{horses[part.horse]}, {reader().day(part.day)}"
        yield f"<section><h2>{said('Visit')}: {escape(head)}</h2>{_about(part)}{tried}</section>"


def _about(part: VisitPart) -> str:
    return _answers({"title": part.label, **part.answers})


def _answers(answers: dict[str, JsonValue]) -> str:
    told = "".join(
        f'<tr><th scope="row">{escape(_field_words(name))}</th><td>{_shown(name, value)}</td></tr>'
        for name, value in answers.items()
        if value not in ("", None, [])
    )
    return f'<div class="wide"><table>{told}</table></div>' if told else ""


def _field_words(name: str) -> str:
    """Return what a field of a visit asks, from its name: `ridden.left.walk.lifts_behind`."""
    parts = [_UNIT.sub("", part).replace("_", " ") for part in name.split(".")]
    # On a rein the horse goes; a side of it is near or off.
    told = [said(f"{part} rein" if part in {"left", "right"} else part) for part in parts]
    words = ", ".join(told)
    return f"{words[:1].upper()}{words[1:]}"


def _shown(name: str, value: JsonValue) -> str:
    """Return a value as HTML: numbers with their unit, choices in words, what a person wrote as it is."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        unit = _UNIT.search(name)
        words = said(f"{value:g} {unit[1]}") if unit else reader().number(f"{value:g}")
        return escape(words)
    if isinstance(value, str) and not _CHOICE.fullmatch(value):
        return escape(_day_or_text(value))
    return escape(_value(value))


def _day_or_text(value: str) -> str:
    try:
        return reader().day(dt.date.fromisoformat(value))
    except ValueError:
        return value


def _value(value: JsonValue) -> str:
    if isinstance(value, bool):
        return said("yes") if value else said("no")
    if isinstance(value, list):
        return "; ".join(map(_value, value))
    if isinstance(value, dict):
        return ", ".join(f"{_field_words(name)}: {_value(held)}" for name, held in value.items())
    if isinstance(value, str):
        return said(value.replace("_", " ")) if _CHOICE.fullmatch(value) else value
    return "" if value is None else reader().number(f"{value:g}")
