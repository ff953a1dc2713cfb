"""A practice's own limits: each change of one is a row; the latest counts."""

from typing import ClassVar

from django.db import models

from saddlebench.practice.models.base import Once


class OwnLimit(Once):
    """What a practice set a limit to, or that it went back to the default."""

    practice = models.ForeignKey("practice.Practice", on_delete=models.PROTECT, related_name="+")
    finding = models.CharField(max_length=80)
    measure = models.CharField(max_length=80)
    part = models.CharField(max_length=8, blank=True)
    families = models.JSONField()
    """The families of saddle that it is for."""
    ends = models.JSONField(null=True)
    """The closed ends of its two ranges by name; None: back to the default."""

    class Meta:
        """Read by practice, in the order in which they were set."""

        indexes: ClassVar = [models.Index(fields=["practice", "id"])]
