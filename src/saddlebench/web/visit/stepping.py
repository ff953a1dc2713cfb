"""Small parts of the steps: what comes after what, and what each step shows besides its fields."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from saddlebench.practice import queries
from saddlebench.practice.catalogue import Field, Value
from saddlebench.practice.catalogue.shots import Shot
from saddlebench.practice.enums import RecheckReason
from saddlebench.practice.estimates import RecheckWindow, recheck_window
from saddlebench.practice.queries.photos import PhotoShown
from saddlebench.practice.queries.visits import TriedSaddle, VisitPage
from saddlebench.practice.services import EntryResult
from saddlebench.web.base.access import PageRequest
from saddlebench.web.visit.answers import AnswerField, show_answer
from saddlebench.web.visit.marks import MarksShown, marks_shown
from saddlebench.web.visit.path import SADDLE_PARTS, STEPS, STOP
from saddlebench.web.visit.shared import Around, StopShown, shown_stops

Make = Callable[[str], AnswerField | None]
_ORDER = [one.name for one in STEPS]
_OFFERED = tuple(reason for reason in RecheckReason if reason is not RecheckReason.AS_AGREED)


def after(name: str) -> str:
    """Return the step after one; the last and the stops lead to the end."""
    if name == STOP.name:
        return "decision"
    at = _ORDER.index(name)
    return _ORDER[min(at + 1, len(_ORDER) - 1)]


def step_of(field: str) -> str:
    """Return the step that a field of the visit stands on."""
    return next((one.name for one in (*STEPS, STOP) if field in one.fields), "")


def just_saved(described: Field, result: EntryResult) -> AnswerField:
    """Return a field that was saved a moment ago."""
    shown = show_answer(described, None, value=result.value, seen=result.revision)
    return replace(shown, at=result.entered_at)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShotShown:
    """One shot of the list with the photos taken of it."""

    name: str
    words: str
    photos: tuple[PhotoShown, ...]


def shots_with_photos(shots: Sequence[Shot], photos: Sequence[PhotoShown]) -> list[ShotShown]:
    """Return the shot list with its photos, and at its end those of no shot in the list."""
    listed = {shot.name for shot in shots}
    rest = tuple(one for one in photos if one.shot not in listed)
    shown = [
        ShotShown(
            name=shot.name, words=shot.words, photos=tuple(one for one in photos if one.shot == shot.name)
        )
        for shot in shots
    ]
    return [*shown, ShotShown(name="", words="Anything else, and films", photos=rest)]


def mark_fields(page: VisitPage) -> list[MarksShown]:
    """Return palpation and muscle map as they are shown."""
    return [marks_shown(page, name) for name in ("palpation", "muscle")]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartState:
    """How much is written down in one part about a saddle."""

    name: str
    words: str
    filled: int
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedShown:
    """A saddle tried, with how far it is and what stops it."""

    tried: TriedSaddle
    parts: tuple[PartState, ...]
    stops: tuple[StopShown, ...]


def tried_shown(page: VisitPage) -> list[TriedShown]:
    """Return the saddles tried."""
    return [
        TriedShown(
            tried=one,
            parts=tuple(
                PartState(
                    name=part.name,
                    words=part.words,
                    filled=sum(one.answers[name].value not in (None, []) for name in part.fields),
                    of=len(part.fields),
                )
                for part in SADDLE_PARTS
            ),
            stops=shown_stops({k: v for k, v in one.stops.items() if k == "stops_do_not_ride"}),
        )
        for one in page.tried
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReasonOffered:
    """A reason to see a horse again, with when that is."""

    reason: RecheckReason
    window: RecheckWindow


def next_dates(shown: Around) -> dict[str, object]:
    """Return when the horse may be seen again, counted from this visit."""
    offered = [ReasonOffered(reason=one, window=recheck_window(shown.page.day, [one])) for one in _OFFERED]
    return {"reasons": offered, "state": str(shown.page.head.get("state"))}


def horses_asked(request: PageRequest) -> dict[str, object]:
    """Return the horses that match what was looked for, for a visit that began without one."""
    text: Value = request.GET.get("horse", "").strip()
    found = queries.find_horses(request.actor, str(text)).rows[:10] if text else ()
    return {"text": text, "rows": found}
