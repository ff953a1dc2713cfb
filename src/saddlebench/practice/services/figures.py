"""A practice's own errors in place of the instruments' stated ones: whose, since when, and why."""

import hashlib
import uuid as uuids
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.models import Back, Comparison
from saddlebench.practice.rules import Actor, require

if TYPE_CHECKING:
    from saddlebench.engine.back.instruments import Instrument
    from saddlebench.engine.change.repeat.own import OwnErrors, Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class Exercise:
    """One exercise that a figure rests on."""

    uuid: uuids.UUID
    horse: str
    day: str
    n_repeats: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """What one fitter's repeats with one instrument say, and what is in use because of it."""

    fitter_id: int
    fitter: str
    instrument: str
    instrument_key: str
    own: "OwnErrors"
    exercises: tuple[Exercise, ...]

    def as_used(self) -> dict[str, Any]:
        """Return what a record of its use says of it."""
        return {
            "fitter": self.fitter,
            "instrument": self.instrument,
            "in_use": self.own.in_use.value,
            "applied": round(self.own.applied, 6),
            "why": self.own.why,
            "exercises": [str(one.uuid) for one in self.exercises],
        }


def instrument_key(instrument: "Instrument") -> str:
    """Return what an instrument's description is told apart by; its name may be given twice."""
    from saddlebench.exchange.instruments import instrument_text  # noqa: PLC0415

    return hashlib.sha256(instrument_text(instrument).encode()).hexdigest()[:16]


def own_figures(actor: Actor | None) -> tuple[Figure, ...]:
    """Return the practice's own figures, one for each fitter and instrument that was checked.

    An exercise counts as long as every back of it stands: withdrawing one takes the exercise out.
    """
    allowed = require(actor, Action.SEE_HORSES)
    rows = list(
        Comparison.objects.filter(practice_id=allowed.practice_id, kind=ComparisonKind.HAND.value)
        .select_related("horse")
        .defer("document")
        .order_by("id")
    )
    # The engine loads numba: seconds that a practice without exercises should not wait for.
    return _figures(allowed, rows) if rows else ()


def _figures(allowed: Actor, rows: Sequence[Comparison]) -> tuple[Figure, ...]:
    from saddlebench.engine.change.repeat.own import Ratio, own_errors  # noqa: PLC0415
    from saddlebench.engine.errors import Undetermined  # noqa: PLC0415

    gone = Back.objects.of(allowed.practice_id).exclude(withdrawn_at=None).values_list("uuid", flat=True)
    withdrawn = {str(uuid) for uuid in gone}
    held: dict[tuple[int, str], list[Comparison]] = {}
    for row in rows:
        if not withdrawn & {one["back"] for one in row.made_of["backs"]}:
            held.setdefault((row.told["fitter_id"], row.told["instrument_key"]), []).append(row)
    figures = []
    for (fitter, key), those in held.items():
        own = own_errors([Ratio(**row.told["ratio"]) for row in those])
        if not isinstance(own, Undetermined):
            figures.append(_figure(fitter, key, own, those))
    return tuple(figures)


def _figure(fitter: int, key: str, own: "OwnErrors", rows: Sequence[Comparison]) -> Figure:
    told = rows[-1].told
    return Figure(
        fitter_id=fitter,
        fitter=told["fitter"],
        instrument=told["instrument"],
        instrument_key=key,
        own=own,
        exercises=tuple(
            Exercise(
                uuid=row.uuid,
                horse=row.horse.label,
                day=row.made_of["backs"][0]["day"],
                n_repeats=len(row.made_of["backs"]),
            )
            for row in rows
        ),
    )


def by_hand_and_instrument(figures: Sequence[Figure]) -> Mapping[tuple[int, str], Figure]:
    """Return figures by who measured, and with what."""
    return {(one.fitter_id, one.instrument_key): one for one in figures}


def ratio_as_kept(ratio: "Ratio") -> dict[str, Any]:
    """Return a ratio as an exercise keeps it."""
    return asdict(ratio)
