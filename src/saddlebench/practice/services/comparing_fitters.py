"""Fitters and instruments compared: backs measured again on the same day, of one horse or several."""

import uuid as uuids
from collections.abc import Sequence
from typing import TYPE_CHECKING

from saddlebench import __version__
from saddlebench.engine.errors import Where, input_problem
from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.models import BackVersion, Comparison
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.comparing import record_comparison, there_already
from saddlebench.practice.services.deeds import NotFoundError
from saddlebench.practice.services.measured_backs import (
    Readied,
    Told,
    hash_of,
    made_of,
    measured_all,
    record_of,
    silent,
)

if TYPE_CHECKING:
    from saddlebench.engine.change.repeat.study import RepeatStudy

MOST_REPEATS = 40


def compare_fitters(
    actor: Actor | None,
    versions: Sequence[uuids.UUID],
    *,
    told: Told = silent,
    uuid: uuids.UUID | None = None,
) -> Comparison:
    """Compare who measured the same backs, with what; the same asked again is there already.

    Backs of one horse on one day are taken for the same back in the same state. By what the instruments state
    nothing is weighed: repeats speak for themselves.

    Parameters
    ----------
    versions : uuids of versions of backs
    told : of progress; may raise to stop
    uuid : of the record that is made

    Raises
    ------
    InputProblemsError
        If no back was measured twice, or too many records are chosen.
    NotFoundError
        If the practice has no such version.
    """
    from saddlebench.engine.change.repeat.sets import MeasuredRepeat, repeats_of  # noqa: PLC0415
    from saddlebench.engine.change.repeat.study import study_repeats  # noqa: PLC0415
    from saddlebench.exchange.records import as_json  # noqa: PLC0415
    from saddlebench.exchange.records.repeat import RepeatDocument  # noqa: PLC0415

    allowed = require(actor, Action.RECORD_STUDY)
    chosen = _chosen(allowed, versions)
    backs = [Readied(version=one, record=record_of(one), figure=None) for one in chosen]
    made = _without_names(made_of(backs, engine=__version__))
    there = there_already(allowed, ComparisonKind.FITTERS, hash_of(made))
    if there is not None:
        return there
    measured = measured_all(backs, lambda done, of, doing: told(done, of + 1, doing))
    told(len(backs), len(backs) + 1, "comparing")
    names = back_names(chosen)
    study = study_repeats(
        repeats_of(
            [
                MeasuredRepeat(
                    back=names[one.back.horse_id, one.back.measured_on],
                    fitter=one.back.made_by.label,
                    instrument=back.record.instrument.name,
                    estimated=result.estimated,
                )
                for one, back, result in zip(chosen, backs, measured, strict=True)
            ]
        )
    )
    return record_comparison(
        allowed,
        chosen[0].back.horse,
        ComparisonKind.FITTERS,
        label=_label(study),
        text=as_json(RepeatDocument(study=study)),
        made=made,
        told={"headline": _headline(study)},
        uuid=uuid,
    )


def back_names(versions: Sequence[BackVersion]) -> dict[tuple[int, object], str]:
    """Return what each back is called in the study: no horse's name, so an erasure leaves nothing behind."""
    held = dict.fromkeys((one.back.horse_id, one.back.measured_on) for one in versions)
    return {key: f"back {k + 1}" for k, key in enumerate(held)}


def _chosen(allowed: Actor, named: Sequence[uuids.UUID]) -> list[BackVersion]:
    rows = BackVersion.objects.filter(
        uuid__in=set(named), back__practice_id=allowed.practice_id, back__withdrawn_at=None
    ).select_related("back__made_by", "back__horse")
    found = sorted(
        (one for one in rows if one.back.horse.withdrawn_at is None),
        key=lambda row: (row.back.measured_on, row.back.horse_id, row.back_id),
    )
    missing = set(named) - {row.uuid for row in found}
    if missing:
        raise NotFoundError("version of a back record", min(missing))
    if len(found) > MOST_REPEATS:
        msg = f"{len(found)} records are chosen"
        raise input_problem(msg, f"Choose {MOST_REPEATS} at most.", Where(field="Records"))
    if len({row.back_id for row in found}) < len(found):
        msg = "two versions of one back are chosen"
        raise input_problem(msg, "Versions of one record say how it was corrected, not how it repeats.")
    if len(back_names(found)) == len(found):
        msg = "no back was measured twice on one day"
        raise input_problem(
            msg, "Choose records of one horse and one day: two at least.", Where(field="Records")
        )
    return found


def _without_names(made: dict[str, object]) -> dict[str, object]:
    backs = made["backs"]
    assert isinstance(backs, list)  # noqa: S101 - as `made_of` makes it
    return made | {"backs": [one | {"label": one["day"]} for one in backs]}


def _label(study: "RepeatStudy") -> str:
    who = study.fitters if len(study.fitters) > 1 else study.instruments
    return f"Compared: {', '.join(who)}"


def _headline(study: "RepeatStudy") -> str:
    n, backs = study.n_repeats, len(study.backs)
    return f"{n} records of {backs} back{'s' if backs > 1 else ''}"
