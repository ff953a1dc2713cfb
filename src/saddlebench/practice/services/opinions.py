"""The fitter's own verdict, taken before the program's; and the program's, set beside it."""

import json
import uuid as uuids
from collections.abc import Mapping

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import BackVersion, Opinion, Study
from saddlebench.practice.opinions import CANNOT_TELL, HANDS, TOPIC_WORDS, Judge, Topic, choices_of
from saddlebench.practice.opinions import feel_of as feel_of_stretches
from saddlebench.practice.opinions import verdict_of as verdict_of_findings
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, deed, own


def give_opinions(
    actor: Actor | None, study_uuid: uuids.UUID, said: Mapping[str, str], *, back_version: uuids.UUID
) -> int:
    """Keep what the fitter says of a saddle before its fit check is run; return how many topics.

    Sending it again changes nothing: an opinion is given once, and before the answer.

    Raises
    ------
    InputProblemsError
        With every topic or answer that there is not, and if the check was run already.
    NotFoundError
        If the practice has no such version of a back.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    given = _checked(said)
    mine = Opinion.objects.filter(study_uuid=study_uuid, judge=Judge.FITTER.value)
    if mine.filter(practice_id=allowed.practice_id).exists():
        return mine.count()
    if Study.objects.filter(uuid=study_uuid).exists():
        cure = "Give your verdict before the next check."
        raise InputProblemsError([Problem(what="this check was run already", cure=cure)])
    back = (
        BackVersion.objects.filter(uuid=back_version, back__practice_id=allowed.practice_id)
        .select_related("back")
        .defer("document")
        .first()
    )
    if back is None:
        raise NotFoundError("version of a back record", back_version)
    if given:
        _write(allowed, study_uuid, back.back.horse_id, Judge.FITTER, given)
    return len(given)


def _checked(said: Mapping[str, str]) -> dict[Topic, str]:
    given: dict[Topic, str] = {}
    problems = []
    for name, answer in said.items():
        if not answer:
            continue
        if name not in set(Topic) or answer not in choices_of(Topic(name)):
            words = str(TOPIC_WORDS[Topic(name)]) if name in set(Topic) else name[:40]
            problems.append(
                Problem(
                    what=f"“{answer[:40]}” is no answer to “{words}”",
                    cure="Choose one of the answers shown, or leave it open.",
                    where=Where(field=words),
                )
            )
        else:
            given[Topic(name)] = answer
    if problems:
        raise InputProblemsError(problems)
    return given


def set_beside(actor: Actor | None, study_uuid: uuids.UUID) -> int:
    """Keep what the program said on the topics that the fitter had an opinion on; return how many.

    Raises
    ------
    NotFoundError
        If the practice has no such fit check.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    study = own(Study, allowed, study_uuid)
    rows = Opinion.objects.filter(study_uuid=study_uuid, practice_id=allowed.practice_id)
    judges = {judge: set(rows.filter(judge=judge.value).values_list("topic", flat=True)) for judge in Judge}
    asked = [Topic(topic) for topic in judges[Judge.FITTER] - judges[Judge.PROGRAM]]
    first = study.versions.order_by("number").first()
    if not asked or first is None:
        return 0
    answers = program_opinions(first.document)
    _write(allowed, study_uuid, study.horse_id, Judge.PROGRAM, {topic: answers[topic] for topic in asked})
    return len(asked)


def program_opinions(document: str) -> dict[Topic, str]:
    """Return what a recorded fit check says on each topic."""
    put = json.loads(document).get("put") or {}
    findings = [(str(one.get("name")), str(one.get("verdict"))) for one in put.get("findings") or ()]
    slides = {str(one.get("side")): one.get("stretches") or () for one in put.get("hand_slide") or ()}
    answers = {
        topic: verdict_of_findings(topic, findings) if findings else CANNOT_TELL
        for topic in Topic
        if topic not in HANDS
    }
    for topic, side in ((Topic.HAND_NEAR, "near"), (Topic.HAND_OFF, "off")):
        stretches = slides.get(side, ())
        answers[topic] = feel_of_stretches((one["feel"], one["to_mm"] - one["from_mm"]) for one in stretches)
    return answers


def _write(
    actor: Actor, study_uuid: uuids.UUID, horse_id: int, judge: Judge, said: Mapping[Topic, str]
) -> None:
    name = "give_opinions" if judge is Judge.FITTER else "set_beside"
    with deed(actor, Action.RECORD_STUDY, name, Subject.STUDY, study_uuid) as done:
        Opinion.objects.bulk_create(
            Opinion(
                practice_id=actor.practice_id,
                horse_id=horse_id,
                study_uuid=study_uuid,
                topic=topic.value,
                judge=judge.value,
                said=answer,
                made_at=done.audit.made_at,
                made_by_id=actor.user_id,
            )
            for topic, answer in said.items()
        )
