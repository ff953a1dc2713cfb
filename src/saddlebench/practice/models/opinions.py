"""What the fitter said of a saddle before the program did, and what the program said; both stay."""

from typing import ClassVar

from django.db import models

from saddlebench.practice.models.base import Once
from saddlebench.practice.models.horses import Horse


class Opinion(Once):
    """One opinion on one topic of one fit check; the fitter's is there before the check is run."""

    practice = models.ForeignKey("practice.Practice", on_delete=models.PROTECT, related_name="+")
    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="opinions")
    study_uuid = models.UUIDField()
    """The fit check that was about to be run; chosen by the page that asked."""
    topic = models.CharField(max_length=16)
    judge = models.CharField(max_length=8)
    said = models.CharField(max_length=16)

    class Meta:
        """Everybody says one thing on a topic."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["study_uuid", "topic", "judge"], name="one_opinion_each"),
        ]
        indexes: ClassVar = [models.Index(fields=["practice", "topic"])]
