"""Whether a comparison rests on measuring errors that have been replaced by newer own figures since."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice.enums import Action
from saddlebench.practice.models import BackVersion
from saddlebench.practice.queries.comparisons import ComparisonPage
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.figures import Figure
from saddlebench.practice.services.measured_backs import figures_in_use
from saddlebench.practice.services.numbers import HorseInNumbers, KeptVisit

STATED = "the errors that the instrument states"
ALIKE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class OlderFigure:
    """A record of a comparison for which other errors are in use today."""

    day: date
    label: str
    then: str
    now: str


def older_figures(actor: Actor | None, page: ComparisonPage) -> tuple[OlderFigure, ...]:
    """Return for which of a comparison's records other errors are in use today, and which.

    Where this program cannot read a record any more, there is nothing to work out again: none is named.
    """
    allowed = require(actor, Action.SEE_HORSES)
    named = [one.version for one in page.backs]
    rows = BackVersion.objects.filter(uuid__in=named, back__practice_id=allowed.practice_id)
    held = {row.uuid: row for row in rows.select_related("back__made_by")}
    standing = [one for one in page.backs if one.version in held]
    try:
        now = figures_in_use(allowed, [held[one.version] for one in standing])
    except InputProblemsError:
        return ()
    return tuple(
        OlderFigure(
            day=one.day,
            label=one.label,
            then=_words(one.figure),
            now=_words(None if figure is None else figure.as_used()),
        )
        for one, figure in zip(standing, now, strict=True)
        if abs(_times(one.figure) - (1.0 if figure is None else figure.own.applied)) > ALIKE
    )


def older_numbers(actor: Actor | None, held: HorseInNumbers) -> tuple[OlderFigure, ...]:
    """Return for which of a horse's records in numbers other errors are in use today, and which."""
    allowed = require(actor, Action.SEE_HORSES)
    kept = {one.version: one for one in held.kept}
    rows = BackVersion.objects.filter(uuid__in=kept, back__practice_id=allowed.practice_id)
    versions = list(rows.select_related("back__made_by").order_by("back__measured_on", "id"))
    try:
        now = figures_in_use(allowed, versions)
    except InputProblemsError:
        return ()
    return tuple(
        OlderFigure(
            day=version.back.measured_on,
            label=version.back.label,
            then=_kept_words(kept[version.uuid]),
            now=_words(None if figure is None else figure.as_used()),
        )
        for version, figure in zip(versions, now, strict=True)
        if _is_older(kept[version.uuid], figure)
    )


def _is_older(kept: KeptVisit, now: Figure | None) -> bool:
    if kept.times is None:
        return kept.figure != ("" if now is None else now.own.why)
    return abs(kept.times - (1.0 if now is None else now.own.applied)) > ALIKE


def _kept_words(kept: KeptVisit) -> str:
    if not kept.figure:
        return STATED
    return (
        kept.figure
        if kept.times is None
        else f"own repeats, {kept.times:.2f} times what the instrument states"
    )


def _times(figure: dict[str, Any] | None) -> float:
    return 1.0 if figure is None else float(figure["applied"])


def _words(figure: dict[str, Any] | None) -> str:
    if figure is None:
        return STATED
    return f"{figure['in_use']}, {figure['applied']:.2f} times what the instrument states"
