"""Keys, packs sent and taken, where taken records came from, and links to packs."""

import uuid as uuids
from typing import ClassVar

from django.conf import settings
from django.db import models

from saddlebench.practice.models.accounts import Practice

_WORDS = 200
_LINE = 400


class PracticeKey(models.Model):
    """The public half of a practice's own key; the private half is a file in the data folder."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="+")
    line = models.CharField(max_length=_LINE)
    fingerprint = models.CharField(max_length=40)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True)

    class Meta:
        """A practice signs with one key at a time."""

        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["practice"], condition=models.Q(ended_at=None), name="one_key_at_a_time"
            )
        ]

    def __str__(self) -> str:
        return self.fingerprint


class Partner(models.Model):
    """Another practice by its key: trusted since somebody compared the fingerprint, until it is ended."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="+")
    label = models.CharField(max_length=_WORDS)
    their_practice = models.UUIDField(null=True)
    """How their packs name them; not known of a key that was typed in before any pack came."""
    line = models.CharField(max_length=_LINE)
    fingerprint = models.CharField(max_length=40)
    trusted_at = models.DateTimeField()
    trusted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True)

    class Meta:
        """A key is known once."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["practice", "line"], name="a_key_is_known_once")
        ]

    def __str__(self) -> str:
        return self.label


class SentPack(models.Model):
    """A pack that was made; its file lies in the data folder until somebody deletes it."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    """The pack's own name, by which an answer names it."""
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="+")
    label = models.CharField(max_length=_WORDS)
    recipient = models.ForeignKey(Partner, on_delete=models.PROTECT, null=True, related_name="+")
    answers = models.UUIDField(null=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    sha256 = models.CharField(max_length=64)
    size_bytes = models.PositiveBigIntegerField()
    is_sealed = models.BooleanField()
    holds = models.JSONField(default=dict)
    """What is in it, counted, and the labels of horses and saddles."""
    deleted_at = models.DateTimeField(null=True)
    """When its file was deleted."""

    class Meta:
        """Listed by practice, the newest first."""

        indexes: ClassVar = [models.Index(fields=["practice", "made_at"])]

    def __str__(self) -> str:
        return self.label


class TakenPack(models.Model):
    """A pack that was taken: from whom, under which key, with the signature and what it holds over."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="+")
    pack_uuid = models.UUIDField()
    partner = models.ForeignKey(Partner, on_delete=models.PROTECT, null=True, related_name="+")
    """None where it is one's own."""
    sender_label = models.CharField(max_length=_WORDS)
    sender_person = models.CharField(max_length=_WORDS, blank=True)
    fingerprint = models.CharField(max_length=40)
    sent_at = models.DateTimeField()
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    tag_manifest_sha256 = models.CharField(max_length=64)
    proof = models.JSONField()
    answers = models.UUIDField(null=True)
    message = models.TextField(blank=True)
    work_done = models.JSONField(default=list)
    questions = models.JSONField(default=list)

    class Meta:
        """The same content is taken once, however it was packed."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["practice", "tag_manifest_sha256"], name="a_pack_is_taken_once")
        ]

    def __str__(self) -> str:
        return self.sender_label


class TakenRecord(models.Model):
    """Which record here is which one there; it names both by uuid alone."""

    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="+")
    pack = models.ForeignKey(TakenPack, on_delete=models.PROTECT, related_name="records")
    subject = models.CharField(max_length=16)
    origin_uuid = models.UUIDField()
    """As it was named where it was first recorded."""
    local_uuid = models.UUIDField()
    sha256 = models.CharField(max_length=64, blank=True)
    """Of the document or picture as it came."""

    class Meta:
        """A record there is one record here, with each of its documents once."""

        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["practice", "subject", "origin_uuid", "sha256"], name="a_record_comes_once"
            )
        ]
        indexes: ClassVar = [models.Index(fields=["practice", "local_uuid"])]

    def __str__(self) -> str:
        return f"{self.subject} {self.local_uuid}"


class PackLink(models.Model):
    """An address by which one pack can be fetched; only a digest of its secret is kept."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="+")
    pack = models.ForeignKey(SentPack, on_delete=models.PROTECT, related_name="links")
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    most_uses = models.PositiveIntegerField()
    uses = models.PositiveIntegerField(default=0)
    used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"{self.uses} of {self.most_uses}"
