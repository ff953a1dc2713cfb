"""Every field of a visit, in the sections a fitter walks through, in any order."""

from saddlebench.practice.catalogue.field import Field, Kind, by_name
from saddlebench.practice.enums import Purpose, VisitState
from saddlebench.practice.estimates import AREAS

SECTIONS = ("people", "reason", "horse", "condition", "rider", "kit", "photos", "saddle", "decision", "stops")
SADDLE_SECTIONS = ("condition", "states", "ridden")
STATES = ("placed", "girthed", "rider_up", "after_20_minutes")
SIDES = ("near", "off")
REINS = ("left", "right")
PACES = ("walk", "trot", "canter", "gait")
PACE_WORDS = {"walk": "walk", "trot": "trot", "canter": "canter", "gait": "its own gait"}
"""`gait`: what a gaited horse goes in besides: ambles, paces, tölts."""
PANEL_ZONES = ("front", "waist", "seat", "rear")
_LONG = 10_000

STOPS_VET_FIRST = (
    "lame_or_unsteady",
    "wound_heat_swelling_gall",
    "pain_at_light_touch",
    "one_sided_wasting",
    "saddle_always_slips_one_way",
    "sudden_change_of_behaviour",
    "recent_back_treatment_without_leave",
)
STOPS_NOT_TODAY = ("very_thin", "sedated", "contagious_skin", "unsafe_ground_or_handling")
STOPS_FIELDS = ("stops_vet_first", "stops_not_today", "stops_do_not_ride")
STOPS_DO_NOT_RIDE = ("tree_in_doubt", "stirrup_bar_in_doubt", "strap_in_doubt", "rigging_in_doubt")


def _long(name: str, words: str, section: str) -> Field:
    return Field(name=name, words=words, section=section, kind=Kind.LONG_TEXT, max_length=_LONG)


def _yes(name: str, words: str, section: str) -> Field:
    return Field(name=name, words=words, section=section, kind=Kind.YES_NO)


def _pick(name: str, words: str, section: str, *choices: str) -> Field:
    return Field(name=name, words=words, section=section, kind=Kind.CHOICE, choices=choices)


def _several(name: str, words: str, section: str, choices: tuple[str, ...]) -> Field:
    return Field(name=name, words=words, section=section, kind=Kind.CHOICES, choices=choices)


def _number(name: str, words: str, section: str, unit: str, low: float, high: float) -> Field:
    return Field(name=name, words=words, section=section, kind=Kind.NUMBER, unit=unit, low=low, high=high)


def _day(name: str, words: str, section: str) -> Field:
    return Field(name=name, words=words, section=section, kind=Kind.DATE)


def _who(name: str, words: str) -> Field:
    return Field(name=name, words=words, section="people", kind=Kind.PERSON)


