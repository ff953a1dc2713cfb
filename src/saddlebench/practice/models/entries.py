"""Who entered what when; and what was erased for a person's sake."""

import uuid as uuids
from typing import ClassVar

from django.conf import settings
from django.db import models

from saddlebench.practice.models.accounts import Practice
from saddlebench.practice.models.base import Once


class AuditRow(Once):
    """One thing a person did. It names records by uuid and holds no words of theirs, so it can stay."""

    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="+")
    action = models.CharField(max_length=32)
    deed = models.CharField(max_length=48)
    """The service that was called."""
    subject = models.CharField(max_length=16)
    subject_uuid = models.UUIDField()

    class Meta:
        """Read by subject and by time."""

        indexes: ClassVar = [
            models.Index(fields=["subject_uuid", "made_at"]),
            models.Index(fields=["practice", "made_at"]),
        ]


class Entry(Once):
    """One value that one person entered into one field, whatever became of it."""

    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="+")
    audit = models.ForeignKey(AuditRow, on_delete=models.PROTECT, related_name="entries")
    subject = models.CharField(max_length=16)
    subject_uuid = models.UUIDField()
    key = models.UUIDField()
    """Chosen by the page: the same entry sent twice is one entry."""
    field = models.CharField(max_length=80)
    value = models.JSONField(null=True)
    before = models.JSONField(null=True)
    seen = models.PositiveIntegerField()
    """The revision that the person had before their eyes."""
    revision = models.PositiveIntegerField()
    """The subject's revision after this entry."""
    outcome = models.CharField(max_length=8)

    class Meta:
        """A key serves once per subject."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["subject_uuid", "key"], name="an_entry_counts_once"),
        ]
        indexes: ClassVar = [models.Index(fields=["subject_uuid", "field", "revision"])]


class OpenErasure(models.Model):
    """Rows written once may be deleted, never changed, while one of these stands in the same transaction."""

    opened_at = models.DateTimeField()


class ErasureReceipt(models.Model):
    """Proof that a person was erased: when, by whom, how many rows; nothing about the person."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    subject_uuid = models.UUIDField()
    counts = models.JSONField(default=dict)
    sha256 = models.CharField(max_length=64)
