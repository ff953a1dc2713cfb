"""Which state of a fit check is looked at: under which load, put or worked to."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from saddlebench.exchange.vocabulary import said
from saddlebench.web.base.checks.pictures import HALT, PLACES, PUT

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import FitStudy
    from saddlebench.exchange.drawings import Scene

WORDS: Mapping[str, Promise] = {
    "placed": _("Placed, without a girth"),
    "girthed": _("Girthed, without a rider"),
    "halt": _("Rider up, at halt"),
    "100 N on the pommel": _("Hand test: pressed on the pommel"),
    "trot, peak": _("Trot, greatest load"),
    "back lifted": _("Back lifted by hand"),
}
PLACE_WORDS: Mapping[str, Promise] = {"put": _("where it is put"), "works": _("where it works to")}
_BEYOND_MM, _STEP_MM = 60.0, 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What a page looks at."""

    case: str = HALT
    place: str = "put"

    @property
    def position(self) -> str:
        """The place by the engine's name."""
        return PLACES[self.place]

    @property
    def query(self) -> str:
        """The part of an address that says so."""
        return urlencode({"state": self.case, "place": self.place})

    @property
    def words(self) -> str:
        """What is looked at, in words."""
        return f"{_case_words(self.case)}, {PLACE_WORDS[self.place]}"


def look_of(given: Mapping[str, str], study: "FitStudy") -> Look:
    """Return what an address asks to look at; the usual where it asks for what there is not."""
    case = given.get("state", HALT)
    known = {step.case.name for step in study.settlement.steps}
    place = given.get("place", "put")
    return Look(case=case if case in known else HALT, place=place if place in PLACES else "put")


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseChoice:
    """A load case that can be looked at."""

    name: str
    words: str


def cases_of(study: "FitStudy") -> tuple[CaseChoice, ...]:
    """Return the load cases of a check in the order in which they were reached."""
    names = dict.fromkeys(step.case.name for step in study.settlement.steps if step.position.value == PUT)
    return tuple(CaseChoice(name=name, words=_case_words(name)) for name in names)


def _case_words(name: str) -> str:
    return str(WORDS[name]) if name in WORDS else said(name.capitalize())


@dataclass(frozen=True, slots=True, kw_only=True)
class Slide:
    """Where sections can be cut: the ends of a slider, and the places worth a button."""

    first: int
    last: int
    step: int
    at: int
    places: tuple[tuple[str, int], ...]


def slide_of(scene: "Scene", asked: str) -> Slide:
    """Return the slider of one state, at the place asked for, else at the front arch."""
    from saddlebench.exchange.drawings import key_places  # noqa: PLC0415
    from saddlebench.exchange.drawings.geometry import saddle_reach  # noqa: PLC0415

    front, rear = saddle_reach(scene)
    grid = scene.surface.grid.s_mm
    first = max(front - _BEYOND_MM, float(grid[0]))
    last = min(rear + _BEYOND_MM, float(grid[-1]))
    places = tuple(
        (said(one.name), round(one.s_mm)) for one in key_places(scene) if first <= one.s_mm <= last
    )
    first, last = _STEP_MM * round(first / _STEP_MM), _STEP_MM * round(last / _STEP_MM)
    usual = places[0][1] if places else round((first + last) / 2)
    return Slide(
        first=int(first),
        last=int(last),
        step=int(_STEP_MM),
        at=int(min(max(place_in(asked, usual), first), last)),
        places=places,
    )


def place_in(asked: str, usual: float) -> float:
    """Return a place along the back [mm] as an address gives it; the usual one where it is none."""
    text = asked.strip()
    digits = text.removeprefix("-")
    return float(text) if digits.isascii() and digits.isdigit() and len(digits) < 5 else usual
