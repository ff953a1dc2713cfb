"""Backs being measured, reading by reading, and the practice's own instruments."""

from django.db import models

from saddlebench.practice.models.base import Kept
from saddlebench.practice.models.horses import Horse
from saddlebench.practice.models.records import Back
from saddlebench.practice.models.visits import Visit


class Capture(Kept):
    """A back while it is measured; its readings are its entries, and the finished back has its uuid."""

    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="captures")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, null=True, related_name="captures")
    measured_on = models.DateField()
    instrument = models.TextField()
    """The instrument's description in full, as it was when the first reading was taken."""
    finished_at = models.DateTimeField(null=True)
    rebuild_of = models.ForeignKey(Back, on_delete=models.PROTECT, null=True, related_name="+")
    """The back whose rebuild is measured; null: the horse itself is."""
    rebuild_number = models.PositiveIntegerField(null=True)
    """Of the version that was rebuilt."""


class Instrument(Kept):
    """An instrument that the practice described itself."""

    document = models.TextField()
    """Its description, as an instrument file holds it (JSON)."""
