"""The facts at the head of a report, written as its reader writes them."""

from saddlebench.engine.units import Length
from saddlebench.exchange.readers import Language, Reader
from saddlebench.practice.estimates import height_as_hands
from saddlebench.practice.queries.report_facts import HorseFacts, StudyFacts
from saddlebench.report.setting import Fact

NO_BREAK = "\u00a0"


def facts_of_study(held: StudyFacts, reader: Reader) -> tuple[Fact, ...]:
    """Return horse, saddle and day for a report of a fit check."""
    seat = f"{held.seat_size_in:g}" if held.seat_size_in else ""
    saddle = (
        ("Maker", held.maker),
        ("Number on the saddle", held.serial),
        ("Seat", f"{reader.number(seat)}{NO_BREAK}in" if seat else ""),
        ("Measured on", reader.day(held.measured_on)),
    )
    return (*facts_of_horse(held.horse, reader), *_filled(saddle))


def facts_of_horse(horse: HorseFacts, reader: Reader) -> tuple[Fact, ...]:
    """Return a horse for a report; its height in hands too where the reader knows them."""
    return _filled(
        (
            ("Horse", horse.label),
            ("Breed", horse.breed),
            ("Born in", str(horse.born_in or "")),
            ("Height", _height(horse.height_cm, reader)),
            ("Discipline", horse.discipline),
        )
    )


def _filled(pairs: tuple[tuple[str, str], ...]) -> tuple[Fact, ...]:
    return tuple(Fact(name=name, value=value) for name, value in pairs if value)


def _height(height_cm: float | None, reader: Reader) -> str:
    if not height_cm:
        return ""
    metric = reader.number(f"{height_cm:g}") + f"{NO_BREAK}cm"
    if reader.language is Language.GERMAN:
        return metric
    hands = f"{height_as_hands(height_cm)}{NO_BREAK}hands"
    first, second = (hands, metric) if reader.length is Length.INCH else (metric, hands)
    return f"{first} ({second})"
