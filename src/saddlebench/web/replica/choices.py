"""What is chosen for each part of a kit: the forms' fields, and the requests that they make.

The values are plain, so that they can stand in an address and wait in the queue.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from django.http import QueryDict

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.exchange.places import read_places
from saddlebench.practice.catalogue import Field, Kind, Value, read_value
from saddlebench.web.base.fields import text_of, typed_text, value_of

if TYPE_CHECKING:
    from saddlebench.engine.back.instruments import Instrument
    from saddlebench.exchange.readers import Reader
    from saddlebench.report.replica.kit import KitRequest, RibRequest, SolidRequest, TemplateRequest

Given = Mapping[str, Value]
TEMPLATES, RIBS, SOLID, KIT = "templates", "ribs", "solid", "kit"


def _mm(name: str, words: str, low: float, high: float) -> Field:
    return Field(name=name, words=words, kind=Kind.NUMBER, unit="mm", low=low, high=high)


_PAPER = Field(name="paper", words="Paper", kind=Kind.CHOICE, choices=("a4", "a3", "letter"))
_LANGUAGE = Field(name="language", words="Language", kind=Kind.CHOICE, choices=("english", "german"))
_LENGTHS = Field(
    name="lengths",
    words="Lengths in words (true size stays true)",
    kind=Kind.CHOICE,
    choices=("millimetres", "inches"),
)
_FORMS = Field(
    name="forms",
    words="Which: hollow lies on the horse, full in the saddle’s underside",
    kind=Kind.CHOICES,
    choices=("hollow", "full"),
)
_ACROSS = _mm("measured_across", "Check bar across the sheet, as it measures on a print", 90.0, 110.0)
_DOWN = _mm("measured_down", "Check bar down the sheet, as it measures on a print", 90.0, 110.0)
_AT = Field(name="at", words="At which places behind the shoulder mark, mm (empty: as usual)")
_BOARD = _mm("board", "Board: how thick", 0.2, 40.0)
_SHEET = (
    _mm("sheet_width", "Raw sheet: width", 100.0, 5000.0),
    _mm("sheet_height", "Raw sheet: height", 100.0, 5000.0),
)
_KERF = _mm("kerf", "Width of the cut (0: a knife)", 0.0, 10.0)
_BED = (
    _mm("bed_along", "Bed, along the back (empty: one piece)", 80.0, 5000.0),
    _mm("bed_across", "Bed, across it", 80.0, 5000.0),
    _mm("bed_high", "Bed, height", 80.0, 5000.0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOfKit:
    """One part of a kit, as the pages offer it."""

    name: str
    words: str
    hint: str
    fields: Mapping[str, Field]
    usual: Given
    seldom: tuple[str, ...] = ()
    """Fields that are out of the way until somebody wants them."""


def _part(
    name: str, words: str, hint: str, *fields: Field, usual: Given, seldom: tuple[str, ...] = ()
) -> PartOfKit:
    named = {one.name: one for one in fields}
    return PartOfKit(name=name, words=words, hint=hint, fields=named, usual=usual, seldom=seldom)


PARTS: Mapping[str, PartOfKit] = {
    one.name: one
    for one in (
        _part(
            TEMPLATES,
            "Templates",
            "Sections and topline at true size: PDF to print and cut out, SVG and DXF for a cutter.",
            _FORMS,
            _PAPER,
            _LANGUAGE,
            _LENGTHS,
            _mm("thickness", "Sheet they are cut from: how thick (0: paper)", 0.0, 40.0),
            _ACROSS,
            _DOWN,
            _AT,
            usual={
                "forms": ["hollow", "full"],
                "paper": "a4",
                "language": "english",
                "lengths": "millimetres",
                "thickness": 0.0,
            },
            seldom=("at",),
        ),
        _part(
            RIBS,
            "Ribs of board",
            "Numbered parts of card, plywood or foam board that push together, on sheets: SVG and DXF.",
            _BOARD,
            *_SHEET,
            _KERF,
            _LANGUAGE,
            _LENGTHS,
            _mm("play", "A slot is wider than the board is thick by", 0.0, 3.0),
            _mm("spacing", "Ribs stand at most so far apart", 10.0, 400.0),
            Field(name="beside", words="Lengthwise parts beside the midline, mm out (as “60, 110”)"),
            _AT,
            usual={
                "board": 3.0,
                "sheet_width": 1000.0,
                "sheet_height": 700.0,
                "kerf": 0.0,
                "language": "english",
                "lengths": "millimetres",
                "play": 0.2,
                "spacing": 70.0,
                "beside": "90",
            },
            seldom=("spacing", "beside", "at"),
        ),
        _part(
            SOLID,
            "A solid",
            "The back as a closed body on a flat base, to print or mill: 3MF, STL in mm, GLB to look at.",
            *_BED,
            _mm("wall", "Wall (0: solid throughout)", 0.0, 60.0),
            _mm("dowel", "Dowels between pieces: diameter", 2.0, 30.0),
            Field(name="engrave", words="Engrave midline, stations and marks", kind=Kind.YES_NO),
            usual={"wall": 6.0, "dowel": 8.0, "engrave": True},
            seldom=("dowel", "engrave"),
        ),
        _part(
            KIT,
            "The whole kit",
            "Everything at once in one file, with a page that says what is what.",
            _PAPER,
            _LANGUAGE,
            _LENGTHS,
            _ACROSS,
            _DOWN,
            _BOARD,
            *_SHEET,
            _KERF,
            *_BED,
            usual={
                "paper": "a4",
                "language": "english",
                "lengths": "millimetres",
                "board": 3.0,
                "sheet_width": 1000.0,
                "sheet_height": 700.0,
                "kerf": 0.0,
            },
        ),
    )
}


def read_choices(part: PartOfKit, posted: QueryDict) -> dict[str, Value]:
    """Return what a form or an address chose, the usual where it has no such field.

    Raises
    ------
    InputProblemsError
        With everything that is wrong with it.
    """
    problems: list[Problem] = []
    values: dict[str, Value] = dict(part.usual)
    for name, one in part.fields.items():
        typed = typed_text(posted, name)
        if typed is None:
            continue
        try:
            values[name] = read_value(one, value_of(one, typed))
        except InputProblemsError as error:
            problems += error.problems
    if problems:
        raise InputProblemsError(problems)
    return values


def query_of(given: Given) -> str:
    """Return choices as the query of an address, from which `read_choices` reads the same."""
    pairs: list[tuple[str, str]] = []
    for name, value in given.items():
        if isinstance(value, list):
            pairs += [(name, text_of(one)) for one in value]
        else:
            pairs.append((name, text_of(value)))
    return urlencode(pairs)


def reader_of(given: Given) -> "Reader":
    """Return for whom the papers are: the language, and mm or inches for what is said of lengths."""
    from saddlebench.engine.units import Length  # noqa: PLC0415
    from saddlebench.exchange.readers import Language, Reader  # noqa: PLC0415

    return Reader(
        language=Language.GERMAN if given.get("language") == "german" else Language.ENGLISH,
        length=Length.INCH if given.get("lengths") == "inches" else Length.MM,
    )


def templates_of(given: Given) -> "TemplateRequest":
    """Return which templates are wanted."""
    from saddlebench.engine.replica.templates import Form  # noqa: PLC0415
    from saddlebench.exchange.templates import PAPERS, print_scale_from  # noqa: PLC0415
    from saddlebench.report.replica.kit import TemplateRequest  # noqa: PLC0415

    forms = given.get("forms") or ["hollow", "full"]
    return TemplateRequest(
        distances_mm=_places(given, "at"),
        forms=tuple(Form(str(one)) for one in forms) if isinstance(forms, list) else tuple(Form),
        thickness_mm=_number(given, "thickness", 0.0),
        paper=PAPERS[str(given.get("paper") or "a4")],
        scale=print_scale_from(_known(given, "measured_across"), _known(given, "measured_down")),
    )


def ribs_of(given: Given) -> "RibRequest":
    """Return which ribs are wanted."""
    from saddlebench.engine.replica.ribs import RibChoices  # noqa: PLC0415
    from saddlebench.exchange.ribs import SheetChoices  # noqa: PLC0415
    from saddlebench.report.replica.kit import RibRequest  # noqa: PLC0415

    board = _number(given, "board", 3.0)
    beside = _places(given, "beside") if "beside" in given else (90.0,)
    return RibRequest(
        distances_mm=_places(given, "at"),
        ribs=RibChoices(
            thickness_mm=board,
            play_mm=_number(given, "play", 0.2),
            spacing_mm=_number(given, "spacing", 70.0),
            beside_mm=beside or (),
            inset_mm=max(15.0, 2.0 * board),
        ),
        sheets=SheetChoices(
            width_mm=_number(given, "sheet_width", 1000.0),
            height_mm=_number(given, "sheet_height", 700.0),
            kerf_mm=_number(given, "kerf", 0.0),
        ),
    )


def solid_of(given: Given) -> "SolidRequest":
    """Return which solid is wanted.

    Raises
    ------
    InputProblemsError
        If a bed is given in part.
    """
    from saddlebench.exchange.solids import SolidChoices  # noqa: PLC0415
    from saddlebench.report.replica.kit import SolidRequest  # noqa: PLC0415

    sides = [_known(given, one.name) for one in _BED]
    along, across, high = sides
    missing = [one.words for one, side in zip(_BED, sides, strict=True) if side is None]
    if missing and len(missing) < len(_BED):
        cure = "Give all three sides of the bed, or none for one piece."
        raise InputProblemsError(
            [Problem(what="is not given", cure=cure, where=Where(field=words)) for words in missing]
        )
    wall = _number(given, "wall", 6.0)
    return SolidRequest(
        solid=SolidChoices(
            bed_mm=None if along is None or across is None or high is None else (along, across, high),
            wall_mm=wall if wall > 0.0 else None,
            dowel_mm=_number(given, "dowel", 8.0),
            engrave=given.get("engrave") is not False,
        )
    )


def kit_of(given: Given, instruments: "tuple[Instrument, ...]", tolerance_mm: float) -> "KitRequest":
    """Return what a whole kit holds."""
    from saddlebench.report.replica.kit import KitRequest  # noqa: PLC0415

    return KitRequest(
        instruments=instruments,
        templates=templates_of(given),
        ribs=ribs_of(given),
        solid=solid_of(given),
        tolerance_mm=tolerance_mm,
    )


def check_choices(what: str, given: Given) -> None:
    """Refuse choices that do not go together, before anything is made of them.

    Raises
    ------
    InputProblemsError
        With what is wrong.
    """
    if what == TEMPLATES:
        templates_of(given)
    elif what == RIBS:
        ribs_of(given)
    elif what == SOLID:
        solid_of(given)
    else:
        kit_of(given, (), 2.0)


def _number(given: Given, name: str, usual: float) -> float:
    known = _known(given, name)
    return usual if known is None else known


def _known(given: Given, name: str) -> float | None:
    value = given.get(name)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _places(given: Given, name: str) -> tuple[float, ...] | None:
    words = next((p.fields[name].words for p in PARTS.values() if name in p.fields), name)
    value = given.get(name)
    return read_places(value, Where(field=words)) if isinstance(value, str) else None
