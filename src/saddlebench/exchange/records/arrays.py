"""Arrays and types that hold them, as parts of a document; lengths are kept to 0.1 µm, directions to 1e-9."""

from typing import Annotated, Any, ClassVar, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import AfterValidator, BeforeValidator, ConfigDict, PlainSerializer, WithJsonSchema

from saddlebench.exchange.records.document import Part

LENGTH_DECIMALS = 4
DIRECTION_DECIMALS = 9
FARTHEST = 20000.0
"""Of lengths [mm] and of the areas that points stand for [mm²]: a picture of more cannot be made."""


def _floats(given: object) -> object:
    """Turn lists of numbers into an array; null stands for a number that is not known."""
    if isinstance(given, np.ndarray):
        return given
    try:
        held = np.array(given, dtype=float)
    except (TypeError, ValueError) as error:
        msg = "must be a list of numbers, or of lists of numbers that are all equally long"
        raise ValueError(msg) from error
    if isinstance(given, str) or held.ndim == 0 or np.isinf(held).any():
        msg = "must be a list of finite numbers"
        raise ValueError(msg)
    held.flags.writeable = False
    return held


def _all_known(held: NDArray[np.float64]) -> NDArray[np.float64]:
    if not np.isfinite(held).all():
        msg = "must be a list of numbers without gaps"
        raise ValueError(msg)
    return held


def _near(held: NDArray[np.float64]) -> NDArray[np.float64]:
    if held.size and np.abs(held).max() > FARTHEST:
        msg = f"must be numbers of no more than {FARTHEST:g}: nothing about a horse is larger"
        raise ValueError(msg)
    return held


def _rounded(decimals: int) -> Any:
    def dump(array: NDArray[np.float64]) -> Any:
        return _without_gaps(np.round(array, decimals).tolist())

    return dump


def _without_gaps(value: Any) -> Any:
    if isinstance(value, list):
        return [_without_gaps(part) for part in value]
    # x − x is 0 for finite numbers only.
    return value if value - value == 0.0 else None


def _integers(given: object) -> object:
    if isinstance(given, np.ndarray):
        return given
    if not isinstance(given, list) or not all(isinstance(v, int) and abs(v) < 2**31 for v in given):
        msg = "must be a list of whole numbers"
        raise ValueError(msg)
    held = np.array(given, dtype=np.int32)
    held.flags.writeable = False
    return held


def _bits(given: object) -> object:
    if isinstance(given, np.ndarray):
        return given
    if not isinstance(given, str) or set(given) - {"0", "1"}:
        msg = "must be text of the digits 0 and 1"
        raise ValueError(msg)
    held = np.array([digit == "1" for digit in given], dtype=bool)
    held.flags.writeable = False
    return held


def _schema(item: str | list[str], *, rows: bool) -> WithJsonSchema:
    numbers: dict[str, Any] = {"type": "array", "items": {"type": item}}
    return WithJsonSchema({"type": "array", "items": numbers} if rows else numbers)


_Floats = Annotated[NDArray[np.float64], BeforeValidator(_floats)]
_Known = Annotated[_Floats, AfterValidator(_all_known)]
_Near = Annotated[_Known, AfterValidator(_near)]
_LENGTHS, _DIRECTIONS = (
    PlainSerializer(_rounded(LENGTH_DECIMALS)),
    PlainSerializer(_rounded(DIRECTION_DECIMALS)),
)
_GAPPY = ["number", "null"]

Lengths = Annotated[_Near, _LENGTHS, _schema("number", rows=False)]
"""(n,) mm, mm²."""
LengthRows = Annotated[_Near, _LENGTHS, _schema("number", rows=True)]
"""(n, k) mm."""
Direction = Annotated[_Known, _DIRECTIONS, _schema("number", rows=False)]
DirectionRows = Annotated[_Known, _DIRECTIONS, _schema("number", rows=True)]
"""(n, 3) unit vectors, or a rotation."""
Field = Annotated[_Floats, _LENGTHS, _schema(_GAPPY, rows=False)]
"""(n,) mm, kPa: a solved field; null where it is not known."""
FieldRows = Annotated[_Floats, _LENGTHS, _schema(_GAPPY, rows=True)]
Integers = Annotated[
    NDArray[np.int32],
    BeforeValidator(_integers),
    PlainSerializer(lambda array: array.tolist()),
    WithJsonSchema({"type": "array", "items": {"type": "integer"}}),
]
Bits = Annotated[
    NDArray[np.bool_],
    BeforeValidator(_bits),
    PlainSerializer(lambda array: "".join("1" if bit else "0" for bit in array.ravel())),
    WithJsonSchema({"type": "string", "pattern": "^[01]*$"}),
]
"""Yes and no, one digit each; a grid row by row."""


class Mirror(Part):
    """A part with the same fields as one of the engine's types."""

    model_config = ConfigDict(arbitrary_types_allowed=True)
    ENGINE: ClassVar[type]

    @classmethod
    def of(cls, held: Any) -> Self:
        """Return the part that holds an engine value."""
        return cls(**cls.given(held))

    @classmethod
    def given(cls, held: Any) -> dict[str, Any]:
        """Return an engine value's fields, parts in place of what needs one."""
        return {name: getattr(held, name) for name in cls.model_fields}

    def engine(self) -> Any:
        """Return the engine value."""
        return self.ENGINE(**self.fields())

    def fields(self) -> dict[str, Any]:
        """Return the engine value's fields."""
        return {name: getattr(self, name) for name in type(self).model_fields}
