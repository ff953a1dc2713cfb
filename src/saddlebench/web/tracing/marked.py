"""Places marked on a photo: points to drag, or to move by keys, each with its two numbers beside it."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.http import QueryDict
from django.utils.translation import gettext

from saddlebench.engine.errors import Problem, Where
from saddlebench.engine.units import parse_number

Place = tuple[float, float]
Asked = tuple[str, str, float, float]
"""Key, words, and where it lies at first, in shares of the photo's width and height."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mover:
    """A place that can be moved."""

    key: str
    words: str
    x: str
    """As it is typed, in dots of the photo from its upper left corner."""
    y: str
    at_x: float
    """Where it is drawn [px]."""
    at_y: float

    @classmethod
    def of(
        cls, key: str, words: str, across: float, down: float, given: QueryDict, size_px: tuple[int, int]
    ) -> "Mover":
        """Return a place as it was given, else as it lies at first."""
        usual = (across * size_px[0], down * size_px[1])
        typed = [given.get(f"{axis}-{key}", f"{value:.0f}") for axis, value in zip("xy", usual, strict=True)]
        at = [
            value if isinstance(value := parse_number(text, Where()), float) else other
            for text, other in zip(typed, usual, strict=True)
        ]
        return cls(key=key, words=gettext(words), x=typed[0], y=typed[1], at_x=at[0], at_y=at[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """A photo and what is marked on it."""

    photo_url: str
    size_px: tuple[int, int]
    movers: tuple[Mover, ...]
    lines: tuple[tuple[str, str], ...]
    """Keys of the places that a line joins, with spaces between; and the line's style."""

    @property
    def drawn(self) -> tuple[tuple[str, str, str], ...]:
        """The lines: keys, style, and the polyline's points."""
        at = {one.key: f"{one.at_x:.1f},{one.at_y:.1f}" for one in self.movers}
        return tuple((keys, style, " ".join(at[key] for key in keys.split())) for keys, style in self.lines)

    @property
    def reach(self) -> int:
        """Radius of what a finger takes hold of [px of the photo]."""
        return max(self.size_px) // 36

    @property
    def dot(self) -> int:
        """Radius of what is seen of it [px of the photo]."""
        return max(self.size_px) // 130


def marked_places(
    posted: QueryDict, asked: Sequence[Asked], size_px: tuple[int, int], problems: list[Problem]
) -> dict[str, Place]:
    """Return the places of a form by their keys [px]; what is wrong is noted."""
    found = {}
    for key, words, *_ in asked:
        place = []
        named = {"place": gettext(words)}
        for axis, name, most in (
            ("x", gettext("%(place)s, across"), size_px[0]),
            ("y", gettext("%(place)s, down"), size_px[1]),
        ):
            where = Where(field=name % named)
            read = parse_number(posted.get(f"{axis}-{key}", ""), where)
            if isinstance(read, Problem):
                problems.append(read)
            elif not 0.0 <= read <= most:
                what = f"{read:g} lies outside the photo, which has {most} dots"
                problems.append(Problem(what=what, cure="Mark a place inside it.", where=where))
            else:
                place.append(read)
        if len(place) == 2:
            found[key] = (place[0], place[1])
    return found
