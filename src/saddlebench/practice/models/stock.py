"""Saddles in stock: where each is and what it is for, row after row; the last one holds."""

from typing import ClassVar

from django.db import models

from saddlebench.practice.models.base import Once
from saddlebench.practice.models.horses import Client, Saddle

_WORDS = 200


class StockState(Once):
    """What was known of a saddle in stock from one moment on; the last row of a saddle holds."""

    saddle = models.ForeignKey(Saddle, on_delete=models.PROTECT, related_name="stock_states")
    number = models.PositiveIntegerField()
    stock_number = models.CharField(max_length=40)
    """The shop's own number, as on the label."""
    where = models.CharField(max_length=8)
    place = models.CharField(max_length=_WORDS, blank=True)
    flap = models.CharField(max_length=_WORDS, blank=True)
    flap_mm = models.FloatField(null=True)
    discipline = models.CharField(max_length=_WORDS, blank=True)
    condition = models.CharField(max_length=_WORDS, blank=True)
    price = models.FloatField(null=True)
    currency = models.CharField(max_length=3, blank=True)
    reserved_for = models.ForeignKey(Client, on_delete=models.PROTECT, null=True, related_name="+")
    on_trial_with = models.ForeignKey(Client, on_delete=models.PROTECT, null=True, related_name="+")
    on_trial_until = models.DateField(null=True)

    class Meta:
        """States are counted from 1."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["saddle", "number"], name="stock_state_once"),
        ]
