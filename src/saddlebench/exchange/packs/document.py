"""What a pack says of itself: from whom, to whom, which records, which files. One JSON document, `pack.json`.

Records are named by the uuid that they had where they were first recorded, so that they are known again
however often they travel.
"""

import datetime as dt
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, JsonValue

from saddlebench.engine.errors import Where, input_problem
from saddlebench.exchange.records.document import Document, Part

Uuid = Annotated[str, Field(pattern=r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$")]
Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Words = Annotated[str, Field(max_length=200)]
Named = Annotated[str, Field(min_length=1, max_length=200)]
Text = Annotated[str, Field(max_length=10_000)]
File = Annotated[str, Field(min_length=1, max_length=200, pattern=r"^[A-Za-z0-9][A-Za-z0-9._/-]*$")]
KeyLine = Annotated[str, Field(max_length=400)]
Moment = Annotated[str, Field(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?(Z|[+-]\d\d:\d\d)$")]
Question = Annotated[str, Field(min_length=1, max_length=2000)]
Answers = Annotated[
    dict[Annotated[str, Field(min_length=1, max_length=80)], JsonValue], Field(max_length=600)
]
MOST_RECORDS = 500
MOST_PHOTOS = 400
MOST_FILMS = 40
MOST_ENCLOSED = 1500


class SenderPart(Part):
    """Who sends it."""

    practice: Uuid
    label: Named
    person: Words = ""
    key: KeyLine
    """The public key that the pack is signed with."""


class RecipientPart(Part):
    """To whom it is closed; left out where everybody may read it."""

    label: Words = ""
    key: KeyLine


class HorsePart(Part):
    """A horse, with what fitting needs; nothing about its owner."""

    uuid: Uuid
    label: Named
    registered_name: Words = ""
    microchip: Annotated[str, Field(max_length=15)] = ""
    ueln: Annotated[str, Field(max_length=15)] = ""
    born_in: Annotated[int, Field(ge=1900, le=2200)] | None = None
    breed_type: Annotated[str, Field(max_length=16)] = ""
    breed: Words = ""
    colour: Words = ""
    height_cm: Annotated[float, Field(gt=0, le=300)] | None = None
    work: Annotated[str, Field(max_length=16)] = ""
    discipline: Words = ""
    rider_mass_kg: Annotated[float, Field(gt=0, le=300)] | None = None


class SaddlePart(Part):
    """A saddle, besides its measured record."""

    uuid: Uuid
    label: Named
    family: Annotated[str, Field(max_length=16)] = ""
    maker: Words = ""
    serial: Words = ""
    seat_size_in: Annotated[float, Field(gt=0, le=40)] | None = None
    colour: Words = ""
    made_in: Annotated[int, Field(ge=1800, le=2200)] | None = None


class VersionPart(Part):
    """A version of a record: the document as it was recorded, byte for byte, in a file of its own."""

    file: File
    sha256: Sha256
    number: Annotated[int, Field(ge=1, le=100_000)]
    recorded_at: Moment
    recorded_by: Words = ""
    """A person's name; left out unless the sender chose to name people."""
    engine_version: Annotated[str, Field(max_length=40)] = ""
    why: Words = ""


class BackPart(Part):
    """A back record."""

    uuid: Uuid
    horse: Uuid
    label: Named
    measured_on: dt.date
    version: VersionPart


class SaddleVersionPart(Part):
    """A saddle's measured record."""

    saddle: Uuid
    version: VersionPart


class StudyPart(Part):
    """A fit check, with the versions it was run on; both are in the pack."""

    uuid: Uuid
    label: Named
    back: Uuid
    back_sha256: Sha256
    saddle: Uuid
    saddle_sha256: Sha256
    version: VersionPart


class PlanPart(Part):
    """An alteration plan, with the run of the fit check that it was made from; that is in the pack."""

    uuid: Uuid
    label: Named
    study: Uuid
    study_sha256: Sha256
    version: VersionPart


class OrderPart(Part):
    """A work order as it stands, with the plan that it was written from; that is in the pack."""

    uuid: Uuid
    label: Named
    plan: Uuid
    said: Annotated[str, Field(max_length=500)] = ""
    """What was said when it last moved on."""
    mended: Annotated[tuple[Words, ...], Field(max_length=40)] = ()
    """Those of the unsafe things on it that are mended, in its words."""
    checked_mm: Annotated[tuple[float | None, ...], Field(max_length=100)] = ()
    """What was measured place by place when it came back."""
    version: VersionPart


class TriedPart(Part):
    """A saddle tried at a visit, with what was entered about it."""

    saddle: Uuid
    answers: Answers = Field(default_factory=dict)


class VisitPart(Part):
    """A visit's answers about the horse and its saddles; nothing in it is about people.

    Fields have the names that they have in the program's forms, lengths and weights the units in their names.
    """

    uuid: Uuid
    horse: Uuid
    label: Words = ""
    day: dt.date
    purpose: Annotated[str, Field(max_length=16)]
    answers: Answers = Field(default_factory=dict)
    tried: Annotated[tuple[TriedPart, ...], Field(max_length=100)] = ()


class ComparedPart(Part):
    """A version of a back that a change study compared; it is in the pack."""

    back: Uuid
    sha256: Sha256


class ChangePart(Part):
    """A change study, with the versions of backs that it compared; all of them are in the pack."""

    uuid: Uuid
    horse: Uuid
    label: Named
    backs: Annotated[tuple[ComparedPart, ...], Field(min_length=2, max_length=100)]
    """In the order of their days."""
    version: VersionPart


class ShortlistPart(Part):
    """Saddles that were found to suit a horse; the saddles themselves need not be in the pack."""

    uuid: Uuid
    horse: Uuid
    label: Named
    version: VersionPart


class PhotoPart(Part):
    """A picture; the place where it was taken is not in it."""

    uuid: Uuid
    file: File
    sha256: Sha256
    media_type: Literal["image/jpeg", "image/png", "image/webp"]
    horse: Uuid | None = None
    saddle: Uuid | None = None
    shot: Annotated[str, Field(max_length=48)] = ""
    label: Words = ""
    day: dt.date
    taken_at: Moment | None = None


class FilmPart(Part):
    """A short film; place, names and device are not in it."""

    uuid: Uuid
    file: File
    sha256: Sha256
    media_type: Literal["video/mp4", "video/quicktime", "video/webm"]
    horse: Uuid | None = None
    saddle: Uuid | None = None
    shot: Annotated[str, Field(max_length=48)] = ""
    label: Words = ""
    day: dt.date


class WorkPart(Part):
    """Something that was done, as people say it."""

    on: dt.date
    words: Annotated[str, Field(min_length=1, max_length=2000)]
    saddle: Uuid | None = None
    """On which saddle; left out where it was on none of those in the pack."""


class EnclosedPart(Part):
    """A drawing, a document or a file of a replica kit: for people and workshops, not read back."""

    file: File
    words: Named


class PackDocument(Document):
    """What a handover pack holds, version 4.

    Version 1 had no `answers`, `work_done` and `questions`; version 2 had these, but no `plans`, `orders`,
    `visits` and `films`; version 3 had no `changes` and `shortlists`.
    """

    NAME: ClassVar[str] = "handover pack"
    VERSION: ClassVar[int] = 4

    format: Literal["saddlebench handover pack"] = "saddlebench handover pack"
    version: Literal[4] = 4
    uuid: Uuid
    made_at: Moment
    program_version: Annotated[str, Field(max_length=80)]
    sender: SenderPart
    recipient: RecipientPart | None = None
    answers: Uuid | None = None
    """The pack that this one answers."""
    message: Text = ""
    work_done: Annotated[tuple[WorkPart, ...], Field(max_length=MOST_RECORDS)] = ()
    questions: Annotated[tuple[Question, ...], Field(max_length=100)] = ()
    horses: Annotated[tuple[HorsePart, ...], Field(max_length=MOST_RECORDS)] = ()
    saddles: Annotated[tuple[SaddlePart, ...], Field(max_length=MOST_RECORDS)] = ()
    backs: Annotated[tuple[BackPart, ...], Field(max_length=MOST_RECORDS)] = ()
    saddle_records: Annotated[tuple[SaddleVersionPart, ...], Field(max_length=MOST_RECORDS)] = ()
    studies: Annotated[tuple[StudyPart, ...], Field(max_length=MOST_RECORDS)] = ()
    plans: Annotated[tuple[PlanPart, ...], Field(max_length=MOST_RECORDS)] = ()
    orders: Annotated[tuple[OrderPart, ...], Field(max_length=MOST_RECORDS)] = ()
    visits: Annotated[tuple[VisitPart, ...], Field(max_length=MOST_RECORDS)] = ()
    changes: Annotated[tuple[ChangePart, ...], Field(max_length=MOST_RECORDS)] = ()
    shortlists: Annotated[tuple[ShortlistPart, ...], Field(max_length=MOST_RECORDS)] = ()
    photos: Annotated[tuple[PhotoPart, ...], Field(max_length=MOST_PHOTOS)] = ()
    films: Annotated[tuple[FilmPart, ...], Field(max_length=MOST_FILMS)] = ()
    enclosed: Annotated[tuple[EnclosedPart, ...], Field(max_length=MOST_ENCLOSED)] = ()
    cautions: Annotated[tuple[Text, ...], Field(max_length=20)] = ()

    def versions(self) -> tuple[VersionPart, ...]:
        """Return every version of every record in the pack."""
        return (
            *(one.version for one in self.backs),
            *(one.version for one in self.saddle_records),
            *(one.version for one in self.studies),
            *(one.version for one in self.plans),
            *(one.version for one in self.orders),
            *(one.version for one in self.changes),
            *(one.version for one in self.shortlists),
        )

    def sights(self) -> tuple[PhotoPart | FilmPart, ...]:
        """Return photos, then films."""
        found: list[PhotoPart | FilmPart] = [*self.photos]
        return (*found, *self.films)

    def files(self) -> list[str]:
        """Return every file that the document names."""
        return [
            *(one.file for one in self.versions()),
            *(one.file for one in self.sights()),
            *(one.file for one in self.enclosed),
        ]


_SINCE: dict[int, tuple[str, ...]] = {
    2: ("answers", "work_done", "questions"),
    3: ("plans", "orders", "visits", "films"),
    4: ("changes", "shortlists"),
}
"""By version, the fields that it brought."""


def upgraded(held: dict[str, Any], version: int) -> dict[str, Any]:
    """Return an older document's content as this version states it.

    Raises
    ------
    InputProblemsError
        If it has fields that its own version did not have.
    """
    later = [name for since, names in _SINCE.items() if since > version for name in names]
    early = [name for name in later if name in held]
    if early:
        where = Where(field=early[0])
        raise input_problem("the pack has a field that its version does not know", "Ask for it again.", where)
    return {**held, "version": PackDocument.VERSION}
