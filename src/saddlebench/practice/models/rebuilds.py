"""Backs that are rebuilt elsewhere: what is being set on an instrument, and rebuilds that were measured."""

from typing import ClassVar

from django.db import models

from saddlebench.practice.models.base import Kept, Once
from saddlebench.practice.models.horses import Horse
from saddlebench.practice.models.records import Back


class Rebuild(Kept):
    """A version of a back being set on an instrument, with the readings as they were set so far."""

    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="rebuilds")
    back = models.ForeignKey(Back, on_delete=models.PROTECT, related_name="rebuilds")
    number = models.PositiveIntegerField()
    """Of the version that is rebuilt."""
    instrument = models.TextField()
    """The instrument's description in full, as it was when the settings were made."""
    tolerance_mm = models.FloatField()
    as_set = models.JSONField(default=dict)
    """By the name of a setting: true where it stands as asked, else the reading that was typed in."""


class RebuildCheck(Once):
    """A rebuild as it was measured, with what it is compared with; never one of the horse's own backs."""

    practice = models.ForeignKey("practice.Practice", on_delete=models.PROTECT, related_name="+")
    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="rebuild_checks")
    back = models.ForeignKey(Back, on_delete=models.PROTECT, related_name="rebuild_checks")
    number = models.PositiveIntegerField()
    """Of the version that was rebuilt."""
    capture_uuid = models.UUIDField(null=True)
    """The measuring that it came from; null: it came as a file."""
    measured_on = models.DateField()
    instrument = models.CharField(max_length=200)
    """Name of what the rebuild was measured with."""
    tolerance_mm = models.FloatField()
    document = models.TextField()
    """A back record of the rebuild, byte for byte."""
    sha256 = models.CharField(max_length=64)
    engine_version = models.CharField(max_length=40)

    class Meta:
        """Listed by back, the newest first."""

        indexes: ClassVar = [models.Index(fields=["back", "made_at"], name="rebuild_check_of_back")]
