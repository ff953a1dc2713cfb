"""A part of the measuring, and one thing that is asked in it."""

from dataclasses import dataclass

from saddlebench.engine.back.instruments import (
    Scale,
)

SIDES = ("near", "off")


SIDE_WORDS = {"near": "near (left)", "off": "off (right)", "middle": "middle", "": ""}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One thing that is asked."""

    name: str
    """Its entry's field: `s3r0/near/5`."""
    words: str
    kind: str = "number"
    """number, yes_no, choice or text."""
    side: str = ""
    """near, off, middle, or nothing."""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    step: float = 1.0
    """The smallest step that is read, in its unit."""
    on_pad: bool = True
    """Whether the number pad stops here; what is rarely needed stands in the list only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of the measuring: the marks, the topline, one section."""

    key: str
    words: str
    detail: str
    asked: tuple[Asked, ...]
    is_section: bool = False
    number: int = 0
    """Of a section: as the fitter counts, from the front."""
    repeat: int = 0

    @property
    def names(self) -> tuple[str, ...]:
        """The fields whose values are this part's."""
        return tuple(one.name for one in self.asked)


def unit_of(scale: Scale, plain: str) -> str:
    """Return a scale's unit: the plain one, or divisions where it is read in those."""
    return plain if abs(scale.per_division) == 1.0 else "div"
