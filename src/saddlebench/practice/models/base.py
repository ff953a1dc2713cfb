"""What every record has: `id` for joins, `uuid` outside, `label` for people."""

import uuid as uuids
from typing import Self, TypeVar

from django.conf import settings
from django.db import models

LABEL_LENGTH = 200
_Row = TypeVar("_Row", bound=models.Model)


class StandingQuerySet(models.QuerySet[_Row]):
    """Rows of one practice, with or without those withdrawn."""

    def of(self, practice_id: int) -> Self:
        """Return the rows of a practice."""
        return self.filter(practice_id=practice_id)

    def standing(self) -> Self:
        """Return the rows that are not withdrawn."""
        return self.filter(withdrawn_at=None)


StandingManager = models.Manager.from_queryset(StandingQuerySet)


class Withdrawable(models.Model):
    """A record of a practice that can be withdrawn and put back."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    practice = models.ForeignKey("practice.Practice", on_delete=models.PROTECT, related_name="+")
    label = models.CharField(max_length=LABEL_LENGTH)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    objects = StandingManager()

    class Meta:
        """No table of its own."""

        abstract = True

    def __str__(self) -> str:
        return self.label


class Kept(Withdrawable):
    """A record that can be edited besides."""

    revision = models.PositiveIntegerField(default=0)
    """Counts the saved entries, so that two editors notice each other."""

    class Meta:
        """No table of its own."""

        abstract = True


class Once(models.Model):
    """A row that is written once; the database refuses to update it, and to delete it outside an erasure."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        """No table of its own."""

        abstract = True
