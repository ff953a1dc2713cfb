"""What a fit check is asked for with: the form's fields, and the request that they make."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass

from django.http import QueryDict

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue import Value
from saddlebench.practice.opinions import TOPIC_WORDS, Topic, choices_of
from saddlebench.practice.queries.studies import CheckChoices
from saddlebench.web.base.checks.request import ANOTHER_PAD, FIELDS
from saddlebench.web.base.checks.running import CheckAsked
from saddlebench.web.base.fields import read_form


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A fit check that was asked for, read and found possible so far."""

    back_version: uuids.UUID
    saddle_version: uuids.UUID
    visit: uuids.UUID | None
    values: dict[str, Value]
    opinions: dict[str, str]
    saddle_label: str

    def asked(self) -> CheckAsked:
        """Return the check as it is run."""
        return CheckAsked(
            back_version=self.back_version,
            saddle_version=self.saddle_version,
            visit=self.visit,
            opinions=self.opinions,
            words=self.saddle_label,
            given=self.values,
        )


def read_asked(posted: QueryDict, choices: CheckChoices) -> Asked:
    """Return what was asked for.

    Raises
    ------
    InputProblemsError
        With everything that is wrong with it.
    """
    values, problems = read_form(posted, FIELDS)
    if values.get("pads") == ANOTHER_PAD:
        problems += _needed(values, ("pad_stuff", "pad_thickness"))
    back = next((one for one in choices.backs if str(one.uuid) == posted.get("back")), None)
    saddle = next((one for one in choices.saddles if str(one.uuid) == posted.get("saddle")), None)
    visit = next((one for one in choices.visits if str(one.uuid) == posted.get("visit")), None)
    for chosen, words in ((back, "back"), (saddle, "saddle")):
        if chosen is None:
            problems.append(
                Problem(what=f"no {words} is chosen", cure="Choose one.", where=Where(field=f"The {words}"))
            )
    opinions = {topic.value: posted.get(f"says.{topic.value}", "") for topic in Topic}
    if not any(opinions.values()) and posted.get("without_verdict") != "yes":
        cure = "Say what you found, as far as you looked, or tick that you have no verdict yet."
        where = Where(field="Your own verdict")
        problems.append(Problem(what="your own verdict comes first", cure=cure, where=where))
    if problems or back is None or saddle is None:
        raise InputProblemsError(problems)
    return Asked(
        back_version=back.uuid,
        saddle_version=saddle.uuid,
        visit=visit.uuid if visit else None,
        values=values,
        opinions=opinions,
        saddle_label=saddle.label,
    )


def _needed(values: Mapping[str, Value], names: tuple[str, ...]) -> list[Problem]:
    return [
        Problem(
            what=f"“{FIELDS[name].words}” is not said",
            cure="Say it, or choose the pads as recorded.",
            where=Where(field=FIELDS[name].words),
        )
        for name in names
        if values.get(name) is None
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class TopicAsked:
    """One topic of the fitter's own verdict, as the form shows it."""

    name: str
    words: str
    choices: tuple[tuple[str, bool], ...]
    """Each answer, and whether it is chosen."""
    is_open: bool


def topics_asked(posted: QueryDict | None = None) -> tuple[TopicAsked, ...]:
    """Return the topics with what was answered."""
    said = {topic: posted.get(f"says.{topic.value}", "") if posted else "" for topic in Topic}
    return tuple(
        TopicAsked(
            name=f"says.{topic.value}",
            words=str(TOPIC_WORDS[topic]),
            choices=tuple((one, one == said[topic]) for one in choices_of(topic)),
            is_open=said[topic] not in choices_of(topic),
        )
        for topic in Topic
    )
