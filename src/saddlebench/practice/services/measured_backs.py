"""Recorded backs as the engine takes them, measured with the errors that are in use."""

import hashlib
import json
import uuid as uuids
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from saddlebench.engine.days import plain_day
from saddlebench.engine.errors import Where, input_problem
from saddlebench.practice.models import BackVersion, Horse
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.deeds import NotFoundError
from saddlebench.practice.services.figures import Figure, by_hand_and_instrument, instrument_key, own_figures

if TYPE_CHECKING:
    from saddlebench.engine.back.record import BackRecord
    from saddlebench.engine.fit.study import ErrorsUsed
    from saddlebench.exchange.back_job import MeasuredBack

Told = Callable[[int, int, str], None]


def silent(done: int, of: int, doing: str) -> None:
    """Tell nobody."""
    del done, of, doing


@dataclass(frozen=True, slots=True, kw_only=True)
class Readied:
    """A version of a back as read; and the figure that is in use, where it is not the stated one."""

    version: BackVersion
    record: "BackRecord"
    """As recorded, with the errors that its instrument states."""
    figure: Figure | None

    @property
    def errors(self) -> "ErrorsUsed | None":
        """The own errors to go by; None: those that the instrument states."""
        return None if self.figure is None else _errors_of(self.figure)


def versions_named(
    allowed: Actor, horse: Horse, named: Sequence[uuids.UUID], *, least: int, most: int
) -> list[BackVersion]:
    """Return versions of a horse's backs in the order of their days.

    Raises
    ------
    InputProblemsError
        If they are too few or too many, or two are of one back.
    NotFoundError
        If the horse has no such version.
    """
    rows = (
        BackVersion.objects.filter(
            uuid__in=set(named), back__horse=horse, back__practice_id=allowed.practice_id
        )
        .filter(back__withdrawn_at=None)
        .select_related("back__made_by")
    )
    found = sorted(rows, key=lambda row: (row.back.measured_on, row.back_id))
    missing = set(named) - {row.uuid for row in found}
    if missing:
        raise NotFoundError("version of a back record", min(missing))
    if not least <= len(found) <= most:
        msg = f"{len(found)} back record{' is' if len(found) == 1 else 's are'} chosen"
        raise input_problem(msg, f"Choose {least} to {most}.", Where(field="Records"))
    if len({row.back_id for row in found}) < len(found):
        msg = "two versions of one back are chosen"
        raise input_problem(msg, "Versions of one record say how it was corrected, not what changed.")
    return found


def record_of(version: BackVersion) -> "BackRecord":
    """Return a version as the engine's record.

    Raises
    ------
    InputProblemsError
        If this program cannot read it.
    """
    from saddlebench.exchange.records import BackDocument, parse_document  # noqa: PLC0415

    return parse_document(BackDocument, version.document, version.back.label).record()


def readied(actor: Actor, versions: Sequence[BackVersion]) -> list[Readied]:
    """Return versions as read, each with its fitter's own errors where those are in use.

    Raises
    ------
    InputProblemsError
        If this program cannot read one.
    """
    figures = by_hand_and_instrument(own_figures(actor))
    out = []
    for version in versions:
        record = record_of(version)
        figure = _in_use(figures, version, record) if figures else None
        out.append(Readied(version=version, record=record, figure=figure))
    return out


def _in_use(
    figures: Mapping[tuple[int, str], Figure], version: BackVersion, record: "BackRecord"
) -> Figure | None:
    """Return the figure of who measured with what, where it has replaced the stated errors."""
    from saddlebench.engine.change.repeat.own import InUse  # noqa: PLC0415

    figure = figures.get((version.back.made_by_id, instrument_key(record.instrument)))
    return None if figure is None or figure.own.in_use is InUse.STATED else figure


def errors_used(actor: Actor, version: BackVersion) -> "ErrorsUsed | None":
    """Return the own errors that a fit check of a version goes by; None: those its instrument states.

    Raises
    ------
    InputProblemsError
        If this program cannot read the version.
    """
    (figure,) = figures_in_use(actor, [version])
    return None if figure is None else _errors_of(figure)


def figures_in_use(actor: Actor, versions: Sequence[BackVersion]) -> list[Figure | None]:
    """Return the own figure that is in use today for each version; None: its instrument's stated errors.

    Raises
    ------
    InputProblemsError
        If this program cannot read a version.
    """
    figures = by_hand_and_instrument(own_figures(actor))
    hands = {fitter for fitter, _ in figures}
    # Most hands have none: the record is then not read to learn it.
    return [
        _in_use(figures, one, record_of(one)) if one.back.made_by_id in hands else None for one in versions
    ]


def _errors_of(figure: Figure) -> "ErrorsUsed":
    from saddlebench.engine.fit.study import ErrorsUsed  # noqa: PLC0415

    whose = f"{figure.fitter} with {figure.instrument}"
    return ErrorsUsed(whose=whose, times=round(figure.own.applied, 6))


def measured_all(backs: Sequence[Readied], told: Told = silent) -> "list[MeasuredBack]":
    """Return backs measured.

    Raises
    ------
    InputProblemsError
        If a record does not make a back.
    """
    from saddlebench.exchange.back_job import measured  # noqa: PLC0415

    out = []
    for k, one in enumerate(backs):
        told(k, len(backs), f"the back of {plain_day(one.version.back.measured_on)}")
        out.append(measured(one.record, one.errors))
    return out


def made_of(backs: Sequence[Readied], **more: Any) -> dict[str, Any]:
    """Return what a comparison was made of, as it is kept."""
    return {
        "backs": [
            {
                "version": str(one.version.uuid),
                "back": str(one.version.back.uuid),
                "number": one.version.number,
                "sha256": one.version.sha256,
                "label": one.version.back.label,
                "day": one.version.back.measured_on.isoformat(),
            }
            for one in backs
        ],
        "figures": [None if one.figure is None else one.figure.as_used() for one in backs],
        **more,
    }


def hash_of(made: dict[str, Any]) -> str:
    """Return the hash of what something is made of, whatever it is called."""
    named = [{k: v for k, v in one.items() if k != "label"} for one in made["backs"]]
    text = json.dumps({**made, "backs": named}, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()
