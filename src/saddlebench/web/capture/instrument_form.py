"""An instrument's form: its fields by family, read from and put into its description."""

import copy
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.units import parse_number
from saddlebench.exchange.instruments import instrument_from

FAMILIES = ("jointed chain", "pin comb", "traced curve")
FAMILY_HINTS = {
    "jointed chain": "Rigid links laid over the ribs from the midline; the angle of every joint is read.",
    "pin comb": "A bar across the back with sliding pins; the depth of every pin is read.",
    "traced curve": "A flexible curve bent to the back and traced on paper; points of the tracing are read.",
}
_PER_LINK = ("pad_along_mm", "pad_below_mm", "zero_deg", "joint_sd_deg")
_MOST_LINKS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class FormField:
    """One field of the form."""

    path: str
    """Where it stands in the description: `left.scale.step`."""
    words: str
    unit: str = ""
    hint: str = ""
    kind: str = "number"
    """number, whole, lengths, text."""
    group: str = ""
    can_be_blank: bool = False


def _scale(before: str, unit: str, part: str) -> tuple[FormField, ...]:
    group = "The scale"
    return (
        FormField(
            path=f"{before}scale.per_division",
            words="One division is",
            unit=unit,
            group=group,
            hint=f"1 where {part} is read in {'degrees' if unit == '°' else 'mm'} itself.",
        ),
        FormField(path=f"{before}scale.lowest", words="Lowest reading", group=group),
        FormField(path=f"{before}scale.highest", words="Highest reading", group=group),
        FormField(path=f"{before}scale.step", words="Smallest step that is read", group=group),
    )


_NAME = FormField(path="name", words="What you call it", kind="text")
_ERRORS = "How far off a careful reading is (standard deviation)"
_ALONG = FormField(
    path="placing.along_mm", words="A section's place along the back", unit="mm", group=_ERRORS
)
_CONTACT = FormField(path="placing.contact_mm", words="Pressing into coat and skin", unit="mm", group=_ERRORS)
FORM_FIELDS: dict[str, tuple[FormField, ...]] = {
    "jointed chain": (
        _NAME,
        FormField(
            path="left.link_mm",
            words="Lengths of the links, joint to joint",
            unit="mm",
            kind="lengths",
            group="One arm",
            hint="From the midline outward, with blanks between: 30 30 30. Or 12 x 30.",
        ),
        FormField(
            path="left.first_joint_out_mm",
            words="First joint out from the midline",
            unit="mm",
            group="One arm",
        ),
        FormField(
            path="left.first_joint_up_mm", words="First joint above the skin", unit="mm", group="One arm"
        ),
        *_scale("left.", "°", "a joint"),
        FormField(
            path="left.joint_sd_deg",
            words="A joint",
            unit="°",
            group=_ERRORS,
            hint="Blank: as it stands for each joint, or 0.5.",
            can_be_blank=True,
        ),
        FormField(path="left.zero_sd_deg", words="A joint's zero", unit="°", group=_ERRORS),
        _ALONG,
        _CONTACT,
    ),
    "pin comb": (
        _NAME,
        FormField(path="n_pins", words="Number of pins", kind="whole", group="The comb"),
        FormField(path="pitch_mm", words="From pin to pin", unit="mm", group="The comb"),
        FormField(
            path="midline_pin",
            words="Pin over the midline",
            group="The comb",
            hint="Counted from the horse's left; 12.5 lies halfway between 12 and 13.",
        ),
        FormField(
            path="offset_mm",
            words="Height of its foot",
            unit="mm",
            group="The comb",
            hint="Blank where it has none, and its middle pin gives the height.",
            can_be_blank=True,
        ),
        *_scale("", "mm", "a pin"),
        FormField(path="pin_sd_mm", words="A pin", unit="mm", group=_ERRORS),
        FormField(path="zero_sd_mm", words="A pin's zero", unit="mm", group=_ERRORS),
        _ALONG,
        _CONTACT,
    ),
    "traced curve": (
        _NAME,
        FormField(
            path="mm_per_unit",
            words="One unit on the sheet is",
            unit="mm on the horse",
            group="The sheet",
            hint="1 for a tracing at full size read in mm.",
        ),
        FormField(path="step", words="Smallest step that is read", group="The sheet"),
        FormField(path="point_sd_mm", words="A point", unit="mm", group=_ERRORS),
        FormField(path="spring_back_sd_mm", words="The curve springs, when lifted", unit="mm", group=_ERRORS),
        _ALONG,
    ),
}
DEFAULTS: dict[str, Any] = {
    "left.first_joint_out_mm": 0.0,
    "left.first_joint_up_mm": 0.0,
    "left.scale.per_division": 1.0,
    "left.joint_sd_deg": 0.5,
    "left.zero_sd_deg": 0.3,
    "scale.per_division": 1.0,
    "pin_sd_mm": 0.5,
    "zero_sd_mm": 0.2,
    "mm_per_unit": 1.0,
    "step": 1.0,
    "point_sd_mm": 1.0,
    "spring_back_sd_mm": 3.0,
    "placing.along_mm": 3.0,
    "placing.contact_mm": 1.0,
}


