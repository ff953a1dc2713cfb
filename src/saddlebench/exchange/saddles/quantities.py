"""Numbers of a saddle file: bare in the file's own unit of length, or as text with a unit of their own."""

import re
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationInfo, WithJsonSchema

from saddlebench.engine.errors import Problem, Where
from saddlebench.engine.units import Length, parse_number

_WITH_UNIT = re.compile(r"(?P<number>[^a-z°\"″]+?)\s*(?P<unit>[a-z]+|\"|″|°)?", re.IGNORECASE)
_LENGTHS = {
    **{unit.value: unit for unit in Length},
    '"': Length.INCH,
    "″": Length.INCH,
    "inch": Length.INCH,
    "inches": Length.INCH,
}
_NUMBER_OR_TEXT = {"anyOf": [{"type": "number"}, {"type": "string", "minLength": 1}]}


def _split(given: object) -> tuple[float, str]:
    """Return a number and the unit written after it, if any."""
    if isinstance(given, bool) or not isinstance(given, int | float | str):
        msg = "must be a number"
        raise ValueError(msg)  # noqa: TRY004 (only a ValueError becomes a field's fault)
    if not isinstance(given, str):
        return float(given), ""
    found = _WITH_UNIT.fullmatch(given.strip())
    read = parse_number(found["number"] if found else given, Where())
    if isinstance(read, Problem):
        raise ValueError(read.what)  # noqa: TRY004
    return read, ((found["unit"] if found else "") or "").lower()


def _length(given: object, info: ValidationInfo) -> float:
    number, written = _split(given)
    if written and written not in _LENGTHS:
        msg = f"“{written}” is not a unit of length; use mm, cm, m or in"
        raise ValueError(msg)
    unit = _LENGTHS[written] if written else (info.context or {}).get("lengths_in")
    if unit is None:
        msg = "has no unit: state lengths_in at the top of the file, or write the unit after the number"
        raise ValueError(msg)
    return number * unit.in_mm


def _plain(*units: str) -> BeforeValidator:
    def _read(given: object) -> float:
        number, written = _split(given)
        if written and written not in units:
            msg = f"has the unit “{written}” where {' or '.join(units) or 'none'} is meant"
            raise ValueError(msg)
        return number

    return BeforeValidator(_read)


Mm = Annotated[float, BeforeValidator(_length), WithJsonSchema(_NUMBER_OR_TEXT)]
"""A length; mm once read."""
Degrees = Annotated[float, _plain("°", "deg", "degrees"), WithJsonSchema(_NUMBER_OR_TEXT)]
Kilograms = Annotated[float, _plain("kg"), WithJsonSchema(_NUMBER_OR_TEXT)]
Inches = Annotated[float, _plain("in", '"', "″", "inch", "inches"), WithJsonSchema(_NUMBER_OR_TEXT)]
Plain = Annotated[float, _plain(), WithJsonSchema(_NUMBER_OR_TEXT)]


def without_unit(name: str) -> str:
    """Return the file's key for an engine's field: the unit is the file's, not the key's."""
    return name if name == "lengths_in" else re.sub(r"_(mm|deg|kg|in)$", "", name)


class Door(BaseModel):
    """A table of a saddle file; its attributes are named as in the engine, its keys without the unit."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, alias_generator=without_unit)

    def given(self) -> dict[str, Any]:
        """Return what the file states here, by the engine's names, without the tables below."""
        held = ((name, getattr(self, name)) for name in type(self).model_fields)
        return {
            name: value.values if isinstance(value, Several) else value
            for name, value in held
            if value is not None and (isinstance(value, Several) or not isinstance(value, Door))
        }


class Several(Door):
    """Values at several places of a saddle, named front to rear."""

    @property
    def values(self) -> tuple[float, ...]:
        """Front to rear."""
        return tuple(getattr(self, name) for name in type(self).model_fields)


class ThreeMm(Several):
    """Lengths at the points, at the waist and at the rear."""

    front: Mm
    waist: Mm
    rear: Mm


class WaistRearMm(Several):
    """Lengths at the waist and at the rear."""

    waist: Mm
    rear: Mm


class WaistRearDegrees(Several):
    """Angles at the waist and at the rear."""

    waist: Degrees
    rear: Degrees


class BarMm(Several):
    """Lengths at the front, the middle and the rear of a bar."""

    front: Mm
    middle: Mm
    rear: Mm


class BarDegrees(Several):
    """Angles at the front, the middle and the rear of a bar."""

    front: Degrees
    middle: Degrees
    rear: Degrees


class EndsMm(Several):
    """Lengths at the front end and at the rear end."""

    front: Mm
    rear: Mm


class ZonesMm(Several):
    """Lengths by zone."""

    front: Mm
    waist: Mm
    seat: Mm
    rear: Mm


class ZonesPlain(Several):
    """Plain numbers by zone."""

    front: Plain
    waist: Plain
    seat: Plain
    rear: Plain
