"""What stands on a yard card: the fields of a visit and of measuring a back, in the pages' own order."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from saddlebench.engine.back.instruments import Instrument, Scan
from saddlebench.engine.errors import input_problem
from saddlebench.exchange.instruments import example_instrument, example_names
from saddlebench.exchange.readers import Language, reader
from saddlebench.exchange.vocabulary import said
from saddlebench.practice.catalogue import VISIT_SADDLE_FIELDS, Field, Kind
from saddlebench.practice.phrases import choice_words
from saddlebench.report.yard_card import Answer, CardField, CardGroup, CardPart, CardStop, YardCard, boxes
from saddlebench.web.capture.asked import parts_of
from saddlebench.web.capture.parts import Asked, Part
from saddlebench.web.capture.planned import plan_values
from saddlebench.web.visit.path import ALL_FIELDS, SADDLE_PARTS, STEPS, STOP, Group, Step
from saddlebench.web.visit.stop_words import STOP_WORDS

_ANSWERS = {
    Kind.NUMBER: Answer.NUMBER,
    Kind.WHOLE: Answer.NUMBER,
    Kind.LONG_TEXT: Answer.LINES,
    Kind.LIST: Answer.LINES,
    Kind.MARKS: Answer.LINES,
    Kind.YES_NO: Answer.TICK,
    Kind.CHOICE: Answer.TICK,
    Kind.CHOICES: Answer.TICKS,
    Kind.DATE: Answer.DAY,
    Kind.TIME: Answer.HOUR,
}
_STEPS_OF_UNIT = {"cm": 0.1, "kg": 0.1}
"""To what a number is read where the catalogue does not say: what is in mm to the millimetre."""
_TOLD_APART = {
    "Seat": "Level of the seat",
    "Level": "Level, neither tipped nor leaning",
    "Back": "Backwards",
}
"""What means another thing elsewhere, where another language has a word for each."""
_UNITS_IN_WORDS = ("years", "div", "on the sheet")
_HEAD = ("label", "date", "starts_at", "zone", "purpose")
"""Of the visit itself: on the card's head, or known before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sections:
    """Where a back's sections are planned."""

    first_mm: float = -80.0
    apart_mm: float = 80.0
    count: int = 7
    by_chain: bool = False
    """Whether the topline is taken by the instrument's own chain, where it has one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Which parts of the work a card is for."""

    visit: bool = True
    back: bool = True
    saddle: bool = True


ALL = Wanted()


def yard_card(
    instrument: Instrument,
    sections: Sections = Sections(),
    wanted: Wanted = ALL,
    *,
    horse: str = "",
    day: str = "",
    number: str = "",
) -> YardCard:
    """Return the card for one visit with one instrument.

    Raises
    ------
    InputProblemsError
        If the instrument is not read by hand, or nothing is wanted.
    """
    parts = tuple(_parts(instrument, sections, wanted))
    if not parts:
        raise input_problem("nothing is to stand on the card", "Choose the visit, the back, or the saddle.")
    return YardCard(stops=card_stops(), parts=parts, horse=horse, day=day, number=number)


def card_stops() -> tuple[CardStop, ...]:
    """Return what ends a fitting, as the pages say it."""
    return tuple(
        CardStop(
            title=said(STOP_WORDS[name][0]),
            first=said(STOP_WORDS[name][1]),
            causes=tuple(_words_of(choice) for choice in ALL_FIELDS[name].choices),
        )
        for group in STOP.groups
        for name in group.fields
        if name in STOP_WORDS
    )


def _parts(instrument: Instrument, sections: Sections, wanted: Wanted) -> Iterator[CardPart]:
    for step in STEPS:
        if step.name == "back" and wanted.back:
            yield from back_parts(instrument, sections)
        if wanted.visit:
            yield from _step(step)
        if step.name == "saddles" and wanted.saddle:
            yield from _saddle()
    if wanted.visit:
        note = next(name for group in STOP.groups for name in group.fields if name not in STOP_WORDS)
        told = CardGroup(words="", fields=(_field(ALL_FIELDS[note]),))
        yield CardPart(words=said("If it was stopped"), groups=(told,))


def _step(step: Step) -> Iterator[CardPart]:
    groups = tuple(made for group in step.groups if (made := _group(group, step.fields)).fields)
    if groups:
        yield CardPart(words=said(step.words), groups=groups)