def at_path(document: Mapping[str, Any], path: str) -> Any:
    """Return what stands at a place of a description; None where nothing does."""
    held: Any = document
    for part in path.split("."):
        held = held.get(part) if isinstance(held, Mapping) else None
    return held


def put_at(document: dict[str, Any], path: str, value: Any) -> None:
    """Put a value at a place of a description, or take it out where it is None."""
    *tables, last = path.split(".")
    held = document
    for part in tables:
        held = held.setdefault(part, {})
    if value is None:
        held.pop(last, None)
    else:
        held[last] = value


def texts_of(family: str, document: Mapping[str, Any]) -> dict[str, str]:
    """Return what stands in the form's fields for a description."""
    return {one.path: _text(one, at_path(document, one.path)) for one in FORM_FIELDS[family]}


def _text(field: FormField, value: Any) -> str:
    if value is None:
        usual = DEFAULTS.get(field.path)
        return "" if usual is None or field.can_be_blank else f"{usual:g}"
    if isinstance(value, list):
        # A list for every joint is kept as it is while the field is left blank.
        return " ".join(f"{one:g}" for one in value) if field.kind == "lengths" else ""
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def described(
    family: str, texts: Mapping[str, str], base: Mapping[str, Any]
) -> tuple[dict[str, Any], Instrument]:
    """Return the description that the form makes on top of another, and its instrument.

    Raises
    ------
    InputProblemsError
        With every field that cannot be read, and everything that the description lacks.
    """
    document: dict[str, Any] = copy.deepcopy(dict(base)) if base.get("family") == family else {}
    document["family"] = family
    links_before = len(at_path(document, "left.link_mm") or ())
    problems: list[Problem] = []
    for field in FORM_FIELDS[family]:
        read = _read(field, texts.get(field.path, ""))
        if isinstance(read, Problem):
            problems.append(read)
        elif read is not None or not _is_list(document, field):
            put_at(document, field.path, read)
    if problems:
        raise InputProblemsError(problems)
    links = at_path(document, "left.link_mm")
    if links is not None and len(links) != links_before:
        _forget_links(document)
    try:
        return document, instrument_from(document, "")
    except InputProblemsError as error:
        raise InputProblemsError([_placed(family, one) for one in error.problems]) from error


def _is_list(document: Mapping[str, Any], field: FormField) -> bool:
    return isinstance(at_path(document, field.path), list)


def _forget_links(document: dict[str, Any]) -> None:
    """Take out what was stated for every link of a chain that had another number of links."""
    document.pop("right", None)
    for name in _PER_LINK:
        if isinstance(at_path(document, f"left.{name}"), list):
            del document["left"][name]


def _placed(family: str, problem: Problem) -> Problem:
    """Return a problem of a description under the words of the form's field."""
    place = re.sub(r"\.\d+$", "", problem.where.field.removeprefix(f"{family}."))
    known = {one.path: one.words for one in FORM_FIELDS[family]}
    said = next((path for path in known if problem.what.startswith(f"{path} ")), "")
    field = place if place in known else said
    what = problem.what.removeprefix(f"{said} ") if said and field == said else problem.what
    return Problem(what=what, cure=problem.cure, where=Where(field=field))


def _read(field: FormField, text: str) -> Any:
    tidy, where = text.strip(), Where(field=field.path)
    if not tidy:
        if field.can_be_blank:
            return None
        return Problem(what="is not filled in", cure="Fill it in.", where=where)
    if field.kind == "text":
        return tidy[:120]
    return _lengths(tidy, where) if field.kind == "lengths" else _number(field, tidy, where)


def _number(field: FormField, text: str, where: Where) -> float | int | Problem:
    read = parse_number(text, where)
    if isinstance(read, Problem) or field.kind != "whole":
        return read
    if read % 1 or abs(read) > 10_000:
        return Problem(what=f"“{text[:20]}” is not a whole number", cure="Correct it.", where=where)
    return int(read)


def _lengths(text: str, where: Where) -> list[float] | Problem:
    many = re.fullmatch(r"(\d{1,3})\s*[x×*]\s*(\S+)", text)
    words = [many[2]] * min(int(many[1]), _MOST_LINKS + 1) if many else re.split(r"[\s;]+", text.strip("; "))
    if len(words) > _MOST_LINKS:
        return Problem(what="there are too many links", cure="Write the lengths of one arm.", where=where)
    found = [parse_number(word, where) for word in words]
    return next(
        (one for one in found if isinstance(one, Problem)), [one for one in found if isinstance(one, float)]
    )
