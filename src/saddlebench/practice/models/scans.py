"""Scans brought to a horse or a saddle: their files as they came, and what people said of them."""

from typing import ClassVar

from django.db import models

from saddlebench.practice.models.base import Kept, Once
from saddlebench.practice.models.horses import Horse, Saddle
from saddlebench.practice.models.records import Back
from saddlebench.practice.models.visits import Visit


class Scan(Kept):
    """A scan of a horse, in one file or in pieces; withdrawn, it is set aside and can be taken up again."""

    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="scans")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, null=True, related_name="scans")
    measured_on = models.DateField()
    up = models.CharField(max_length=2, blank=True)
    """Axis that a person stated as up; empty: found from the ground."""
    head = models.CharField(max_length=2, blank=True)
    """Axis that a person stated as towards the head; empty: found from the shape."""
    level_by = models.CharField(max_length=16, blank=True, default="")
    """What a person stated as level: an axis of the scan, or the ground; empty: found."""
    unit = models.CharField(max_length=2, blank=True)
    """Of the files, as stated when several were brought: pieces are laid on each other in mm. Else empty."""
    common = models.JSONField(default=list)
    """For each piece the places [x, y, z] that were marked on every piece, its own axes and unit."""
    marking = models.JSONField(default=list)
    """Every mark as it was set, confirmed or taken back, in order; taking back is an entry of its own."""
    back = models.ForeignKey(Back, on_delete=models.PROTECT, null=True, related_name="+")
    """The back that was recorded from it."""

    class Meta:
        """Listed by horse and by visit."""

        indexes: ClassVar = [models.Index(fields=["horse", "made_at"], name="scan_of_horse")]


class ScanFile(Once):
    """One file of a scan, a raw reading: its bytes lie among the kept files, named by their hash."""

    scan = models.ForeignKey(Scan, on_delete=models.PROTECT, related_name="files")
    order = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=200)
    """As it was called when it came."""
    suffix = models.CharField(max_length=8)
    sha256 = models.CharField(max_length=64)
    size_bytes = models.BigIntegerField()

    class Meta:
        """Read in order, found by hash when files are erased."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["scan", "order"], name="scan_file_order_once")
        ]
        indexes: ClassVar = [models.Index(fields=["sha256"], name="scan_file_by_hash")]


class SaddleScan(Once):
    """A scan of a saddle lying upside down, a raw reading: its bytes lie among the kept files."""

    saddle = models.ForeignKey(Saddle, on_delete=models.PROTECT, related_name="scans")
    name = models.CharField(max_length=200)
    """As it was called when it came."""
    suffix = models.CharField(max_length=8)
    sha256 = models.CharField(max_length=64)
    size_bytes = models.BigIntegerField()
    unit = models.CharField(max_length=2)
    """As it was stated when the scan came; looked at again, another may be stated."""

    class Meta:
        """Listed by saddle, found by hash when files are erased."""

        indexes: ClassVar = [
            models.Index(fields=["saddle", "made_at"], name="scan_of_saddle"),
            models.Index(fields=["sha256"], name="saddle_scan_by_hash"),
        ]
