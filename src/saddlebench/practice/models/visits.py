"""Visits: their answers field by field, the saddles tried, advice, photos, and when to come back."""

import uuid as uuids
from typing import ClassVar

from django.db import models

from saddlebench.practice.enums import Purpose, VisitState
from saddlebench.practice.models.accounts import User
from saddlebench.practice.models.base import Kept, Once
from saddlebench.practice.models.horses import Horse, Saddle, Yard


class Visit(Kept):
    """One horse, one day, one purpose."""

    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, null=True, related_name="visits")
    """May be said later: a visit starts before the client record does."""
    yard = models.ForeignKey(Yard, on_delete=models.PROTECT, null=True, related_name="visits")
    date = models.DateField()
    """The calendar day where the horse stands, whatever the clock of the server says."""
    starts_at = models.TimeField(null=True)
    """The hour in the visit's own zone."""
    zone = models.CharField(max_length=64)
    purpose = models.CharField(max_length=16)
    state = models.CharField(max_length=16, default=VisitState.OPEN.value)

    class Meta:
        """Read by day."""

        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(state__in=[state.value for state in VisitState]), name="state_is_known"
            ),
            models.CheckConstraint(
                condition=models.Q(purpose__in=[purpose.value for purpose in Purpose]),
                name="purpose_is_known",
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["practice", "date"])]


class VisitSaddle(models.Model):
    """A saddle tried at a visit: its condition, the four states, how it was ridden."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="tried")
    saddle = models.ForeignKey(Saddle, on_delete=models.PROTECT, related_name="tried_at")
    order = models.PositiveSmallIntegerField()
    revision = models.PositiveIntegerField(default=0)
    taken_off_at = models.DateTimeField(null=True)
    """When it was taken off the visit: what was entered about it stays, and it can be put back."""

    class Meta:
        """A saddle is tried once a visit."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["visit", "saddle"], name="saddle_tried_once_a_visit")
        ]

    def __str__(self) -> str:
        return f"{self.visit_id} {self.saddle_id}"


class Answer(models.Model):
    """What a field of a visit holds now; how it came to that is in the entries."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="answers")
    subject_uuid = models.UUIDField()
    """The visit, or a saddle tried at it."""
    field = models.CharField(max_length=80)
    value = models.JSONField(null=True)
    revision = models.PositiveIntegerField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        """One answer a field."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["subject_uuid", "field"], name="one_answer_a_field")
        ]

    def __str__(self) -> str:
        return self.field


class Advice(Once):
    """Advice given, and whether it was declined: with its time, and never edited."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="advice")
    said = models.TextField()
    is_declined = models.BooleanField(default=False)
    declined_by = models.CharField(max_length=200, blank=True)


class Photo(Kept):
    """A picture or short film: what is known about it. Its bytes lie in the files folder, named by hash."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, null=True, related_name="photos")
    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, null=True, related_name="photos")
    saddle = models.ForeignKey(Saddle, on_delete=models.PROTECT, null=True, related_name="photos")
    shot = models.CharField(max_length=48, blank=True)
    """Which of the practice's shots it is."""
    media_type = models.CharField(max_length=40)
    sha256 = models.CharField(max_length=64)
    original_sha256 = models.CharField(max_length=64)
    """Of the file as the camera made it, before anything was converted or taken out."""
    size_bytes = models.PositiveBigIntegerField()
    width_px = models.PositiveIntegerField(null=True)
    height_px = models.PositiveIntegerField(null=True)
    taken_at = models.DateTimeField(null=True)
    flaws = models.JSONField(default=list)
    """What the check found, until it is kept anyway or withdrawn."""
    kept_anyway = models.JSONField(default=list)
    """What the check found and the person kept: dark, blurred, small, horizon."""
    drawn = models.JSONField(default=list)
    note = models.TextField(blank=True)


class Recheck(Kept):
    """When a horse should be seen again, why, and the visit that answered it."""

    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="rechecks")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, null=True, related_name="rechecks")
    due_from = models.DateField()
    due_by = models.DateField()
    reason = models.CharField(max_length=16)
    done_visit = models.ForeignKey(Visit, on_delete=models.PROTECT, null=True, related_name="answers_recheck")

    class Meta:
        """Read by day."""

        indexes: ClassVar = [models.Index(fields=["practice", "due_by"])]
