"""How a report is set: for which reader, on which paper, under whose letterhead."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from saddlebench.exchange.drawings import Drawing, as_svg
from saddlebench.exchange.drawings.findings import VERDICT_COLOURS
from saddlebench.exchange.drawings.ink import drawable
from saddlebench.exchange.letterhead import Letterhead
from saddlebench.exchange.readers import Language, Reader
from saddlebench.exchange.vocabulary import AMERICAN, said, spoken

LONGEST_LABEL = 70


class Paper(StrEnum):
    """Sizes of paper."""

    A4 = "a4"
    LETTER = "us-letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height: ISO 216; ANSI/ASME Y14.1 size A, 8.5 by 11 inches."""
        return (210.0, 297.0) if self is Paper.A4 else (215.9, 279.4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """Something that stands at the head of a report: “Horse: Juniper”."""

    name: str
    """In the program's own words."""
    value: str
    """As written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """For whom, on what, and under which letterhead."""

    reader: Reader = field(default_factory=Reader)
    paper: Paper = Paper.A4
    letterhead: Letterhead | None = None
    facts: tuple[Fact, ...] = ()


def shared_contents(setting: Setting, title: str, cautions: tuple[str, ...], footer: str) -> dict[str, Any]:
    """Return what every report's template takes; to be called while speaking to the reader."""
    head = setting.letterhead
    return {
        "title": title,
        "author": head.name if head else "saddlebench",
        "language": setting.reader.language,
        "region": region_of(setting.reader),
        "paper": setting.paper,
        "hues": {str(verdict): colour for verdict, colour in VERDICT_COLOURS.items()},
        "letterhead": None
        if head is None
        else {
            "name": head.name,
            "lines": list(head.lines),
            "logo": bool(head.logo),
        },
        "facts": [{"name": said(fact.name), "value": fact.value} for fact in setting.facts],
        "cautions": [said(caution) for caution in cautions],
        "footer": footer,
    }


def shared_words() -> dict[str, Any]:
    """Return the words that every report has."""
    return {"cautions": said("Cautions"), "page": said("page"), "of": said("of")}


def pictures_in(setting: Setting) -> dict[str, bytes]:
    """Return the letterhead's pictures by the names that the template gives them."""
    head = setting.letterhead
    return {"logo.png": head.logo} if head is not None and head.logo else {}


def drawn(drawings: Mapping[str, Drawing | None]) -> dict[str, dict[str, str]]:
    """Return drawings as the templates take them, each with what it shows in words."""
    return {
        name: {"svg": as_svg(one), "alt": drawable(f"{one.title}. {one.description}")}
        for name, one in drawings.items()
        if one is not None
    }


def region_of(reader: Reader) -> str:
    """Return the region whose typesetting a reader is used to."""
    if reader.language is Language.GERMAN:
        return "DE"
    return "US" if spoken() == AMERICAN else "GB"
