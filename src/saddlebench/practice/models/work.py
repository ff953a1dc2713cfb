"""What is to be done to saddles, and which saddle instead: plans, work orders, choices from the stock."""

from typing import ClassVar

from django.db import models

from saddlebench.practice.models.accounts import Membership
from saddlebench.practice.models.base import Kept, Once, Withdrawable
from saddlebench.practice.models.horses import Horse, Saddle
from saddlebench.practice.models.records import Study

_SHA = 64


class Plan(Withdrawable):
    """An alteration plan as it came out, never changed; another look makes another plan.

    The run of the fit check is named by its number: an erasure may write a run anew.
    """

    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="plans")
    saddle = models.ForeignKey(Saddle, on_delete=models.PROTECT, related_name="plans")
    study = models.ForeignKey(Study, on_delete=models.PROTECT, related_name="plans")
    run = models.PositiveIntegerField()
    told = models.JSONField()
    """The plan in short, as lists show it."""
    schema_id = models.CharField(max_length=200)
    document = models.TextField()
    sha256 = models.CharField(max_length=_SHA)
    engine_version = models.CharField(max_length=40)

    class Meta:
        """Listed by fit check."""

        indexes: ClassVar = [models.Index(fields=["practice", "study"], name="plans_of_study")]


class WorkOrder(Kept):
    """A work order; what it says, and where it is, stands in its states, the last of which holds."""

    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, related_name="orders")
    saddle = models.ForeignKey(Saddle, on_delete=models.PROTECT, related_name="orders")
    plan_uuid = models.UUIDField()
    number = models.CharField(max_length=40)
    workshop = models.ForeignKey(Membership, on_delete=models.PROTECT, null=True, related_name="+")
    """The member who is to do it; empty: any workshop of the practice, or one outside."""
    step = models.CharField(max_length=20)
    """Where it is; as its last state says, kept here for lists."""
    due_on = models.DateField(null=True)

    class Meta:
        """Numbers are the practice's own."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["practice", "number"], name="order_number_once")
        ]
        indexes: ClassVar = [models.Index(fields=["practice", "step", "due_on"], name="orders_by_step")]


class OrderState(Once):
    """A work order from one moment on: the whole of its document, and who moved it on."""

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="states")
    number = models.PositiveIntegerField()
    step = models.CharField(max_length=20)
    said = models.CharField(max_length=500, blank=True)
    mended = models.JSONField(default=list)
    """Those of the unsafe things that are mended, in their words."""
    checked_mm = models.JSONField(default=list)
    """What was measured place by place when it came back; null where nothing was."""
    schema_id = models.CharField(max_length=200)
    document = models.TextField()
    sha256 = models.CharField(max_length=_SHA)

    class Meta:
        """States are counted from 1."""

        constraints: ClassVar = [models.UniqueConstraint(fields=["order", "number"], name="order_state_once")]


class Choice(Withdrawable):
    """A shortlist, the horses for one saddle, or a season: as it came out that day, never changed."""

    kind = models.CharField(max_length=16)
    horse = models.ForeignKey(Horse, on_delete=models.PROTECT, null=True, related_name="choices")
    saddle = models.ForeignKey(Saddle, on_delete=models.PROTECT, null=True, related_name="choices")
    asked = models.JSONField()
    """What it was asked with."""
    document = models.TextField()
    sha256 = models.CharField(max_length=_SHA)
    engine_version = models.CharField(max_length=40)

    class Meta:
        """Listed by practice, the newest first."""

        indexes: ClassVar = [models.Index(fields=["practice", "kind"], name="choices_by_kind")]
