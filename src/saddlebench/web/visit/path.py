"""The way through a visit: its steps, and which fields stand together on each."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from saddlebench.practice.catalogue import STATES, VISIT_FIELDS, VISIT_HEAD_FIELDS, VISIT_SADDLE_FIELDS, Field
from saddlebench.practice.catalogue.visit import PACE_WORDS, PACES, REINS
from saddlebench.practice.estimates import AREAS

if TYPE_CHECKING:
    from saddlebench.practice.queries.visit_work import VisitWork
    from saddlebench.practice.queries.visits import VisitPage


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Fields that are asked together."""

    words: str
    fields: tuple[str, ...]
    name: str = ""
    """Of groups that the page treats in its own way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the way."""

    name: str
    words: str
    groups: tuple[Group, ...] = ()

    @property
    def fields(self) -> dict[str, Field]:
        """The visit's fields of this step, in their order."""
        return {name: ALL_FIELDS[name] for group in self.groups for name in group.fields}


ALL_FIELDS: Mapping[str, Field] = {**VISIT_HEAD_FIELDS, **VISIT_FIELDS}
_SCORES = ("condition_score", *(f"condition_{area}" for area in AREAS))

STEPS: tuple[Step, ...] = (
    Step(
        name="reason",
        words="Reason and history",
        groups=(
            Group(words="Why today", fields=("reason", "history", "last_change")),
            Group(
                words="Who is here",
                fields=("owner", "payer", "rider", "held_by", "guardian", "terms_agreed", "leave_to_talk_to"),
            ),
            Group(
                words="Vet, teeth, therapist",
                fields=(
                    *("vet_on", "vet_said", "dentist_on", "therapist_on", "therapist_said"),
                    *("medication", "sedated"),
                ),
            ),
            Group(
                words="The rider",
                fields=(
                    *("rider_mass_kg", "tack_mass_kg", "rider_height_cm", "hip_to_knee_cm"),
                    *("stirrup_length_cm", "longer_stirrup", "rider_habits", "rider_injuries"),
                ),
            ),
            Group(words="This visit", fields=("label", "date", "starts_at", "zone", "purpose")),
        ),
    ),
    Step(
        name="stance",
        words="Stance and condition",
        groups=(
            Group(words="How it stands", fields=("stance", "level_ground", "bigger_shoulder", "symmetry")),
            Group(words="Condition score", fields=_SCORES, name="scores"),
            Group(
                words="Weight",
                fields=("heart_girth_cm", "body_length_cm", "weighed_kg", "weight_trend"),
                name="weight",
            ),
            Group(words="Felt by hand, and muscle", fields=("palpation", "muscle"), name="marks"),
            Group(words="Coat and skin", fields=("coat", "clipped_on", "white_hairs", "rubs", "dry_spots")),
            Group(words="The horse today", fields=("age_years", "work_today", "hooves_done_on", "hooves")),
            Group(words="How it behaves", fields=("girthy", "cold_backed", "at_mounting")),
        ),
    ),
    Step(name="photos", words="Photos"),
    Step(
        name="back",
        words="The back",
        groups=(
            Group(
                words="Girth and back lift",
                fields=("girth_groove_mm", "girth_size_cm", "back_lift", "back_lift_mm"),
            ),
        ),
    ),
    Step(
        name="saddles",
        words="Saddles",
        groups=(
            Group(
                words="Pads, girth and the rest",
                fields=(
                    *("pads", "girth", "girth_hole_near", "girth_hole_off"),
                    *("breastplate", "crupper", "stirrups"),
                ),
            ),
        ),
    ),
    Step(name="fit", words="Fit check"),
    Step(
        name="decision",
        words="Decision",
        groups=(Group(words="What is to be done", fields=("decision", "decision_note")),),
    ),
    Step(name="next", words="Next date", groups=(Group(words="Next date", fields=("next_on",)),)),
)
STOP = Step(
    name="stop",
    words="Stop",
    groups=(
        Group(
            words="What stops this fitting",
            fields=("stops_vet_first", "stops_not_today", "stops_do_not_ride", "stops_note"),
        ),
    ),
)
BY_NAME = {step.name: step for step in (*STEPS, STOP)}
# Set by deeds of their own, never typed.
UNASKED = ("state",)


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddlePart:
    """One part of what is written down about a saddle tried."""

    name: str
    words: str
    groups: tuple[Group, ...]

    @property
    def fields(self) -> dict[str, Field]:
        """The fields of this part, in their order."""
        return {name: VISIT_SADDLE_FIELDS[name] for group in self.groups for name in group.fields}


