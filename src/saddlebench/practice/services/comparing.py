"""Comparing a horse's records: what changed, a hand checked by repeats, saddles judged then and now."""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from saddlebench import __version__
from saddlebench.engine.errors import Undetermined, Where, input_problem
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action, ComparisonKind, Subject
from saddlebench.practice.models import Comparison, Horse, SaddleVersion
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, deed, own
from saddlebench.practice.services.figures import instrument_key, ratio_as_kept
from saddlebench.practice.services.limits import own_limits
from saddlebench.practice.services.measured_backs import (
    Readied,
    Told,
    hash_of,
    made_of,
    measured_all,
    readied,
    record_of,
    silent,
    versions_named,
)

if TYPE_CHECKING:
    from saddlebench.exchange.job import StudyRequest

MOST_RECORDS = 40
MOST_PAIRS = 40
REPEATS = (3, 12)
_LONGEST = 200


def compare_backs(
    actor: Actor | None,
    horse_uuid: uuids.UUID,
    versions: Sequence[uuids.UUID],
    *,
    other_device: bool = False,
    told: Told = silent,
    uuid: uuids.UUID | None = None,
) -> Comparison:
    """Say what changed between two or more records of a horse; the same asked again is there already.

    Parameters
    ----------
    versions : uuids of versions of this horse's backs
    other_device : whether instruments of one description were not the same piece
    told : of progress; may raise to stop
    uuid : of the record that is made

    Raises
    ------
    InputProblemsError
        If the versions do not make a comparison at all; records that say nothing of each other are an answer.
    NotFoundError
        If the practice has no such horse or version.
    """
    from saddlebench.engine.change.settings import ChangeSettings  # noqa: PLC0415
    from saddlebench.engine.change.study import study_change  # noqa: PLC0415
    from saddlebench.exchange.change_words import headline  # noqa: PLC0415
    from saddlebench.exchange.records import ChangeDocument, as_json  # noqa: PLC0415

    allowed = require(actor, Action.RECORD_STUDY)
    horse = own(Horse, allowed, horse_uuid)
    chosen = versions_named(allowed, horse, versions, least=2, most=MOST_RECORDS)
    n = len(chosen)
    backs = readied(allowed, chosen)
    made = made_of(backs, other_device=other_device, engine=__version__)
    there = there_already(allowed, ComparisonKind.CHANGE, hash_of(made))
    if there is not None:
        return there
    study = study_change(
        measured_all(backs, lambda done, _of, doing: told(done, 2 * n, doing)),
        # The practice filed them under one horse, whatever each record calls it.
        settings=ChangeSettings(same_device=not other_device, same_horse=True),
        versions=[one.version.sha256 for one in backs],
        progress=lambda done, of, doing: told(n + done * n // max(of, 1), 2 * n, doing),
    )
    days = f"{_day(backs[0])} to {_day(backs[-1])}"
    return record_comparison(
        allowed,
        horse,
        ComparisonKind.CHANGE,
        label=f"{horse.label}, {days}",
        text=as_json(ChangeDocument.of(study)),
        made=made,
        told={"headline": headline(study), "names": sorted({one.record.label for one in backs})},
        uuid=uuid,
    )


def _day(one: Readied) -> str:
    day = one.version.back.measured_on
    return f"{day.day} {day:%B %Y}"


def check_hand(
    actor: Actor | None,
    horse_uuid: uuids.UUID,
    versions: Sequence[uuids.UUID],
    *,
    marks_again: bool = True,
    uuid: uuids.UUID | None = None,
) -> Comparison:
    """Say what repeats of one back on one day say of the hand that measured it.

    Raises
    ------
    InputProblemsError
        If the repeats are of several days, fitters or instruments, or say nothing.
    NotFoundError
        If the practice has no such horse or version.
    """
    from saddlebench.engine.change.repeat.exercise import check_me  # noqa: PLC0415
    from saddlebench.exchange.records import as_json  # noqa: PLC0415
    from saddlebench.exchange.records.repeat import CheckMeDocument  # noqa: PLC0415
    from saddlebench.exchange.repeat_words import headline  # noqa: PLC0415

    allowed = require(actor, Action.RECORD_STUDY)
    horse = own(Horse, allowed, horse_uuid)
    least, most = REPEATS
    chosen = versions_named(allowed, horse, versions, least=least, most=most)
    backs = [Readied(version=one, record=record_of(one), figure=None) for one in chosen]
    records = [one.record for one in backs]
    _require_same("day", [one.back.measured_on for one in chosen])
    _require_same("fitter", [one.back.made_by_id for one in chosen])
    _require_same("instrument", [instrument_key(one.instrument) for one in records])
    made = made_of(backs, marks_again=marks_again, engine=__version__)
    there = there_already(allowed, ComparisonKind.HAND, hash_of(made))
    if there is not None:
        return there
    # Against what the instrument states: own figures are what comes of it.
    found = check_me([one.estimated for one in measured_all(backs)], records[0], marks_again=marks_again)
    if isinstance(found, Undetermined):
        raise input_problem(found.reason, "Measure the same part of the back each time.")
    by, tool = chosen[0].back.made_by, records[0].instrument
    document = CheckMeDocument.of(
        found, back=horse.label, day=chosen[0].back.measured_on, instrument=tool.name
    )
    return record_comparison(
        allowed,
        horse,
        ComparisonKind.HAND,
        label=f"{by.label}, {tool.name}, {_day(backs[0])}",
        text=as_json(document),
        made=made,
        told={
            "headline": headline(found),
            "fitter_id": by.pk,
            "fitter": by.label,
            "instrument": tool.name,
            "instrument_key": instrument_key(tool),
            "ratio": ratio_as_kept(found.ratio),
        },
        uuid=uuid,
    )


def _require_same(what: str, values: Sequence[object]) -> None:
    if len(set(values)) > 1:
        msg = f"the repeats are of more than one {what}"
        raise input_problem(msg, f"Choose repeats of one {what}.", Where(field="Repeats"))


def judge_then_and_now(
    actor: Actor | None,
    horse_uuid: uuids.UUID,
    *,
    backs: Sequence[uuids.UUID],
    saddles: Sequence[uuids.UUID],
    request: "StudyRequest",
    told: Told = silent,
    uuid: uuids.UUID | None = None,
) -> Comparison:
    """Judge every saddle on the back of every day: earlier ones today, today's earlier.

    Parameters
    ----------
    backs, saddles : uuids of versions
    request : rider, horse, tries; the practice's own limits are added
    told : of progress; may raise to stop
    uuid : of the record that is made

    Raises
    ------
    InputProblemsError
        With everything that stops the records from being judged.
    NotFoundError
        If the practice has no such horse or version.
    """
    from saddlebench.exchange.change_job import rejudge, then_and_now_document  # noqa: PLC0415
    from saddlebench.exchange.records import SaddleDocument, as_json, parse_document  # noqa: PLC0415

    allowed = require(actor, Action.RECORD_STUDY)
    horse = own(Horse, allowed, horse_uuid)
    chosen = versions_named(allowed, horse, backs, least=1, most=MOST_RECORDS)
    worn = _saddles(allowed, saddles)
    if len(chosen) * len(worn) > MOST_PAIRS:
        msg = f"{len(worn)} saddles on {len(chosen)} days are {len(worn) * len(chosen)} fit checks"
        raise input_problem(msg, f"Choose fewer: at most {MOST_PAIRS} at a time.")
    judged = readied(allowed, chosen)
    limits = own_limits(actor)
    made = made_of(
        judged,
        saddles=[
            {"version": str(one.uuid), "saddle": str(one.saddle.uuid), "number": one.number} for one in worn
        ],
        rider_kg=request.rider.mass_kg,
        tries=request.draws,
        limits=repr(limits),
        engine=__version__,
    )
    there = there_already(allowed, ComparisonKind.THEN_AND_NOW, hash_of(made))
    if there is not None:
        return there
    measured = measured_all(judged)
    rejudged = rejudge(
        measured,
        [parse_document(SaddleDocument, one.document, one.saddle.label).record() for one in worn],
        replace(request, own_limits=limits),
        progress=told,
    )
    days = [one.version.back.measured_on for one in judged]
    document = then_and_now_document(horse.label, measured, days, rejudged)
    return record_comparison(
        allowed,
        horse,
        ComparisonKind.THEN_AND_NOW,
        label=f"{horse.label}: {len(worn)} saddle{'s' if len(worn) > 1 else ''}, then and now",
        text=as_json(document),
        made=made,
        told={"saddles": [one.saddle.label for one in worn]},
        uuid=uuid,
    )


def _saddles(allowed: Actor, named: Sequence[uuids.UUID]) -> list[SaddleVersion]:
    rows = SaddleVersion.objects.filter(
        uuid__in=set(named), saddle__practice_id=allowed.practice_id, saddle__withdrawn_at=None
    ).select_related("saddle")
    found = sorted(rows, key=lambda row: (row.saddle.label, row.number))
    missing = set(named) - {row.uuid for row in found}
    if missing:
        raise NotFoundError("version of a saddle record", min(missing))
    if not found:
        raise input_problem("no saddle is chosen", "Choose one.", Where(field="Saddles"))
    return found


def there_already(allowed: Actor, kind: ComparisonKind, asked: str) -> Comparison | None:
    """Return what was worked out of the same before."""
    rows = Comparison.objects.filter(practice_id=allowed.practice_id, kind=kind.value, asked=asked)
    return rows.first()


def record_comparison(
    allowed: Actor,
    horse: Horse,
    kind: ComparisonKind,
    *,
    label: str,
    text: str,
    made: dict[str, Any],
    told: dict[str, Any],
    uuid: uuids.UUID | None,
) -> Comparison:
    """Record what was worked out; `made` says of what, `told` the result in short."""
    asked, document = hash_of(made), Document(text=text)
    with deed(allowed, Action.RECORD_STUDY, f"compare_{kind.value}", Subject.HORSE, horse.uuid) as done:
        # Asked twice at one moment it is recorded once.
        row, _ = Comparison.objects.get_or_create(
            practice_id=allowed.practice_id,
            kind=kind.value,
            asked=asked,
            defaults={
                "uuid": uuid or uuids.uuid4(),
                "made_at": done.audit.made_at,
                "made_by_id": allowed.user_id,
                "horse": horse,
                "label": label[:_LONGEST],
                "made_of": made,
                "told": told,
                "schema_id": f"saddlebench {_SCHEMAS[kind]} 1",
                "document": document.text,
                "sha256": document.sha256,
                "engine_version": __version__,
            },
        )
        return row


_SCHEMAS = {
    ComparisonKind.CHANGE: "change study",
    ComparisonKind.HAND: "check of a hand",
    ComparisonKind.FITTERS: "repeat study",
    ComparisonKind.THEN_AND_NOW: "saddles then and now",
}