def _group(group: Group, fields: dict[str, Field]) -> CardGroup:
    ending = f", {group.words.lower()}"
    chosen = tuple(_field(fields[name], ending) for name in group.fields if name not in _HEAD)
    words = said(group.words)
    return CardGroup(words="" if chosen and chosen[0].words == words else words, fields=chosen)


def _saddle() -> Iterator[CardPart]:
    for i, part in enumerate(SADDLE_PARTS):
        fields = {name: VISIT_SADDLE_FIELDS[name] for name in part.fields}
        groups = tuple(_group(group, fields) for group in part.groups)
        name = CardGroup(words="", fields=(CardField(words=said("Which saddle")),))
        yield CardPart(
            words=said(f"Saddle: {part.words.lower()}"),
            groups=(name, *groups) if i == 0 else groups,
            detail=said("One for each saddle tried.") if i == 0 else "",
            starts_page=i == 0,
        )


def back_parts(instrument: Instrument, sections: Sections) -> Iterator[CardPart]:
    """Yield the parts of measuring a back, as the capture page asks them.

    Raises
    ------
    InputProblemsError
        If the instrument is not read by hand.
    """
    if isinstance(instrument, Scan):
        what = f"“{instrument.name}” is not read by hand, so there is nothing to write down"
        raise input_problem(what, "Choose the instrument that is taken along.")
    how = "chain" if sections.by_chain else "heights"
    values = plan_values(sections.first_mm, sections.apart_mm, sections.count, how)
    for i, part in enumerate(parts_of(instrument, values)):
        detail = said(part.detail)
        yield CardPart(
            words=said(f"The back: {part.words.lower()}" if i == 0 else part.words),
            groups=(CardGroup(words="", fields=tuple(_asked(one) for one in _on_paper(part))),),
            detail=f"{_name_of(instrument)}. {detail}" if i == 0 else detail,
        )


def _name_of(instrument: Instrument) -> str:
    """Return an instrument's name: those that come along told, one's own as it was written."""
    names = {example_instrument(name).name for name in example_names()}
    return said(instrument.name) if instrument.name in names else instrument.name


def _on_paper(part: Part) -> Sequence[Asked]:
    """Leave out the spare places of the topline: the card plans them."""
    return [one for one in part.asked if not (part.key == "topline" and not one.on_pad)]


def _asked(one: Asked) -> CardField:
    if one.kind == "number" and one.low is not None and one.high is not None:
        has_sign, digits, decimals = boxes(one.low, one.high, one.step)
        return CardField(
            words=said(one.words),
            answer=Answer.NUMBER,
            unit=_unit(one.unit),
            digits=digits,
            decimals=decimals,
            has_sign=has_sign,
            side=one.side,
        )
    choices = {"yes_no": (said("Yes"), said("No")), "choice": tuple(said(words) for _, words in one.choices)}
    if one.kind in choices:
        return CardField(words=said(one.words), answer=Answer.TICK, choices=choices[one.kind], side=one.side)
    return CardField(words=said(one.words), answer=Answer.LINES, side=one.side)


def _field(field: Field, ending: str = "") -> CardField:
    words = _told(field.words.removesuffix(ending))
    answer = _ANSWERS.get(field.kind, Answer.WORDS)
    if answer is Answer.NUMBER and field.low is not None and field.high is not None:
        step = 1.0 if field.kind is Kind.WHOLE else _STEPS_OF_UNIT.get(field.unit, 1.0)
        # A limit that is no whole number says that halves are read.
        step = min(step, 0.1) if field.low % 1.0 else step
        has_sign, digits, decimals = boxes(field.low, field.high, step)
        return CardField(
            words=words,
            answer=answer,
            unit=_unit(field.unit),
            digits=digits,
            decimals=decimals,
            has_sign=has_sign,
        )
    if field.kind is Kind.YES_NO:
        return CardField(words=words, answer=answer, choices=(said("Yes"), said("No")))
    if field.kind is Kind.MARKS:
        kinds = ", ".join(str(choice_words(choice)) for choice in field.choices).lower()
        return CardField(words=said(f"{field.words}: where, and what ({kinds})"), answer=answer)
    return CardField(words=words, answer=answer, choices=tuple(_words_of(choice) for choice in field.choices))


def _unit(unit: str) -> str:
    return said(unit) if unit in _UNITS_IN_WORDS else unit


def _words_of(choice: str) -> str:
    return _told(str(choice_words(choice)))


def _told(words: str) -> str:
    is_english = reader().language is Language.ENGLISH
    return said(words if is_english else _TOLD_APART.get(words, words))
