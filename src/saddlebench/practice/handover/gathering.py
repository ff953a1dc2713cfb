"""Gathering what goes into a pack: the records that were chosen, what they lead to, and nothing else."""

import hashlib
import uuid as uuids
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date
from pathlib import Path
from typing import TypeVar

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.packs.document import (
    BackPart,
    HorsePart,
    PhotoPart,
    SaddlePart,
    SaddleVersionPart,
    StudyPart,
    VersionPart,
    WorkPart,
)
from saddlebench.exchange.packs.photos import bare_picture
from saddlebench.practice.enums import Action
from saddlebench.practice.keeping.files import stored_path
from saddlebench.practice.models import (
    Back,
    BackVersion,
    Horse,
    Photo,
    Saddle,
    SaddleVersion,
    Study,
    StudyVersion,
    TakenRecord,
)
from saddlebench.practice.models.base import Kept
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import own

_Row = TypeVar("_Row", bound=Kept)
_SUFFIXES = {"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp"}


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
    photos: tuple[uuids.UUID, ...] = ()
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
    photos: tuple[PhotoPart, ...]
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


def gather(actor: Actor | None, choice: PackChoice, home: Path) -> Gathered:
    """Return what was chosen, ready to be packed.

    Raises
    ------
    NotFoundError
        If the practice has no such record.
    InputProblemsError
        If a record has nothing measured in it, a photo is a film, or nothing at all was chosen.
    """
    return _Gathering(require(actor, Action.EXPORT), choice, home).run()