VISIT_HEAD_FIELDS = by_name(
    (
        Field(name="label", words="Title"),
        Field(name="date", words="Date", kind=Kind.DATE, required=True),
        Field(name="starts_at", words="Hour", kind=Kind.TIME),
        Field(name="zone", words="Time zone", kind=Kind.ZONE, required=True),
        Field(
            name="purpose",
            words="Purpose",
            kind=Kind.CHOICE,
            choices=tuple(purpose.value for purpose in Purpose),
            required=True,
        ),
        Field(
            name="state",
            words="How far it is",
            kind=Kind.CHOICE,
            choices=tuple(state.value for state in VisitState),
            required=True,
        ),
    )
)
_PEOPLE = (
    _who("owner", "Owner"),
    _who("payer", "Who pays"),
    _who("rider", "Rider"),
    _who("held_by", "Who held the horse"),
    _who("guardian", "Guardian, for a child"),
    _yes("terms_agreed", "Terms agreed", "people"),
    _several("leave_to_talk_to", "Leave to talk to", "people", ("vet", "therapist")),
)
_REASON = (
    _long("reason", "Why today", "reason"),
    _long("history", "History", "reason"),
    _long("last_change", "What changed since last time", "reason"),
)
_HORSE = (
    Field(name="age_years", words="Age", section="horse", kind=Kind.WHOLE, unit="years", low=0, high=50),
    _pick("coat", "Coat", "horse", "summer", "winter", "clipped"),
    _day("clipped_on", "Clipped on", "horse"),
    _pick("work_today", "Before or after work", "horse", "before", "after"),
    _day("hooves_done_on", "Shod or trimmed on", "horse"),
    _pick("hooves", "Hooves", "horse", "shod", "shod_in_front", "trimmed"),
    _day("vet_on", "Last seen by a vet", "horse"),
    _long("vet_said", "What the vet said", "horse"),
    _day("dentist_on", "Teeth last seen to", "horse"),
    _day("therapist_on", "Last seen by a therapist", "horse"),
    _long("therapist_said", "What the therapist said", "horse"),
    _long("medication", "Medication", "horse"),
    _yes("sedated", "Sedated today", "horse"),
    _pick("weight_trend", "Weight", "horse", "losing", "steady", "gaining"),
    _long("white_hairs", "White hairs, where", "horse"),
    _long("rubs", "Rubs, where", "horse"),
    _long("dry_spots", "Dry spots, where", "horse"),
    _pick("girthy", "When girthed", "horse", "easy", "tense", "objects", "dangerous"),
    _yes("cold_backed", "Cold-backed", "horse"),
    _pick("at_mounting", "At mounting", "horse", "stands", "moves_off", "dips", "hollows", "bucks_or_rears"),
    _number("girth_groove_mm", "Girth groove behind the elbow", "horse", "mm", -100, 250),
    _number("girth_size_cm", "Girth size", "horse", "cm", 30, 160),
    _pick("back_lift", "Back lift", "horse", "freely", "a_little", "not_at_all", "objects"),
    _number("back_lift_mm", "Back lift at the lowest point", "horse", "mm", 0, 100),
)
_PALPATION = ("sore", "tight", "heat", "swelling", "wound", "gall", "flinch")
_MUSCLE = ("full", "hollow", "wasted", "uneven")
_CONDITION = (
    _pick("stance", "How it stands", "condition", "square", "rests_hind", "rests_front", "restless"),
    _yes("level_ground", "On level ground", "condition"),
    Field(
        name="condition_score", words="Condition score", section="condition", kind=Kind.WHOLE, low=1, high=9
    ),
    *(
        Field(
            name=f"condition_{area}",
            words=f"Condition, {area.replace('_', ' ')}",
            section="condition",
            kind=Kind.WHOLE,
            low=1,
            high=9,
        )
        for area in AREAS
    ),
    _number("heart_girth_cm", "Heart girth", "condition", "cm", 50, 280),
    _number("body_length_cm", "Point of shoulder to point of buttock", "condition", "cm", 40, 260),
    _number("weighed_kg", "Weighed on a scale", "condition", "kg", 20, 1500),
    Field(
        name="palpation",
        words="Felt by hand",
        section="condition",
        kind=Kind.MARKS,
        choices=_PALPATION,
        max_length=500,
    ),
    Field(
        name="muscle", words="Muscle", section="condition", kind=Kind.MARKS, choices=_MUSCLE, max_length=500
    ),
    _pick("bigger_shoulder", "Bigger shoulder", "condition", "near", "off", "alike"),
    _long("symmetry", "Symmetry", "condition"),
)
_RIDER = (
    _number("rider_mass_kg", "Rider, dressed", "rider", "kg", 10, 250),
    _number("tack_mass_kg", "Tack", "rider", "kg", 0, 60),
    _number("rider_height_cm", "Rider's height", "rider", "cm", 80, 230),
    _number("hip_to_knee_cm", "Hip to knee", "rider", "cm", 20, 80),
    _number("stirrup_length_cm", "Stirrup length", "rider", "cm", 20, 110),
    _long("rider_habits", "Habits", "rider"),
    _long("rider_injuries", "Old injuries", "rider"),
    _pick("longer_stirrup", "Which stirrup feels longer", "rider", "near", "off", "alike"),
)
_KIT = (
    Field(
        name="pads",
        words="Pads in order, from the horse up",
        section="kit",
        kind=Kind.LIST,
        max_length=200,
    ),
    Field(name="girth", words="Girth", section="kit"),
    Field(name="girth_hole_near", words="Girth hole, near", section="kit", kind=Kind.WHOLE, low=1, high=20),
    Field(name="girth_hole_off", words="Girth hole, off", section="kit", kind=Kind.WHOLE, low=1, high=20),
    Field(name="breastplate", words="Breastplate", section="kit"),
    Field(name="crupper", words="Crupper", section="kit"),
    Field(name="stirrups", words="Stirrups", section="kit"),
)
_DECISION = (
    _several(
        "decision",
        "Decision",
        "decision",
        ("no_change", "alter", "pad", "other_saddle", "build", "repair", "retire", "refer_to_vet"),
    ),
    _long("decision_note", "Decision in words", "decision"),
    _day("next_on", "Next date", "decision"),
)
_STOPS = (
    _several("stops_vet_first", "Stop: the vet comes first", "stops", STOPS_VET_FIRST),
    _several("stops_not_today", "Stop: not today", "stops", STOPS_NOT_TODAY),
    _several("stops_do_not_ride", "Stop: do not ride in it", "stops", STOPS_DO_NOT_RIDE),
    _long("stops_note", "What was said about it, and to whom", "stops"),
)

VISIT_FIELDS = by_name(_PEOPLE, _REASON, _HORSE, _CONDITION, _RIDER, _KIT, _DECISION, _STOPS)


