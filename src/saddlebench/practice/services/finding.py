"""The text that a horse is found by, kept with the horse: folded, so that accents and case do not matter."""

import unicodedata
from collections.abc import Iterable

from django.db.models import Prefetch

from saddlebench.practice.estimates import height_as_hands
from saddlebench.practice.models import Horse, Saddle

_BATCH = 500


def folded(text: str) -> str:
    """Return text as it is searched: lower case, without accents, single blanks."""
    # No record holds a zero byte, and a database server refuses to be asked for one.
    decomposed = unicodedata.normalize("NFKD", text.replace("\0", " ").casefold())
    return " ".join("".join(c for c in decomposed if not unicodedata.combining(c)).split())


def _own_words(horse: Horse) -> list[object]:
    height = height_as_hands(horse.height_cm) if horse.height_cm else ""
    words: list[object] = [
        *(horse.label, horse.registered_name, horse.microchip, horse.ueln, horse.born_in),
        *(horse.breed_type, horse.breed, horse.colour, height, horse.work, horse.discipline, horse.note),
    ]
    for saddle in horse.saddles.all():
        words += [saddle.label, saddle.maker, saddle.serial, saddle.family, saddle.colour]
    return words


def _people_words(horse: Horse) -> list[object]:
    words: list[object] = [horse.rider]
    if horse.client:
        c = horse.client
        words += [c.label, c.organisation, c.email, c.phone, c.phone_2, c.street, c.town, c.postcode]
    if horse.yard:
        words += [horse.yard.label, horse.yard.street, horse.yard.town, horse.yard.postcode]
    return words


def _joined(words: list[object]) -> str:
    return folded(" | ".join(str(word) for word in words if word))


def refresh_found_by(horse_ids: Iterable[int]) -> None:
    """Write the search text of these horses anew."""
    ids = sorted(set(horse_ids))
    for start in range(0, len(ids), _BATCH):
        standing = Prefetch("saddles", Saddle.objects.standing())
        horses = Horse.objects.filter(id__in=ids[start : start + _BATCH])
        rows = list(horses.select_related("client", "yard").prefetch_related(standing))
        for horse in rows:
            horse.found_by = _joined(_own_words(horse))
            horse.found_by_people = _joined(_people_words(horse))
        Horse.objects.bulk_update(rows, ["found_by", "found_by_people"])
