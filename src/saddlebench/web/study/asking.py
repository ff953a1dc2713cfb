"""What a fit check is asked for with: the form's fields, and the request that they make."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.http import QueryDict

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue import Field, Kind, Value, read_value
from saddlebench.practice.opinions import TOPIC_WORDS, Topic, choices_of
from saddlebench.practice.queries.studies import CheckChoices
from saddlebench.web.base.checks import running
from saddlebench.web.base.checks.running import CheckAsked
from saddlebench.web.base.fields import typed_text, value_of

if TYPE_CHECKING:
    from saddlebench.engine.saddle.model import PadLayer
    from saddlebench.exchange.job import StudyRequest

AS_RECORDED, NO_PAD, ANOTHER_PAD = "as_the_saddle_is_recorded", "no_pad", "another_pad"
# By the names that the engine's load cases have, in the order of `MORE_CASES`.
CASES: Mapping[str, str] = {
    "rising": "rising, stride mean",
    "light_seat": "light seat, stride mean",
    "walk": "walk, peak",
    "canter": "canter, peak",
    "sitting_trot": "sitting trot, peak",
    "rising_trot_sitting": "rising trot, peak while sitting",
    "rising_trot_standing": "rising trot, peak while standing",
}
FIELDS: Mapping[str, Field] = {
    one.name: one
    for one in (
        Field(
            name="rider_mass",
            words="Rider, dressed",
            kind=Kind.NUMBER,
            unit="kg",
            low=15.0,
            high=200.0,
            required=True,
        ),
        Field(name="pads", words="Pads", kind=Kind.CHOICE, choices=(AS_RECORDED, NO_PAD, ANOTHER_PAD)),
        Field(
            name="pad_stuff",
            words="Another pad: made of",
            kind=Kind.CHOICE,
            choices=("felt", "fleece", "gel", "foam", "cotton"),
        ),
        Field(
            name="pad_thickness",
            words="Another pad: thickness, unpressed",
            kind=Kind.NUMBER,
            unit="mm",
            low=1.0,
            high=60.0,
        ),
        Field(
            name="off_centre",
            words="Rider sits off centre, towards the near side (minus: off side)",
            kind=Kind.NUMBER,
            unit="mm",
            low=-100.0,
            high=100.0,
        ),
        Field(
            name="near_stirrup",
            words="Share of the stirrups' load on the near one",
            kind=Kind.NUMBER,
            unit="%",
            low=0.0,
            high=100.0,
        ),
        Field(name="horse_mass", words="Horse", kind=Kind.NUMBER, unit="kg", low=60.0, high=1500.0),
        Field(name="build", words="Build", kind=Kind.CHOICE, choices=("ordinary", "pony", "cob")),
        Field(name="flat_withered", words="Flat-withered", kind=Kind.YES_NO),
        Field(
            name="more_cases", words="Load cases to look at besides", kind=Kind.CHOICES, choices=tuple(CASES)
        ),
    )
}


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
            request=self.request,
        )

    def request(self) -> "StudyRequest":
        """Return what the engine is asked."""
        # The engine loads numba: seconds that only running a check should cost.
        from saddlebench.engine.errors import NotMeasured  # noqa: PLC0415
        from saddlebench.engine.fit.horse import Build, Horse  # noqa: PLC0415
        from saddlebench.engine.fit.loads import MORE_CASES, Rider  # noqa: PLC0415
        from saddlebench.exchange.job import StudyRequest  # noqa: PLC0415

        held = self.values
        mass = held.get("horse_mass")
        near = held.get("near_stirrup")
        names = {CASES[str(one)] for one in _listed(held.get("more_cases"))}
        return StudyRequest(
            rider=Rider(
                mass_kg=_number(held["rider_mass"]),
                off_centre_mm=_number(held.get("off_centre")),
                left_stirrup_share=0.5 if near is None else _number(near) / 100.0,
            ),
            horse=Horse(
                mass_kg=NotMeasured("the horse's mass was not given") if mass is None else _number(mass),
                build=Build(str(held.get("build") or "ordinary")),
                is_flat_withered=held.get("flat_withered") is True,
            ),
            pads=_pads(held),
            draws=running.DRAWS,
            more_cases=tuple(case for case in MORE_CASES if case.name in names),
        )


def _number(value: Value) -> float:
    return float(value) if isinstance(value, int | float) else 0.0


def _listed(value: Value) -> list[Value]:
    return value if isinstance(value, list) else []


def _pads(held: Mapping[str, Value]) -> "tuple[PadLayer, ...] | None":
    from saddlebench.engine.saddle.materials import PADS  # noqa: PLC0415
    from saddlebench.engine.saddle.pads import pad_layer  # noqa: PLC0415

    if held.get("pads") == NO_PAD:
        return ()
    if held.get("pads") != ANOTHER_PAD:
        return None
    thickness = _number(held["pad_thickness"])
    return (pad_layer(PADS[str(held["pad_stuff"])], (thickness, thickness, thickness, thickness)),)


def read_asked(posted: QueryDict, choices: CheckChoices) -> Asked:
    """Return what was asked for.

    Raises
    ------
    InputProblemsError
        With everything that is wrong with it.
    """
    problems: list[Problem] = []
    values: dict[str, Value] = {}
    for name, one in FIELDS.items():
        try:
            values[name] = read_value(one, value_of(one, typed_text(posted, name) or ""))
        except InputProblemsError as error:
            problems += error.problems
    if values.get("pads") == ANOTHER_PAD:
        problems += _needed(values, ("pad_stuff", "pad_thickness"))
    back = next((one for one in choices.backs if str(one.uuid) == posted.get("back")), None)
    saddle = next((one for one in choices.saddles if str(one.uuid) == posted.get("saddle")), None)
    visit = next((one for one in choices.visits if str(one.uuid) == posted.get("visit")), None)
    for chosen, words in ((back, "Back"), (saddle, "Saddle")):
        if chosen is None:
            problems.append(
                Problem(what=f"no {words.lower()} is chosen", cure="Choose one.", where=Where(field=words))
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
