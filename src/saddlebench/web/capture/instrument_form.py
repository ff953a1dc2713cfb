"""An instrument's form: its fields by family, read from and put into its description."""

import copy
import re
from collections.abc import Mapping
from typing import Any

from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.units import parse_number
from saddlebench.exchange.instruments import instrument_from
from saddlebench.web.capture.instrument_fields import DEFAULTS, FORM_FIELDS, FormField

_PER_LINK = ("pad_along_mm", "pad_below_mm", "zero_deg", "joint_sd_deg")
_OTHER_ARMS = ("right", "topline")
_MOST_LINKS = 200


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
    plain = _without_twin(document)
    return {one.path: _text(one, at_path(plain, one.path)) for one in FORM_FIELDS[family]}


def _without_twin(document: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return a description without an off arm that is as the near one."""
    if document.get("right") != document.get("left"):
        return document
    return {name: held for name, held in document.items() if name != "right"}


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
    document: dict[str, Any] = (
        copy.deepcopy(dict(_without_twin(base))) if base.get("family") == family else {}
    )
    document["family"] = family
    shown = texts_of(family, document)
    problems: list[Problem] = []
    for field in FORM_FIELDS[family]:
        text = texts.get(field.path, "")
        if _is_outdated(field, text, shown, texts):
            text = ""
        read = _read(field, text)
        if isinstance(read, Problem):
            problems.append(read)
        elif read is not None or field.kind == "lengths" or not _is_list(document, field):
            put_at(document, field.path, read)
    if problems:
        raise InputProblemsError(problems)
    for arm in _OTHER_ARMS:
        _complete_arm(document, arm)
    _forget_joints(document, base)
    try:
        return document, instrument_from(document, "")
    except InputProblemsError as error:
        placed = [_placed(family, one) for one in error.problems]
        is_twin = "right" not in document
        raise InputProblemsError(
            [one for one in placed if not (is_twin and one.where.field.startswith("right."))]
        ) from error


def _is_outdated(field: FormField, text: str, shown: Mapping[str, str], texts: Mapping[str, str]) -> bool:
    """Tell whether a list for every link stands as it was while its links were changed."""
    arm, _, name = field.path.rpartition(".")
    if name not in _PER_LINK or field.kind != "lengths" or text != shown.get(field.path):
        return False
    links = f"{arm}.link_mm"
    now, was = (_lengths(held.get(links, ""), Where()) for held in (texts, shown))
    return isinstance(now, list) and isinstance(was, list) and len(now) != len(was)


def _complete_arm(document: dict[str, Any], arm: str) -> None:
    """Take an arm out of which nothing is said; else give it what it shares with the near one."""
    said = document.get(arm)
    names = {
        one.path.partition(".")[2] for one in FORM_FIELDS["jointed chain"] if one.path.startswith(f"{arm}.")
    }
    if not isinstance(said, dict) or not names & {name for name, value in said.items() if value is not None}:
        document.pop(arm, None)
        return
    near = document.get("left") or {}
    for name in ("link_mm", "scale", "joint_sd_deg", "zero_sd_deg"):
        shared = near.get(name)
        is_shared = name != "link_mm" or arm == "right"
        if shared is not None and is_shared and not (name == "joint_sd_deg" and isinstance(shared, list)):
            said.setdefault(name, copy.deepcopy(shared))


def _forget_joints(document: dict[str, Any], base: Mapping[str, Any]) -> None:
    """Take out errors stated for every joint of an arm that had another number of links."""
    for arm in ("left", *_OTHER_ARMS):
        links, before = at_path(document, f"{arm}.link_mm"), at_path(base, f"{arm}.link_mm")
        errors = at_path(document, f"{arm}.joint_sd_deg")
        if isinstance(errors, list) and links is not None and len(links) != len(before or ()):
            del document[arm]["joint_sd_deg"]


def _is_list(document: Mapping[str, Any], field: FormField) -> bool:
    return isinstance(at_path(document, field.path), list)


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
