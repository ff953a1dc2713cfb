"""Gathering what goes into a pack: the records that were chosen, what they lead to, and nothing else."""

import uuid as uuids
from collections.abc import Iterable
from datetime import UTC
from pathlib import Path
from typing import TypeVar

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.packs.document import (
    BackPart,
    ChangePart,
    FilmPart,
    OrderPart,
    PhotoPart,
    PlanPart,
    SaddleVersionPart,
    ShortlistPart,
    StudyPart,
    VersionPart,
    WorkPart,
)
from saddlebench.practice.enums import Action
from saddlebench.practice.handover.choice import Gathered, PackChoice
from saddlebench.practice.handover.found_parts import (
    change_part,
    compared_backs,
    horse_of_shortlist,
    shortlist_part,
    shortlist_text,
)
from saddlebench.practice.handover.parts import horse_part, saddle_part
from saddlebench.practice.handover.sights import film_part, photo_part
from saddlebench.practice.handover.work_parts import last_state, order_part, plan_part, run_of, visit_part
from saddlebench.practice.models import (
    Back,
    BackVersion,
    Choice,
    Comparison,
    Horse,
    OrderState,
    Photo,
    Plan,
    Saddle,
    SaddleVersion,
    Study,
    StudyVersion,
    TakenRecord,
    Visit,
    WorkOrder,
)
from saddlebench.practice.models.base import Withdrawable
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import own

_Row = TypeVar("_Row", bound=Withdrawable)


