"""What is chosen for a pack, and what was gathered for it."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from saddlebench.exchange.packs.document import (
    BackPart,
    ChangePart,
    FilmPart,
    HorsePart,
    OrderPart,
    PhotoPart,
    PlanPart,
    SaddlePart,
    SaddleVersionPart,
    ShortlistPart,
    StudyPart,
    VisitPart,
    WorkPart,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkDone:
    """Something that was done, to be told in an answer."""

    on: date
    words: str
    saddle: uuids.UUID | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PackChoice:
    """What a person chose to hand over; the horses and saddles that records are of go with them."""

    horses: tuple[uuids.UUID, ...] = ()
    saddles: tuple[uuids.UUID, ...] = ()
    backs: tuple[uuids.UUID, ...] = ()
    studies: tuple[uuids.UUID, ...] = ()
    plans: tuple[uuids.UUID, ...] = ()
    """With the fit check, back and saddle that each was made for."""
    orders: tuple[uuids.UUID, ...] = ()
    """With the plan that each was written from."""
    visits: tuple[uuids.UUID, ...] = ()
    """What was seen and felt of the horse; nothing about people."""
    changes: tuple[uuids.UUID, ...] = ()
    """With every back that each compared."""
    shortlists: tuple[uuids.UUID, ...] = ()
    """Each of one horse; the saddles on it do not go with it."""
    photos: tuple[uuids.UUID, ...] = ()
    """Films too."""
    message: str = ""
    work_done: tuple[WorkDone, ...] = ()
    questions: tuple[str, ...] = ()
    answers: uuids.UUID | None = None
    """The pack that this one answers."""
    names_people: bool = False
    """Whether it says who recorded what; owners are never named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """Records ready to be packed, and their files by the names that they have in the pack."""

    horses: tuple[HorsePart, ...]
    saddles: tuple[SaddlePart, ...]
    backs: tuple[BackPart, ...]
    saddle_records: tuple[SaddleVersionPart, ...]
    studies: tuple[StudyPart, ...]
    plans: tuple[PlanPart, ...]
    orders: tuple[OrderPart, ...]
    visits: tuple[VisitPart, ...]
    changes: tuple[ChangePart, ...]
    shortlists: tuple[ShortlistPart, ...]
    photos: tuple[PhotoPart, ...]
    films: tuple[FilmPart, ...]
    work_done: tuple[WorkPart, ...]
    choice: PackChoice
    files: Mapping[str, bytes]
    local: Mapping[str, uuids.UUID] = field(default_factory=dict)
    """A pack's name of a record to the record here."""

    @property
    def label(self) -> str:
        """What the pack is called in a list: the horses, else the saddles in it."""
        names = [one.label for one in self.horses] or [one.label for one in self.saddles]
        more = f" and {len(names) - 3} more" if len(names) > 3 else ""
        return (", ".join(names[:3]) + more)[:200] or ("Answer" if self.choice.answers else "Message")