def _state_fields(state: str) -> tuple[Field, ...]:
    said = state.replace("_", " ")

    def number(name: str, words: str, low: float, high: float) -> Field:
        return _number(f"{state}.{name}", f"{words}, {said}", "states", "mm", low, high)

    slides = tuple(
        field
        for side in SIDES
        for field in (
            _pick(
                f"{state}.hand_slide_{side}", f"Hand slide {side}, {said}", "states", "even", "slack", "tight"
            ),
            Field(
                name=f"{state}.hand_slide_{side}_where",
                words=f"Hand slide {side}, where, {said}",
                section="states",
            ),
        )
    )
    return (
        number("clearance_front_near_mm", "Clearance in front, near", -20, 150),
        number("clearance_front_off_mm", "Clearance in front, off", -20, 150),
        number("clearance_front_top_mm", "Clearance over the withers", -20, 150),
        _pick(
            f"{state}.seat",
            f"Seat, {said}",
            "states",
            "level",
            "tips_forward",
            "tips_back",
            "leans_near",
            "leans_off",
        ),
        *(
            number(f"channel_{place}_mm", f"Channel, {place}", 0, 200)
            for place in ("front", "middle", "rear")
        ),
        *slides,
        number("lowest_seat_point_mm", "Lowest point of the seat behind the front arch", 0, 500),
    )


def _ridden_fields(rein: str, pace: str) -> tuple[Field, ...]:
    stem, said = f"ridden.{rein}.{pace}", f"{PACE_WORDS[pace]}, {rein} rein"
    return (
        _yes(f"{stem}.lifts_behind", f"Lifts behind, {said}", "ridden"),
        _yes(f"{stem}.bounces", f"Bounces, {said}", "ridden"),
        _pick(f"{stem}.creeps", f"Creeps, {said}", "ridden", "no", "forward", "back"),
        _pick(f"{stem}.rolls", f"Rolls, {said}", "ridden", "no", "near", "off"),
        _pick(
            f"{stem}.rider_tipped", f"Rider tipped, {said}", "ridden", "no", "forward", "back", "near", "off"
        ),
        _long(f"{stem}.horse_says", f"The horse's comments, {said}", "ridden"),
    )


_SOUND = ("sound", "doubtful", "broken")
_WORN = ("sound", "worn", "unsafe")
_CHECKED = (
    _pick("tree_squeeze", "Tree, squeezed", "condition", *_SOUND),
    _pick("tree_flex", "Tree, flexed", "condition", *_SOUND),
    *(
        _yes(name, words, "condition")
        for name, words in (
            ("tree_creaks", "Tree creaks"),
            ("wrinkles", "Wrinkles in the seat"),
            ("tree_spread", "Tree spread"),
            ("tree_twisted", "Twisted tree"),
        )
    ),
    _pick("arch_screws", "Screws of the front arch", "condition", "none", "tight", "loose", "missing"),
    *(
        _yes(name, words, "condition")
        for name, words in (
            ("stirrup_bars_tight", "Stirrup bars tight"),
            ("stirrup_bars_level", "Stirrup bars level"),
            ("stirrup_bars_matched", "Stirrup bars matched"),
            ("stirrup_catch_free", "Catch of the bars free"),
        )
    ),
    *(
        _pick(name, words, "condition", *_WORN)
        for name, words in (
            ("straps", "Girth straps"),
            ("webs", "Webs"),
            ("stitching", "Stitching"),
            ("lacing", "Lacing of the panel"),
            ("seams", "Seams"),
            ("rigging", "Rigging"),
            ("leg_heads", "Leg heads"),
            ("safety_release", "Safety release"),
        )
    ),
    *(
        _yes(name, words, "condition")
        for name, words in (
            ("lumps", "Lumps"),
            ("balled_flock", "Balled flock"),
            ("nails", "Nails felt"),
        )
    ),
    *(
        _number(
            f"dip_{side}_{zone}_mm",
            f"Dip under 5 kg on a 50 mm disc, {side} {zone}",
            "condition",
            "mm",
            0.5,
            60,
        )
        for side in SIDES
        for zone in PANEL_ZONES
    ),
    _long("condition_note", "The saddle's condition in words", "condition"),
)
_SWEAT = (_long("sweat_and_dirt", "Sweat and dirt pattern (photograph it)", "ridden"),)

VISIT_SADDLE_FIELDS = by_name(
    _CHECKED,
    tuple(field for state in STATES for field in _state_fields(state)),
    tuple(field for rein in REINS for pace in PACES for field in _ridden_fields(rein, pace)),
    _SWEAT,
)


def is_about_people(field: Field) -> bool:
    """Tell whether a visit's field is about people: left out for those who may not see them, and of packs."""
    return field.section in {"people", "reason"} or field.name in {
        "rider_habits",
        "rider_injuries",
        "stops_note",
    }
