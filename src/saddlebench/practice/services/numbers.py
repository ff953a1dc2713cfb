"""Each back in numbers, kept when it is recorded, so that a trend of many years shows at once."""

import hashlib
import json
import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.db import transaction
from django_tasks import task

from saddlebench import __version__
from saddlebench.engine.days import plain_day
from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice.enums import Action, Role
from saddlebench.practice.models import Back, BackNumbers, BackVersion, Horse
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import own
from saddlebench.practice.services.measured_backs import Told, measured_all, readied, silent

if TYPE_CHECKING:
    from saddlebench.engine.change.trend.series import Visit

AFTER_THE_REST = -10
"""A trend can wait; a person who asked for a fit check does not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptVisit:
    """A back in numbers, and whether anything has changed since they were worked out."""

    version: uuids.UUID
    back: uuids.UUID
    visit: "Visit"
    figure: str
    """Why own errors were in use; empty where the stated ones were."""
    times: float | None
    """How many times the stated errors were in use; None: kept before that was noted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseInNumbers:
    """A horse's records in numbers, one a day."""

    horse: str
    kept: tuple[KeptVisit, ...]
    missing: tuple[uuids.UUID, ...]
    """Versions whose numbers are still to be worked out."""
    unreadable: tuple[str, ...]
    """Labels of records that do not make a back."""
    repeats: int
    """Records of a day that has another: repeats, which a trend leaves aside."""


def horse_in_numbers(actor: Actor | None, horse_uuid: uuids.UUID) -> HorseInNumbers:
    """Return a horse's records in numbers as they are kept; nothing is worked out.

    Raises
    ------
    NotFoundError
        If the practice has no such horse.
    """
    from saddlebench.exchange.records.trend import VisitPart  # noqa: PLC0415

    allowed = require(actor, Action.SEE_HORSES)
    horse = own(Horse, allowed, horse_uuid)
    backs = list(
        Back.objects.standing()
        .filter(horse=horse)
        .exclude(current=None)
        .select_related("current")
        .defer("current__document")
        .order_by("measured_on", "id")
    )
    rows = {row.version_uuid: row for row in BackNumbers.objects.filter(horse=horse)}
    seen = set()
    kept, missing, unreadable, repeats = [], [], [], 0
    for back in backs:
        version = back.current
        if version is None:
            continue
        if back.measured_on in seen:
            repeats += 1
            continue
        row = rows.get(version.uuid)
        if row is None or not row.asked.startswith(version.sha256[:32]):
            missing.append(version.uuid)
            seen.add(back.measured_on)
        elif not row.numbers["visit"]:
            unreadable.append(back.label)
        else:
            seen.add(back.measured_on)
            visit = VisitPart.model_validate_json(json.dumps(row.numbers["visit"])).visit(horse.label)
            kept.append(
                KeptVisit(
                    version=version.uuid,
                    back=back.uuid,
                    visit=visit,
                    figure=row.numbers["figure"],
                    times=row.numbers.get("times"),
                )
            )
    return HorseInNumbers(
        horse=horse.label,
        kept=tuple(kept),
        missing=tuple(missing),
        unreadable=tuple(unreadable),
        repeats=repeats,
    )


def work_out_numbers(
    actor: Actor | None, horse_uuid: uuids.UUID, *, again: bool = False, told: Told = silent
) -> int:
    """Work out what is not kept yet of a horse's records, and return how many there were.

    Parameters
    ----------
    again : whether those that are kept are worked out again, for errors that are in use since
    told : of progress; may raise to stop, and what was worked out so far stays
    """
    allowed = require(actor, Action.SEE_HORSES)
    held = horse_in_numbers(allowed, horse_uuid)
    wanted = [*held.missing, *((one.version for one in held.kept) if again else ())]
    like = {} if again else _known(held)
    rows = BackVersion.objects.filter(uuid__in=wanted).select_related("back__made_by", "back__horse")
    for k, version in enumerate(rows.order_by("back__measured_on")):
        told(k, len(wanted), f"the back of {plain_day(version.back.measured_on)}")
        _keep(allowed, version, like)
    return len(wanted)


def _known(held: HorseInNumbers) -> "dict[str, Visit]":
    """Return a visit of each instrument and its places, which tells how the errors of later ones go."""
    return {one.visit.device: one.visit for one in held.kept}


def _keep(actor: Actor, version: BackVersion, like: "dict[str, Visit]") -> None:
    from saddlebench.exchange.records.trend import VisitPart  # noqa: PLC0415
    from saddlebench.exchange.trend_job import device_of, visit_of  # noqa: PLC0415

    numbers: dict[str, Any]
    try:
        (one,) = readied(actor, [version])
        device = f"{device_of(one.record)}{_times(one.figure.own.applied) if one.figure else ''}"
        (back,) = measured_all([one])
        visit = visit_of(back, like.get(device))
        like[device] = visit
        part = VisitPart.of(visit).model_dump(mode="json")
        numbers = {
            "visit": part,
            "figure": one.figure.own.why if one.figure else "",
            "times": one.figure.own.applied if one.figure else 1.0,
        }
    except InputProblemsError as error:
        numbers = {"visit": None, "figure": "", "why": str(error)[:500]}
    BackNumbers.objects.update_or_create(
        version_uuid=version.uuid,
        defaults={
            "horse_id": version.back.horse_id,
            "asked": version.sha256[:32] + hashlib.sha256(numbers["figure"].encode()).hexdigest()[:32],
            "numbers": numbers,
            "engine_version": __version__,
        },
    )


def _times(applied: float) -> str:
    return f" ×{applied:.3f}"


@task(priority=AFTER_THE_REST)
def keep_numbers(version_uuid: str) -> None:
    """Put a version into numbers, beside the pages; one that is gone by now has none."""
    version = (
        BackVersion.objects.filter(uuid=version_uuid)
        .select_related("back__made_by", "back__horse", "made_by")
        .first()
    )
    if version is None:
        return
    actor = Actor(
        user_id=version.made_by_id,
        practice_id=version.back.practice_id,
        role=Role.READER,
        label=version.made_by.label,
    )
    held = horse_in_numbers(actor, version.back.horse.uuid)
    _keep(actor, version, _known(held))


def queue_numbers(versions: Sequence[BackVersion]) -> None:
    """Have versions put into numbers as soon as the worker has time, once what is written is written."""
    for version in versions:
        name = str(version.uuid)
        transaction.on_commit(lambda name=name: keep_numbers.enqueue(name))  # type: ignore[misc]
