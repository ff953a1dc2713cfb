"""Horses and saddles as a pack holds them: what fitting needs, and nothing about their owners."""

from saddlebench.exchange.packs.document import HorsePart, SaddlePart
from saddlebench.practice.handover.sights import Named
from saddlebench.practice.models import Horse, Saddle


def horse_part(horse: Horse, named: Named) -> HorsePart:
    """Return a horse's part of a pack."""
    return HorsePart(
        uuid=named(horse),
        label=horse.label,
        registered_name=horse.registered_name,
        microchip=horse.microchip,
        ueln=horse.ueln,
        born_in=horse.born_in,
        breed_type=horse.breed_type,
        breed=horse.breed,
        colour=horse.colour,
        height_cm=horse.height_cm,
        work=horse.work,
        discipline=horse.discipline,
        rider_mass_kg=horse.rider_mass_kg,
    )


def saddle_part(saddle: Saddle, named: Named) -> SaddlePart:
    """Return a saddle's part of a pack."""
    return SaddlePart(
        uuid=named(saddle),
        label=saddle.label,
        family=saddle.family,
        maker=saddle.maker,
        serial=saddle.serial,
        seat_size_in=saddle.seat_size_in,
        colour=saddle.colour,
        made_in=saddle.made_in,
    )