class _Gathering:
    def __init__(self, actor: Actor, choice: PackChoice, home: Path) -> None:
        self._actor, self._choice, self._home = actor, choice, home
        self._files: dict[str, bytes] = {}
        self._horses: dict[int, Horse] = {}
        self._saddles: dict[int, Saddle] = {}
        self._backs: dict[int, BackVersion] = {}
        self._records: dict[int, SaddleVersion] = {}
        self._studies: dict[int, StudyVersion] = {}
        self._origins: dict[uuids.UUID, uuids.UUID] = {}

    def run(self) -> Gathered:
        """Gather the leaves first, then what they hang on."""
        choice = self._choice
        for study in self._own(Study, choice.studies):
            self._add_study(study)
        for back in self._own(Back, choice.backs):
            self._add_back(self._current(back))
        for saddle in self._own(Saddle, choice.saddles):
            self._saddles[saddle.pk] = saddle
            if saddle.current is not None:
                self._records[saddle.current.pk] = saddle.current
        for horse in self._own(Horse, choice.horses):
            self._horses[horse.pk] = horse
        pictures = self._own(Photo, choice.photos)
        for photo in pictures:
            self._add_photo(photo)
        for done in choice.work_done:
            if done.saddle is not None:
                saddle = own(Saddle, self._actor, done.saddle)
                self._saddles[saddle.pk] = saddle
        if not (self._horses or self._saddles or choice.message or choice.work_done or choice.questions):
            raise input_problem("nothing was chosen", "Choose a back, a saddle, a fit check or a photo.")
        return self._gathered(pictures)

    def _own(self, model: type[_Row], wanted: Iterable[uuids.UUID]) -> list[_Row]:
        return [own(model, self._actor, uuid) for uuid in dict.fromkeys(wanted)]

    @staticmethod
    def _current(record: Back) -> BackVersion:
        if record.current is None:
            msg = f"“{record.label}” has nothing measured in it"
            raise input_problem(msg, "Leave it out, or measure it first.")
        return record.current

    def _add_back(self, version: BackVersion) -> None:
        self._backs[version.pk] = version
        self._horses[version.back.horse_id] = version.back.horse

    def _add_study(self, study: Study) -> None:
        run = study.current
        if run is None:
            msg = f"“{study.label}” was never run"
            raise input_problem(msg, "Leave it out.")
        self._studies[run.pk] = run
        self._add_back(run.back_version)
        self._records[run.saddle_version.pk] = run.saddle_version
        self._saddles[study.saddle_id] = study.saddle

    def _add_photo(self, photo: Photo) -> None:
        if photo.media_type not in _SUFFIXES:
            cure = "Leave it out: packs hold pictures, not films."
            raise input_problem(f"“{photo.label or photo.shot or 'a film'}” is a film", cure)  # noqa: EM102
        if photo.horse is not None:
            self._horses[photo.horse.pk] = photo.horse
        if photo.saddle is not None:
            self._saddles[photo.saddle.pk] = photo.saddle

    def _gathered(self, pictures: list[Photo]) -> Gathered:
        self._origins = self._origins_of()
        horses = tuple(map(self._horse_part, self._horses.values()))
        saddles = tuple(map(self._saddle_part, self._saddles.values()))
        backs = tuple(self._back_part(version) for version in self._backs.values())
        records = tuple(
            SaddleVersionPart(
                saddle=self._name(version.saddle), version=self._version(version, "saddles", version.saddle)
            )
            for version in self._records.values()
        )
        studies = tuple(map(self._study_part, self._studies.values()))
        photos = tuple(self._photo_part(photo, k) for k, photo in enumerate(pictures, start=1))
        work = tuple(
            WorkPart(
                on=one.on,
                words=one.words,
                saddle=str(self._origins.get(one.saddle, one.saddle)) if one.saddle else None,
            )
            for one in self._choice.work_done
        )
        return Gathered(
            horses=horses,
            saddles=saddles,
            backs=backs,
            saddle_records=records,
            studies=studies,
            photos=photos,
            work_done=work,
            choice=self._choice,
            files=self._files,
            local={str(origin): local for local, origin in self._origins.items()},
        )

    def _origins_of(self) -> dict[uuids.UUID, uuids.UUID]:
        """Return what records from elsewhere were called where they came from, by their uuid here."""
        rows = TakenRecord.objects.filter(practice_id=self._actor.practice_id)
        return dict(rows.values_list("local_uuid", "origin_uuid"))

    def _name(self, record: Kept) -> str:
        return str(self._origins.get(record.uuid, record.uuid))

    def _horse_part(self, horse: Horse) -> HorsePart:
        return HorsePart(
            uuid=self._name(horse),
            label=horse.label,
            registered_name=horse.registered_name,
            microchip=horse.microchip,
            ueln=horse.ueln,
            born_in=horse.born_in,
            breed_type=horse.breed_type,
            breed=horse.breed,
            colour=horse.colour,
            height_cm=horse.height_cm,
            work=horse.work,
            discipline=horse.discipline,
            rider_mass_kg=horse.rider_mass_kg,
        )

    def _saddle_part(self, saddle: Saddle) -> SaddlePart:
        return SaddlePart(
            uuid=self._name(saddle),
            label=saddle.label,
            family=saddle.family,
            maker=saddle.maker,
            serial=saddle.serial,
            seat_size_in=saddle.seat_size_in,
            colour=saddle.colour,
            made_in=saddle.made_in,
        )

    def _version(
        self, version: BackVersion | SaddleVersion | StudyVersion, folder: str, record: Kept
    ) -> VersionPart:
        file = f"records/{folder}/{self._name(record)}-{version.number}.json"
        self._files[file] = version.document.encode("utf-8")
        return VersionPart(
            file=file,
            sha256=version.sha256,
            number=version.number,
            recorded_at=version.made_at.astimezone(UTC).isoformat(),
            recorded_by=version.made_by.label if self._choice.names_people else "",
            engine_version=version.engine_version,
            why=version.why if self._choice.names_people else "",
        )

    def _back_part(self, version: BackVersion) -> BackPart:
        back = version.back
        return BackPart(
            uuid=self._name(back),
            horse=self._name(back.horse),
            label=back.label,
            measured_on=back.measured_on,
            version=self._version(version, "backs", back),
        )

    def _study_part(self, run: StudyVersion) -> StudyPart:
        return StudyPart(
            uuid=self._name(run.study),
            label=run.study.label,
            back=self._name(run.back_version.back),
            back_sha256=run.back_version.sha256,
            saddle=self._name(run.saddle_version.saddle),
            saddle_sha256=run.saddle_version.sha256,
            version=self._version(run, "fit-checks", run.study),
        )

    def _photo_part(self, photo: Photo, number: int) -> PhotoPart:
        path = stored_path(self._home, photo.sha256, photo.media_type)
        if not path.is_file():
            msg = f"the file of photo {number} is gone"
            raise input_problem(msg, "Leave it out, or bring the files back from a backup.")
        bare = bare_picture(path.read_bytes(), photo.label or photo.shot or f"photo {number}")
        file = f"photos/{number:03d}{_SUFFIXES[bare.media_type]}"
        self._files[file] = bare.content
        day = photo.visit.date if photo.visit else (photo.taken_at or photo.made_at).date()
        return PhotoPart(
            uuid=self._name(photo),
            file=file,
            sha256=hashlib.sha256(bare.content).hexdigest(),
            media_type=bare.media_type,
            horse=self._name(photo.horse) if photo.horse else None,
            saddle=self._name(photo.saddle) if photo.saddle else None,
            shot=photo.shot,
            label=photo.label,
            day=day,
            taken_at=photo.taken_at.astimezone(UTC).isoformat() if photo.taken_at else None,
        )