def _of(*starts: str) -> tuple[str, ...]:
    return tuple(name for name in VISIT_SADDLE_FIELDS if name.startswith(starts))


SADDLE_PARTS: tuple[SaddlePart, ...] = (
    SaddlePart(
        name="condition",
        words="Condition",
        groups=(
            Group(words="Tree", fields=(*_of("tree_"), "wrinkles", "arch_screws")),
            Group(words="Stirrup bars", fields=(*_of("stirrup_"), "safety_release")),
            Group(words="Straps, seams, rigging", fields=("straps", "webs", "stitching", "rigging")),
            Group(
                words="Panels",
                fields=("lacing", "seams", "leg_heads", "lumps", "balled_flock", "nails"),
            ),
            Group(words="Firmness: dip under 5 kg on a 50 mm disc", fields=_of("dip_"), name="dips"),
            Group(words="In words", fields=("condition_note",)),
        ),
    ),
    SaddlePart(
        name="states",
        words="On the horse",
        groups=tuple(
            Group(words=words, fields=_of(f"{state}."), name=state)
            for state, words in zip(
                STATES, ("Placed", "Girthed", "Rider up", "After 20 minutes"), strict=True
            )
        ),
    ),
    SaddlePart(
        name="ridden",
        words="Ridden",
        groups=(
            *(
                Group(
                    words=f"{PACE_WORDS[pace].capitalize()}, {rein} rein",
                    fields=_of(f"ridden.{rein}.{pace}."),
                    name="rein",
                )
                for rein in REINS
                for pace in PACES
            ),
            Group(words="Sweat and dirt", fields=("sweat_and_dirt",)),
        ),
    ),
)
PARTS_BY_NAME = {part.name: part for part in SADDLE_PARTS}
# With a rider: not while something stops the fitting.
RIDDEN = ("rider_up", "after_20_minutes", "rein")


@dataclass(frozen=True, slots=True, kw_only=True)
class StepState:
    """How far a step is."""

    name: str
    words: str
    sign: str
    said: str
    """The sign in words."""
    count: str
    is_here: bool


_SIGNS = {"done": "✓", "begun": "◐", "not begun": "○", "ended": "✕"}
_KEYS = {"reason": ("reason",), "stance": ("stance", "condition_score"), "decision": ("decision",)}


def path_of(page: "VisitPage", work: "VisitWork", here: str) -> tuple[StepState, ...]:
    """Return the steps with how far each is."""
    return tuple(_state(step, page, work, here) for step in STEPS)


def answered(page: "VisitPage", step: Step) -> tuple[int, int]:
    """Return how many of a step's fields hold something, and how many there are for this reader."""
    shown = [name for name in step.fields if name in page.answers]
    return sum(page.answers[name].value not in (None, "", []) for name in shown), len(shown)


def _state(step: Step, page: "VisitPage", work: "VisitWork", here: str) -> StepState:
    filled, of = answered(page, step)
    things = {
        "photos": page.n_photos,
        "back": len(work.backs),
        "saddles": len(page.tried),
        "fit": len(work.studies),
        "next": len(work.rechecks),
    }
    keys = [name for name in _KEYS.get(step.name, ()) if name in page.answers]
    has_keys = bool(keys) and all(page.answers[name].value not in (None, []) for name in keys)
    is_done = things[step.name] > 0 if step.name in things else has_keys
    said = "done" if is_done else "begun" if filled else "not begun"
    if page.stops and step.name in {"saddles", "fit"} and not is_done:
        said = "ended"
    count = f"{filled} of {of}" if of and step.name not in things else str(things.get(step.name, ""))
    return StepState(
        name=step.name,
        words=step.words,
        sign=_SIGNS[said],
        said=said,
        count=count,
        is_here=step.name == here,
    )
