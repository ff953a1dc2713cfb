"""Long work that was asked for: what, by whom, how far it is, and what came of it."""

import uuid as uuids
from typing import ClassVar

from django.conf import settings
from django.db import models

from saddlebench.practice.models.accounts import Practice


class Job(models.Model):
    """One piece of long work; the queue beside it says only whose turn it is."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="+")
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=16)
    """The role it was asked in: that of a token may be less than its maker's."""
    action = models.CharField(max_length=32)
    """What one must be allowed to do to stop it or to ask for it again."""
    work = models.CharField(max_length=200)
    """The function that does it, as an importable name."""
    arguments = models.JSONField()
    words = models.CharField(max_length=300)
    state = models.CharField(max_length=12)
    done = models.PositiveIntegerField(default=0)
    of = models.PositiveIntegerField(default=0)
    doing = models.CharField(max_length=300, default="", blank=True)
    so_far = models.JSONField(default=list)
    """What can be looked at before the end."""
    leads_to = models.CharField(max_length=300, default="", blank=True)
    back_to = models.CharField(max_length=300, default="", blank=True)
    said = models.TextField(default="", blank=True)
    """What came of it, in words."""
    asked_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    stop_asked_at = models.DateTimeField(null=True)

    class Meta:
        """Listed by practice, the newest first; found by state when the process starts."""

        indexes: ClassVar = [
            models.Index(fields=["practice", "asked_at"]),
            models.Index(fields=["state"]),
        ]

    def __str__(self) -> str:
        return self.words
