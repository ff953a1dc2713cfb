"""Clients, yards, horses and saddles."""

from typing import ClassVar

from django.db import models

from saddlebench.practice.enums import Family, Holding
from saddlebench.practice.models.base import Kept

_WORDS = 200


class Client(Kept):
    """A person who owns or brings horses."""

    organisation = models.CharField(max_length=_WORDS, blank=True)
    email = models.CharField(max_length=_WORDS, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    phone_2 = models.CharField(max_length=40, blank=True)
    street = models.CharField(max_length=_WORDS, blank=True)
    town = models.CharField(max_length=_WORDS, blank=True)
    postcode = models.CharField(max_length=20, blank=True)
    country = models.CharField(max_length=60, blank=True)
    guardian = models.CharField(max_length=_WORDS, blank=True)
    terms_agreed_on = models.DateField(null=True)
    note = models.TextField(blank=True)


class Yard(Kept):
    """A place where horses stand."""

    street = models.CharField(max_length=_WORDS, blank=True)
    town = models.CharField(max_length=_WORDS, blank=True)
    postcode = models.CharField(max_length=20, blank=True)
    country = models.CharField(max_length=60, blank=True)
    ground = models.CharField(max_length=_WORDS, blank=True)
    note = models.TextField(blank=True)


class Horse(Kept):
    """A horse, whoever owns it now."""

    client = models.ForeignKey(Client, on_delete=models.PROTECT, null=True, related_name="horses")
    yard = models.ForeignKey(Yard, on_delete=models.PROTECT, null=True, related_name="horses")
    registered_name = models.CharField(max_length=_WORDS, blank=True)
    microchip = models.CharField(max_length=15, blank=True)
    ueln = models.CharField(max_length=15, blank=True)
    born_in = models.PositiveSmallIntegerField(null=True)
    breed_type = models.CharField(max_length=16, blank=True)
    breed = models.CharField(max_length=_WORDS, blank=True)
    colour = models.CharField(max_length=_WORDS, blank=True)
    height_cm = models.FloatField(null=True)
    work = models.CharField(max_length=16, blank=True)
    discipline = models.CharField(max_length=_WORDS, blank=True)
    rider = models.CharField(max_length=_WORDS, blank=True)
    rider_mass_kg = models.FloatField(null=True)
    rider_height_cm = models.FloatField(null=True)
    note = models.TextField(blank=True)
    found_by = models.TextField(blank=True)
    """What it can be found by, folded: its own words and its saddles'."""
    found_by_people = models.TextField(blank=True)
    """The same of its people and yard, apart: not everybody may look for these."""

    class Meta:
        """A chip and a life number are of one horse; nothing else is unique about horses."""

        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["practice", "microchip"],
                condition=models.Q(withdrawn_at=None) & ~models.Q(microchip=""),
                name="one_horse_a_microchip",
            ),
            models.UniqueConstraint(
                fields=["practice", "ueln"],
                condition=models.Q(withdrawn_at=None) & ~models.Q(ueln=""),
                name="one_horse_a_life_number",
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["practice", "label"])]


class Saddle(Kept):
    """A saddle: a client's, or in stock. Its measured record is in versions; one of them is current."""

    client = models.ForeignKey(Client, on_delete=models.PROTECT, null=True, related_name="saddles")
    holding = models.CharField(max_length=8, default=Holding.CLIENT.value)
    horses = models.ManyToManyField(Horse, related_name="saddles")
    family = models.CharField(max_length=16, blank=True)
    maker = models.CharField(max_length=_WORDS, blank=True)
    serial = models.CharField(max_length=_WORDS, blank=True)
    seat_size_in = models.FloatField(null=True)
    colour = models.CharField(max_length=_WORDS, blank=True)
    made_in = models.PositiveSmallIntegerField(null=True)
    where_kept = models.CharField(max_length=_WORDS, blank=True)
    note = models.TextField(blank=True)
    current = models.ForeignKey(
        "practice.SaddleVersion", on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        """Stock belongs to nobody else."""

        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(family__in=["", *(family.value for family in Family)]),
                name="family_is_known",
            ),
            models.CheckConstraint(
                condition=~models.Q(holding=Holding.STOCK.value) | models.Q(client=None),
                name="stock_has_no_client",
            ),
        ]