def gather(actor: Actor | None, choice: PackChoice, home: Path) -> Gathered:
    """Return what was chosen, ready to be packed.

    Raises
    ------
    NotFoundError
        If the practice has no such record.
    InputProblemsError
        If a record has nothing measured in it, an order was not sent yet, or nothing at all was chosen.
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
        self._plans: dict[int, Plan] = {}
        self._orders: dict[int, OrderState] = {}
        self._visits: dict[int, Visit] = {}
        self._changes: dict[int, tuple[Comparison, list[BackVersion]]] = {}
        self._shortlists: dict[int, Choice] = {}
        self._origins: dict[uuids.UUID, uuids.UUID] = {}

    def run(self) -> Gathered:
        """Gather the leaves first, then what they hang on."""
        choice = self._choice
        self._add_work()
        self._add_found()
        for back in self._own(Back, choice.backs):
            self._add_back(self._current(back))
        for saddle in self._own(Saddle, choice.saddles):
            self._saddles[saddle.pk] = saddle
            if saddle.current is not None:
                self._records[saddle.current.pk] = saddle.current
        for horse in self._own(Horse, choice.horses):
            self._horses[horse.pk] = horse
        for visit in self._own(Visit, choice.visits):
            self._add_visit(visit)
        pictures = self._own(Photo, choice.photos)
        for photo in pictures:
            self._add_photo(photo)
        if not (self._horses or self._saddles or choice.message or choice.work_done or choice.questions):
            raise input_problem("nothing was chosen", "Choose a back, a saddle, a fit check or a photo.")
        return self._gathered(pictures)

    def _add_work(self) -> None:
        """Add fit checks and what was done about them: orders, their plans, the runs of these."""
        choice = self._choice
        for order in self._own(WorkOrder, choice.orders):
            state = last_state(order)
            self._orders[state.pk] = state
            self._add_plan(Plan.objects.get(practice_id=self._actor.practice_id, uuid=order.plan_uuid))
        for plan in self._own(Plan, choice.plans):
            self._add_plan(plan)
        for study in self._own(Study, choice.studies):
            self._add_study(study)
        for done in choice.work_done:
            if done.saddle is not None:
                saddle = own(Saddle, self._actor, done.saddle)
                self._saddles[saddle.pk] = saddle

    def _add_found(self) -> None:
        """Add what was found out of records: changes with the backs compared, shortlists with their horse."""
        for uuid in dict.fromkeys(self._choice.changes):
            row, versions = compared_backs(self._actor, uuid)
            self._changes[row.pk] = (row, versions)
            for version in versions:
                self._add_back(version)
        for choice in self._own(Choice, self._choice.shortlists):
            horse = horse_of_shortlist(choice)
            self._shortlists[choice.pk] = choice
            self._horses[horse.pk] = horse

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
        self._add_run(run)

    def _add_run(self, run: StudyVersion) -> None:
        self._studies[run.pk] = run
        self._add_back(run.back_version)
        self._records[run.saddle_version.pk] = run.saddle_version
        self._saddles[run.study.saddle_id] = run.study.saddle

    def _add_plan(self, plan: Plan) -> None:
        self._plans[plan.pk] = plan
        self._add_run(run_of(plan))

    def _add_visit(self, visit: Visit) -> None:
        if visit.horse is None:
            msg = f"the visit of {visit.date} is of no horse yet"
            raise input_problem(msg, "Say of which, or leave it out.")
        self._visits[visit.pk] = visit
        self._horses[visit.horse.pk] = visit.horse
        for tried in visit.tried.filter(taken_off_at=None).select_related("saddle"):
            self._saddles[tried.saddle_id] = tried.saddle

    def _add_photo(self, photo: Photo) -> None:
        if photo.horse is not None:
            self._horses[photo.horse.pk] = photo.horse
        if photo.saddle is not None:
            self._saddles[photo.saddle.pk] = photo.saddle

    def _gathered(self, pictures: list[Photo]) -> Gathered:
        self._origins = self._origins_of()
        horses = tuple(horse_part(one, self._name) for one in self._horses.values())
        saddles = tuple(saddle_part(one, self._name) for one in self._saddles.values())
        backs = tuple(self._back_part(version) for version in self._backs.values())
        records = tuple(
            SaddleVersionPart(
                saddle=self._name(version.saddle), version=self._version(version, "saddles", version.saddle)
            )
            for version in self._records.values()
        )
        runs = sorted(self._studies.values(), key=lambda one: (one.study_id, one.number))
        photos, films = self._sights(pictures)
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
            studies=tuple(map(self._study_part, runs)),
            plans=tuple(self._plan_part(one) for one in self._plans.values()),
            orders=tuple(self._order_part(one) for one in self._orders.values()),
            visits=tuple(visit_part(one, self._name) for one in self._visits.values()),
            changes=tuple(self._change_part(*one) for one in self._changes.values()),
            shortlists=tuple(map(self._shortlist_part, self._shortlists.values())),
            photos=photos,
            films=films,
            work_done=work,
            choice=self._choice,
            files=self._files,
            local={str(origin): local for local, origin in self._origins.items()},
        )

    def _origins_of(self) -> dict[uuids.UUID, uuids.UUID]:
        """Return what records from elsewhere were called where they came from, by their uuid here."""
        rows = TakenRecord.objects.filter(practice_id=self._actor.practice_id)
        return dict(rows.values_list("local_uuid", "origin_uuid"))

    def _name(self, record: Withdrawable | Comparison) -> str:
        return str(self._origins.get(record.uuid, record.uuid))

    def _version(
        self, version: BackVersion | SaddleVersion | StudyVersion, folder: str, record: Withdrawable
    ) -> VersionPart:
        return self._held(
            f"records/{folder}/{self._name(record)}-{version.number}.json",
            version,
            number=version.number,
            engine_version=version.engine_version,
            why=version.why if self._choice.names_people else "",
        )

    def _held(
        self,
        file: str,
        row: BackVersion | SaddleVersion | StudyVersion | Plan | OrderState | Comparison,
        *,
        number: int,
        engine_version: str = "",
        why: str = "",
    ) -> VersionPart:
        self._files[file] = row.document.encode("utf-8")
        return VersionPart(
            file=file,
            sha256=row.sha256,
            number=number,
            recorded_at=row.made_at.astimezone(UTC).isoformat(),
            recorded_by=row.made_by.label if self._choice.names_people else "",
            engine_version=engine_version,
            why=why,
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

    def _plan_part(self, plan: Plan) -> PlanPart:
        file = f"records/plans/{self._name(plan)}.json"
        version = self._held(file, plan, number=1, engine_version=plan.engine_version)
        return plan_part(plan, self._name, version)

    def _order_part(self, state: OrderState) -> OrderPart:
        file = f"records/orders/{self._name(state.order)}-{state.number}.json"
        plan = self._origins.get(state.order.plan_uuid, state.order.plan_uuid)
        return order_part(
            state, self._name(state.order), str(plan), self._held(file, state, number=state.number)
        )

    def _change_part(self, row: Comparison, versions: list[BackVersion]) -> ChangePart:
        file = f"records/changes/{self._name(row)}.json"
        version = self._held(file, row, number=1, engine_version=row.engine_version)
        return change_part(row, versions, self._name, version)

    def _shortlist_part(self, row: Choice) -> ShortlistPart:
        file = f"records/shortlists/{self._name(row)}.json"
        content = shortlist_text(row, self._origins)
        self._files[file] = content
        return shortlist_part(row, self._name, file, content, names_people=self._choice.names_people)

    def _sights(self, rows: list[Photo]) -> tuple[tuple[PhotoPart, ...], tuple[FilmPart, ...]]:
        photos: list[PhotoPart] = []
        films: list[FilmPart] = []
        for photo in rows:
            if photo.media_type.startswith("video/"):
                film, content = film_part(photo, len(films) + 1, self._name, self._home)
                films.append(film)
                self._files[film.file] = content
            else:
                part, content = photo_part(photo, len(photos) + 1, self._name, self._home)
                photos.append(part)
                self._files[part.file] = content
        return tuple(photos), tuple(films)
