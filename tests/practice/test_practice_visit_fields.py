"""What a fitter notes at a visit (common practice), thing by thing, and the field that keeps it."""

import pytest

from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_SADDLE_FIELDS, Kind
from saddlebench.practice.catalogue.shots import USUAL_SHOTS
from saddlebench.practice.catalogue.visit import (
    PACES,
    PANEL_ZONES,
    REINS,
    SIDES,
    STATES,
    STOPS_DO_NOT_RIDE,
    STOPS_NOT_TODAY,
    STOPS_VET_FIRST,
)
from saddlebench.practice.estimates import AREAS

OF_THE_VISIT: dict[str, tuple[str, ...]] = {
    "owner, payer, rider, who held": ("owner", "payer", "rider", "held_by"),
    "guardian for a child": ("guardian",),
    "terms, leave to talk to vet or therapist": ("terms_agreed", "leave_to_talk_to"),
    "reason and history": ("reason", "history", "last_change"),
    "age; coat, clipped on": ("age_years", "coat", "clipped_on"),
    "before or after work": ("work_today",),
    "shod or trimmed, when": ("hooves", "hooves_done_on"),
    "vet, dentist, therapist": ("vet_on", "vet_said", "dentist_on", "therapist_on", "therapist_said"),
    "medication, sedation": ("medication", "sedated"),
    "weight trend": ("weight_trend",),
    "white hairs, rubs, dry spots": ("white_hairs", "rubs", "dry_spots"),
    "girthy, cold-backed, at mounting": ("girthy", "cold_backed", "at_mounting"),
    "girth groove to elbow, girth size": ("girth_groove_mm", "girth_size_cm"),
    "back lift: response, and mm at the lowest point": ("back_lift", "back_lift_mm"),
    "stance on level ground": ("stance", "level_ground"),
    "condition by its scale, whole and area by area": (
        "condition_score",
        *(f"condition_{area}" for area in AREAS),
    ),
    "weight by girth and length, or weighed": ("heart_girth_cm", "body_length_cm", "weighed_kg"),
    "felt by hand and muscle, on an outline": ("palpation", "muscle", "symmetry", "bigger_shoulder"),
    "rider: mass, height, hip to knee": ("rider_mass_kg", "rider_height_cm", "hip_to_knee_cm"),
    "tack's mass": ("tack_mass_kg",),
    "stirrups: length, which feels longer": ("stirrup_length_cm", "longer_stirrup"),
    "habits, old injuries": ("rider_habits", "rider_injuries"),
    "pads in order": ("pads",),
    "girth and hole near and off": ("girth", "girth_hole_near", "girth_hole_off"),
    "breastplate, crupper, stirrups": ("breastplate", "crupper", "stirrups"),
    "decision, next date": ("decision", "decision_note", "next_on"),
    "stops, and what was said of them": (
        "stops_vet_first",
        "stops_not_today",
        "stops_do_not_ride",
        "stops_note",
    ),
}
OF_A_SADDLE: dict[str, tuple[str, ...]] = {
    "tree": ("tree_squeeze", "tree_flex", "tree_creaks", "wrinkles", "tree_spread", "tree_twisted"),
    "screws of the arch": ("arch_screws",),
    "stirrup bars": (
        "stirrup_bars_tight",
        "stirrup_bars_level",
        "stirrup_bars_matched",
        "stirrup_catch_free",
    ),
    "straps, webs, stitching": ("straps", "webs", "stitching"),
    "lacing, seams, lumps, balled flock, nails": ("lacing", "seams", "lumps", "balled_flock", "nails"),
    "rigging; leg heads and safety release": ("rigging", "leg_heads", "safety_release"),
    "firmness: the dip under a disc, zone by zone": tuple(
        f"dip_{side}_{zone}_mm" for side in SIDES for zone in PANEL_ZONES
    ),
    "in words": ("condition_note", "sweat_and_dirt"),
    "each of four states": tuple(
        f"{state}.{name}"
        for state in STATES
        for name in (
            "clearance_front_near_mm",
            "clearance_front_off_mm",
            "clearance_front_top_mm",
            "seat",
            "channel_front_mm",
            "channel_middle_mm",
            "channel_rear_mm",
            "hand_slide_near",
            "hand_slide_near_where",
            "hand_slide_off",
            "hand_slide_off_where",
            "lowest_seat_point_mm",
        )
    ),
    "ridden, each rein and pace": tuple(
        f"ridden.{rein}.{pace}.{name}"
        for rein in REINS
        for pace in PACES
        for name in ("lifts_behind", "bounces", "creeps", "rolls", "rider_tipped", "horse_says")
    ),
}


@pytest.mark.parametrize("thing", OF_THE_VISIT)
def test_what_is_noted_of_a_visit_has_its_field(thing: str) -> None:
    assert set(OF_THE_VISIT[thing]) <= set(VISIT_FIELDS)


@pytest.mark.parametrize("thing", OF_A_SADDLE)
def test_what_is_noted_of_a_saddle_tried_has_its_field(thing: str) -> None:
    assert set(OF_A_SADDLE[thing]) <= set(VISIT_SADDLE_FIELDS)


def test_no_field_of_a_visit_is_unaccounted_for() -> None:
    assert {one for names in OF_THE_VISIT.values() for one in names} == set(VISIT_FIELDS)
    assert {one for names in OF_A_SADDLE.values() for one in names} == set(VISIT_SADDLE_FIELDS)


def test_the_four_states_ask_the_same_and_a_gaited_horse_has_its_pace() -> None:
    assert STATES == ("placed", "girthed", "rider_up", "after_20_minutes")
    assert set(PACES) == {"walk", "trot", "canter", "gait"}
    own = VISIT_SADDLE_FIELDS["ridden.left.gait.rolls"]
    assert (own.words, own.choices) == ("Rolls, its own gait, left rein", ("no", "near", "off"))


def test_every_stop_of_the_trade_can_be_said() -> None:
    assert len(STOPS_VET_FIRST) == 7
    assert set(STOPS_NOT_TODAY) == {
        "very_thin",
        "sedated",
        "contagious_skin",
        "unsafe_ground_or_handling",
    }
    assert len(STOPS_DO_NOT_RIDE) == 4
    kinds = {VISIT_FIELDS[name].kind for name in ("stops_vet_first", "stops_not_today", "stops_do_not_ride")}
    assert kinds == {Kind.CHOICES}


def test_sweat_and_dirt_are_photographed() -> None:
    assert "sweat" in {shot.name for shot in USUAL_SHOTS}
