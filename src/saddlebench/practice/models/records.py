"""Backs, saddles and fit checks as they were recorded: versions that never change, and a pointer to one."""

from typing import ClassVar

from django.db import models

from saddlebench.practice.models.base import Kept, Once
from saddlebench.practice.models.horses import Horse, Saddle
from saddlebench.practice.models.visits import Visit


class Version(Once):
    """One version of a record: the document as it came, byte for byte."""

    number = models.PositiveIntegerField()
    schema_id = models.CharField(max_length=200)
    document = models.TextField()
    sha256 = models.CharField(max_length=64)
    """Of the document's UTF-8 bytes."""
    why = models.CharField(max_length=200, blank=True)
    """Why a later version was made."""
    engine_version = models.CharField(max_length=40)

    class Meta:
        """No table of its own."""

        abstract = True


class Back(Kept):
    """One horse's back as measured on one day; corrections are further versions."""

    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="backs")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, null=True, related_name="backs")
    measured_on = models.DateField()
    current = models.ForeignKey("practice.BackVersion", on_delete=models.PROTECT, null=True, related_name="+")


class BackVersion(Version):
    """One version of a back record."""

    back = models.ForeignKey(Back, on_delete=models.PROTECT, related_name="versions")

    class Meta:
        """Versions are counted from 1."""

        constraints: ClassVar = [models.UniqueConstraint(fields=["back", "number"], name="back_version_once")]


class SaddleVersion(Version):
    """One version of a saddle record."""

    saddle = models.ForeignKey(Saddle, on_delete=models.PROTECT, related_name="versions")

    class Meta:
        """Versions are counted from 1."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["saddle", "number"], name="saddle_version_once")
        ]


class Study(Kept):
    """A fit check of one saddle on one back, with what is common to its runs."""

    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="studies")
    saddle = models.ForeignKey(Saddle, on_delete=models.PROTECT, related_name="studies")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, null=True, related_name="studies")
    current = models.ForeignKey(
        "practice.StudyVersion", on_delete=models.PROTECT, null=True, related_name="+"
    )


class StudyVersion(Version):
    """One run: its result, and exactly which versions it was run on."""

    study = models.ForeignKey(Study, on_delete=models.PROTECT, related_name="versions")
    back_version = models.ForeignKey(BackVersion, on_delete=models.PROTECT, related_name="studies")
    saddle_version = models.ForeignKey(SaddleVersion, on_delete=models.PROTECT, related_name="studies")

    class Meta:
        """Versions are counted from 1."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["study", "number"], name="study_version_once")
        ]
