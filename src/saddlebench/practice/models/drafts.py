"""What somebody typed of a saddle's measures and has not recorded yet."""

from typing import ClassVar

from django.conf import settings
from django.db import models

from saddlebench.practice.models.horses import Saddle


class SaddleDraft(models.Model):
    """One person's unrecorded numbers of one saddle, to be taken up on another device."""

    practice = models.ForeignKey("practice.Practice", on_delete=models.PROTECT, related_name="+")
    saddle = models.ForeignKey(Saddle, on_delete=models.CASCADE, related_name="drafts")
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    saved_at = models.DateTimeField()
    family = models.CharField(max_length=24)
    """As a saddle file calls it."""
    seen = models.PositiveIntegerField()
    """The number of the version that it began from."""
    texts = models.JSONField()
    """What stands in each field, as typed."""

    class Meta:
        """Everybody has one of a saddle; nobody writes over another's."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["saddle", "made_by"], name="one_draft_of_a_saddle_each")
        ]
