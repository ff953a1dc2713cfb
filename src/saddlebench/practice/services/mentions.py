"""Where a person is mentioned in words, and taking the mention out."""

import json
import re
import uuid as uuids
from dataclasses import dataclass
from typing import Any

from saddlebench.practice.catalogue import Value
from saddlebench.practice.documents import Document
from saddlebench.practice.models import Back, BackVersion, Saddle, SaddleVersion, Study, StudyVersion

ERASED = "[erased]"
_SHORTEST = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """By what a person can be recognised in a text."""

    label: str
    email: str
    phone: str

    @property
    def pattern(self) -> re.Pattern[str] | None:
        """Whole words, any blanks between them, plain or as JSON escapes them; None if there is nothing."""
        texts = [text.strip() for text in (self.label, self.email, self.phone)]
        forms = {
            form
            for text in texts
            if len(text) >= _SHORTEST
            for form in (text, json.dumps(text)[1:-1], json.dumps(text, ensure_ascii=False)[1:-1])
        }
        parts = [_any_blanks(form) for form in sorted(forms, key=len, reverse=True)]
        return re.compile(rf"(?<!\w)(?:{'|'.join(parts)})(?!\w)") if parts else None

    def is_in(self, text: str) -> bool:
        """Tell whether a text mentions the person."""
        pattern = self.pattern
        return bool(pattern and pattern.search(text))


def _any_blanks(text: str) -> str:
    words = text.split()
    joined = r"\s+".join(map(re.escape, words))
    # A single word may be an everyday word as well ("Joy", "May"): then only the name's own spelling counts.
    return f"(?i:{joined})" if len(words) > 1 else joined


def texts_of(value: Value) -> list[str]:
    """Return every text inside a value."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, list | dict):
        inner = value if isinstance(value, list) else list(value.values())
        return [text for item in inner for text in texts_of(item)]
    return []


def scrub_value(value: Value, person: Person) -> Value:
    """Return the value with the person taken out of every text in it."""
    if isinstance(value, str):
        return scrub_text(value, person)
    if isinstance(value, list):
        return [scrub_value(item, person) for item in value]
    if isinstance(value, dict):
        return {name: scrub_value(item, person) for name, item in value.items()}
    return value


def scrub_text(text: str, person: Person) -> str:
    """Return the text with the person's name, address and number taken out."""
    pattern = person.pattern
    return pattern.sub(ERASED, text) if pattern else text


def scrub_documents(practice_id: int, person: Person) -> int:
    """Write the versions whose documents mention a person anew, with their new hash, and return how many.

    Versions are never updated, so each is taken out and put in again under its number, together with the
    fit checks that name it; an erasure must be open.
    """
    backs = BackVersion.objects.filter(back__practice_id=practice_id)
    saddles = SaddleVersion.objects.filter(saddle__practice_id=practice_id)
    studies = StudyVersion.objects.filter(study__practice_id=practice_id)
    old_backs = [v for v in backs if _mentions(v, person)]
    old_saddles = [v for v in saddles if _mentions(v, person)]
    touched = [
        v
        for v in studies.select_related("back_version", "saddle_version")
        if v.back_version in old_backs or v.saddle_version in old_saddles or _mentions(v, person)
    ]
    currents = _take_currents(old_backs, old_saddles, touched)
    StudyVersion.objects.filter(pk__in=[v.pk for v in touched]).delete()
    new: dict[uuids.UUID, Any] = {}
    for version in (*old_backs, *old_saddles):
        type(version)._default_manager.filter(pk=version.pk).delete()  # noqa: SLF001
        new[version.uuid] = _again(version, person)
    for study in touched:
        study.back_version = new.get(study.back_version.uuid, study.back_version)
        study.saddle_version = new.get(study.saddle_version.uuid, study.saddle_version)
        new[study.uuid] = _again(study, person)
    for record, uuid in currents:
        record.current = new[uuid]
        record.save(update_fields=["current"])
    return len(new)


def _mentions(version: Any, person: Person) -> bool:
    return person.is_in(f"{version.document} {version.why}")


def _take_currents(
    backs: list[BackVersion], saddles: list[SaddleVersion], studies: list[StudyVersion]
) -> list[tuple[Any, uuids.UUID]]:
    pairs: list[tuple[Any, uuids.UUID]] = []
    for model, versions in ((Back, backs), (Saddle, saddles), (Study, studies)):
        rows = model._default_manager.filter(current__in=[v.pk for v in versions])  # noqa: SLF001
        pairs += [(row, row.current.uuid) for row in rows.select_related("current") if row.current]
        model._default_manager.filter(pk__in=[row.pk for row, _ in pairs if isinstance(row, model)]).update(  # noqa: SLF001
            current=None
        )
    return pairs


def _again(version: Any, person: Person) -> Any:
    scrubbed = Document(text=scrub_text(version.document, person))
    version.pk = None
    version.document, version.sha256 = scrubbed.text, scrubbed.sha256
    version.why = scrub_text(version.why, person)
    version.save(force_insert=True)
    return version
