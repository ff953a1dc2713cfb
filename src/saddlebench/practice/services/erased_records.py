"""What a person's records hold of them, taken out row by row."""

import uuid as uuids
from collections import Counter
from collections.abc import Mapping
from typing import Any

from django.db import models

from saddlebench.practice.catalogue import Value
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Holding
from saddlebench.practice.models import (
    Advice,
    Answer,
    Back,
    BackNumbers,
    BackVersion,
    Capture,
    Choice,
    Client,
    Comparison,
    Entry,
    Horse,
    Job,
    Opinion,
    Photo,
    Rebuild,
    RebuildCheck,
    Recheck,
    Saddle,
    SaddleDraft,
    SaddleScan,
    SaddleVersion,
    Scan,
    ScanFile,
    StockState,
    Study,
    StudyVersion,
    Visit,
    VisitSaddle,
    Yard,
)
from saddlebench.practice.services.deeds import Deed, own
from saddlebench.practice.services.finding import refresh_found_by
from saddlebench.practice.services.forgetting_work import scrub_work, work_on_horse
from saddlebench.practice.services.long_work import OVER
from saddlebench.practice.services.mentions import Person, scrub_documents, scrub_text, scrub_value, texts_of

_BATCH = 500


class Erasing:
    """One erasure under way."""

    def __init__(self, done: Deed, client: Client) -> None:
        self.done = done
        self.client = client
        self.person = Person(label=client.label, email=client.email, phone=client.phone)
        self.counts: Counter[str] = Counter()
        self.files: set[tuple[str, str]] = set()
        self.scans: set[uuids.UUID] = set()
        self.scan_files: set[tuple[str, str]] = set()

    def run(self, owners: Mapping[uuids.UUID, uuids.UUID]) -> None:
        """Take out everything, the leaves of the tree first."""
        kept: list[int] = []
        for horse in self.client.horses.all():
            if horse.uuid in owners:
                horse.client = own(Client, self.done.actor, owners[horse.uuid])
                horse.save(update_fields=["client"])
                kept.append(horse.pk)
            else:
                self._erase_horse(horse)
        for saddle in self.client.saddles.all():
            self._erase_or_pass_on(saddle)
        self._forget_in_stock()
        self._scrub()
        # What long work was called, and what it said, may name anybody; what it made is a record of its own.
        over = [state.value for state in OVER]
        self._delete(Job.objects.filter(practice_id=self.done.actor.practice_id, state__in=over))
        self._delete(Entry.objects.filter(subject_uuid=self.client.uuid))
        self._delete(Client.objects.filter(pk=self.client.pk))
        refresh_found_by(Horse.objects.of(self.done.actor.practice_id).values_list("id", flat=True))

    def _delete(self, rows: models.QuerySet[Any]) -> None:
        deleted, by_kind = rows.delete()
        if deleted:
            self.counts.update({name.split(".")[-1].lower(): n for name, n in by_kind.items() if n})

    def _delete_with_entries(self, rows: models.QuerySet[Any]) -> None:
        self._delete(Entry.objects.filter(subject_uuid__in=list(rows.values_list("uuid", flat=True))))
        self._delete(rows)

    def _photos(self, photos: models.QuerySet[Photo]) -> None:
        self.files |= set(photos.values_list("sha256", "media_type"))
        self._delete_with_entries(photos)

    def _scans(self, scans: models.QuerySet[Scan]) -> None:
        files = ScanFile.objects.filter(scan__in=scans)
        self.scans |= set(scans.values_list("uuid", flat=True))
        self.scan_files |= set(files.values_list("sha256", "suffix"))
        self._delete(files)
        self._delete(scans)

    def _saddle_scans(self, scans: models.QuerySet[SaddleScan]) -> None:
        self.scan_files |= set(scans.values_list("sha256", "suffix"))
        self._delete(scans)

    def _studies(self, studies: models.QuerySet[Study]) -> None:
        studies.update(current=None)
        self._delete(StudyVersion.objects.filter(study__in=studies))
        self._delete_with_entries(studies)

    def _erase_horse(self, horse: Horse) -> None:
        visits = Visit.objects.filter(horse=horse)
        for rows in work_on_horse(horse):
            self._delete_with_entries(rows)
        self._studies(Study.objects.filter(horse=horse))
        self._delete(Opinion.objects.filter(horse=horse))
        self._delete(Comparison.objects.filter(horse=horse))
        self._delete(BackNumbers.objects.filter(horse=horse))
        self._delete(RebuildCheck.objects.filter(horse=horse))
        self._delete(Rebuild.objects.filter(horse=horse))
        captures = models.Q(horse=horse) | models.Q(visit__in=visits)
        self._delete_with_entries(Capture.objects.filter(captures))
        self._scans(Scan.objects.filter(captures))
        Back.objects.filter(horse=horse).update(current=None)
        self._delete(BackVersion.objects.filter(back__horse=horse))
        self._delete_with_entries(Back.objects.filter(horse=horse))
        self._photos(Photo.objects.filter(models.Q(horse=horse) | models.Q(visit__in=visits)))
        self._delete_with_entries(Recheck.objects.filter(models.Q(horse=horse) | models.Q(visit__in=visits)))
        self._delete(Answer.objects.filter(visit__in=visits))
        self._delete(Advice.objects.filter(visit__in=visits))
        self._delete_with_entries(VisitSaddle.objects.filter(visit__in=visits))
        self._delete_with_entries(visits)
        self._delete_with_entries(Horse.objects.filter(pk=horse.pk))

    def _erase_or_pass_on(self, saddle: Saddle) -> None:
        owner = saddle.horses.exclude(client=None).exclude(client=self.client).first()
        if owner is not None or saddle.tried_at.exists() or saddle.studies.exists():
            # Other people's horses were judged in it: the saddle stays, the person does not.
            saddle.client = owner.client if owner else None
            saddle.holding = Holding.CLIENT.value
            saddle.save(update_fields=["client", "holding"])
            return
        self._photos(Photo.objects.filter(saddle=saddle))
        self._saddle_scans(SaddleScan.objects.filter(saddle=saddle))
        Saddle.objects.filter(pk=saddle.pk).update(current=None)
        self._delete(SaddleVersion.objects.filter(saddle=saddle))
        self._delete(StockState.objects.filter(saddle=saddle))
        self._delete(Choice.objects.filter(saddle=saddle))
        self._delete_with_entries(Saddle.objects.filter(pk=saddle.pk))

    def _scrub(self) -> None:
        """Take the person's name, address and number out of what stays."""
        practice_id = self.done.actor.practice_id
        # Read first, change afterwards: a table is not changed under the cursor that reads it.
        answers = Answer.objects.filter(visit__practice_id=practice_id).iterator()
        for answer in [one for one in answers if self._names(one.value)]:
            self._scrub_answer(answer)
        entries = Entry.objects.filter(practice_id=practice_id).iterator()
        naming = [one.pk for one in entries if self._names(one.value) or self._names(one.before)]
        for start in range(0, len(naming), _BATCH):
            self._delete(Entry.objects.filter(pk__in=naming[start : start + _BATCH]))
        advice = Advice.objects.filter(visit__practice_id=practice_id).iterator()
        for one in [one for one in advice if self.person.is_in(f"{one.said} {one.declined_by}")]:
            self._scrub_advice(one)
        checks = RebuildCheck.objects.filter(practice_id=practice_id).iterator()
        for check in [one for one in checks if self.person.is_in(f"{one.document} {one.instrument}")]:
            self._scrub_rebuild_check(check)
        of_horses = ScanFile.objects.filter(scan__practice_id=practice_id).iterator()
        of_saddles = SaddleScan.objects.filter(saddle__practice_id=practice_id).iterator()
        files: list[ScanFile | SaddleScan] = [*of_horses, *of_saddles]
        for file in [one for one in files if self.person.is_in(one.name)]:
            self._scrub_scan_file(file)
        for model, names in _WORDS.items():
            for row in model._default_manager.filter(practice_id=practice_id).exclude(pk=self._own_pk(model)):  # noqa: SLF001
                self._scrub_columns(row, names)
        drafts = SaddleDraft.objects.filter(practice_id=practice_id)
        self._delete(drafts.filter(pk__in=[one.pk for one in drafts if self._names(one.texts)]))
        # What was worked out can be worked out again from records that no longer name the person.
        worked_out = Comparison.objects.filter(practice_id=practice_id)
        naming = [one.pk for one in worked_out.iterator() if self._names([one.label, one.document])]
        self._delete(Comparison.objects.filter(pk__in=naming))
        self.counts["documents rewritten"] += scrub_documents(practice_id, self.person)
        self.counts["plans and orders rewritten"] += scrub_work(practice_id, self.person)

    def _own_pk(self, model: type[models.Model]) -> int:
        return self.client.pk if model is Client else 0

    def _forget_in_stock(self) -> None:
        """Write rows of the stock anew without the person: whom a saddle was kept for, or tried by."""
        rows = StockState.objects.filter(saddle__practice_id=self.done.actor.practice_id)
        for row in list(rows):
            links = [name for name in _STOCK_LINKS if getattr(row, f"{name}_id") == self.client.pk]
            words = [name for name in _STOCK_WORDS if self.person.is_in(getattr(row, name))]
            if not links and not words:
                continue
            self.counts["stock rows rewritten"] += 1
            StockState.objects.filter(pk=row.pk).delete()
            for name in links:
                setattr(row, name, None)
            for name in words:
                setattr(row, name, scrub_text(getattr(row, name), self.person))
            row.save(force_insert=True)

    def _names(self, value: Value) -> bool:
        uuid = str(self.client.uuid)
        return any(uuid == text or self.person.is_in(text) for text in texts_of(value))

    def _scrub_answer(self, answer: Answer) -> None:
        self.counts["answers scrubbed"] += 1
        if isinstance(answer.value, dict):
            answer.delete()
            return
        answer.value = scrub_value(answer.value, self.person)
        answer.save(update_fields=["value"])

    def _scrub_advice(self, advice: Advice) -> None:
        self.counts["advice scrubbed"] += 1
        Advice.objects.filter(pk=advice.pk).delete()
        advice.said = scrub_text(advice.said, self.person)
        advice.declined_by = scrub_text(advice.declined_by, self.person)
        advice.save(force_insert=True)

    def _scrub_rebuild_check(self, check: RebuildCheck) -> None:
        self.counts["rebuild checks scrubbed"] += 1
        RebuildCheck.objects.filter(pk=check.pk).delete()
        scrubbed = Document(text=scrub_text(check.document, self.person))
        check.document, check.sha256 = scrubbed.text, scrubbed.sha256
        check.instrument = scrub_text(check.instrument, self.person)
        check.save(force_insert=True)

    def _scrub_scan_file(self, file: ScanFile | SaddleScan) -> None:
        self.counts["scans' names scrubbed"] += 1
        type(file)._default_manager.filter(pk=file.pk).delete()  # noqa: SLF001
        file.name = scrub_text(file.name, self.person)[:200]
        file.save(force_insert=True)

    def _scrub_columns(self, row: models.Model, names: tuple[str, ...]) -> None:
        found = [name for name in names if self.person.is_in(getattr(row, name))]
        for name in found:
            setattr(row, name, scrub_text(getattr(row, name), self.person))
        if found:
            self.counts["records scrubbed"] += 1
            row.save(update_fields=found)


_WORDS: dict[type[models.Model], tuple[str, ...]] = {
    Client: ("label", "organisation", "guardian", "note"),
    Yard: ("label", "note"),
    Horse: ("label", "registered_name", "rider", "note"),
    Saddle: ("label", "note", "where_kept"),
    Photo: ("label", "note"),
    Visit: ("label",),
    Back: ("label",),
    Capture: ("label",),
    Scan: ("label",),
    Rebuild: ("label",),
    Study: ("label",),
    Recheck: ("label",),
}


_STOCK_LINKS = ("reserved_for", "on_trial_with")


_STOCK_WORDS = ("stock_number", "place", "flap", "discipline", "condition")
