"""What was worked out from several records of a horse, and each back in numbers, kept for trends."""

import uuid as uuids
from typing import ClassVar

from django.db import models

from saddlebench.practice.models.base import LABEL_LENGTH, Once
from saddlebench.practice.models.horses import Horse


class Comparison(Once):
    """A change, a hand checked, or saddles judged on backs of several days: written once, never changed.

    Versions are named, not linked: an erasure may write a version anew under its own uuid.
    """

    practice = models.ForeignKey("practice.Practice", on_delete=models.PROTECT, related_name="+")
    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="comparisons")
    kind = models.CharField(max_length=16)
    label = models.CharField(max_length=LABEL_LENGTH)
    asked = models.CharField(max_length=64)
    """SHA-256 of all that it was made of: asked again, it is there already."""
    made_of = models.JSONField()
    """Which versions, and whose errors were in use."""
    told = models.JSONField()
    """The result in short, as lists and later comparisons need it."""
    schema_id = models.CharField(max_length=200)
    document = models.TextField()
    sha256 = models.CharField(max_length=64)
    engine_version = models.CharField(max_length=40)

    class Meta:
        """The same is worked out once."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["practice", "kind", "asked"], name="comparison_once")
        ]
        indexes: ClassVar = [models.Index(fields=["horse", "kind"], name="comparison_of_horse")]

    def __str__(self) -> str:
        return self.label


class BackNumbers(models.Model):
    """One version of a back in numbers: nothing of its own, all of it can be worked out from the version."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="back_numbers")
    version_uuid = models.UUIDField()
    asked = models.CharField(max_length=64)
    """SHA-256 of the version's document and of the errors that were in use."""
    numbers = models.JSONField()
    engine_version = models.CharField(max_length=40)

    class Meta:
        """One for each version."""

        constraints: ClassVar = [models.UniqueConstraint(fields=["version_uuid"], name="back_numbers_once")]

    def __str__(self) -> str:
        return str(self.version_uuid)
