"""The criteria table as data: which measures make a finding, for which families, against which limits.

Every limit is common practice unless its source says otherwise, and a practice may put its own in its place.
"""

from collections.abc import Sequence
from math import inf

from saddlebench.engine.fit.criteria import (
    Combine,
    Criteria,
    Criterion,
    FindingName,
    Note,
    PressureCriterion,
)
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.names import (
    THIRDS,
    MeasureKey,
    MeasureName,
    Part,
    PressureKey,
    PressureName,
    Side,
)
from saddlebench.engine.fit.verdicts import Levels, Limit, PressureGuide, at_least, at_most, either_way
from saddlebench.engine.saddle.model import Family

M = MeasureName
UP, GIRTHED = State.RIDER_UP, State.GIRTHED
NEAR_AND_OFF = (Side.NEAR, Side.OFF)

E = frozenset({Family.PANELLED, Family.CUT_BACK, Family.SIDE_SADDLE})
B = frozenset({Family.BARS})
SOFT = frozenset({Family.TREELESS, Family.FLEXIBLE_TREE})
CUT = frozenset({Family.CUT_BACK})
SIDE_SADDLE = frozenset({Family.SIDE_SADDLE})
ALL = E | B | SOFT


def _one(
    name: MeasureName,
    levels: Levels,
    state: State | None = UP,
    sides: Sequence[Side] = (Side.BOTH,),
    parts: Sequence[Part] = (Part.WHOLE,),
) -> tuple[Limit, ...]:
    return tuple(
        Limit(measure=MeasureKey(name=name, state=state, side=side, part=part), levels=levels)
        for side in sides
        for part in parts
    )


def _withers() -> tuple[Criterion, ...]:
    name, top, girthed = FindingName, FindingName.WITHERS_TOP, FindingName.WITHERS_TOP_GIRTHED
    usual_e = Levels(fine=(40.0, 75.0), borderline=(-inf, inf))
    usual_b = Levels(fine=(50.0, 90.0), borderline=(-inf, inf))
    high, low = Note.SITS_HIGH, Note.SITS_LOW
    return (
        Criterion(finding=top, families=E - CUT, limits=_one(M.WITHERS_TOP, at_least(30, 20)), below=low),
        Criterion(finding=top, families=CUT | SOFT, limits=_one(M.WITHERS_TOP, at_least(25, 15)), below=low),
        Criterion(finding=top, families=B, limits=_one(M.WITHERS_TOP, at_least(40, 25)), below=low),
        Criterion(
            finding=girthed, families=E, limits=_one(M.WITHERS_TOP, usual_e, GIRTHED), below=low, above=high
        ),
        Criterion(
            finding=girthed, families=B, limits=_one(M.WITHERS_TOP, usual_b, GIRTHED), below=low, above=high
        ),
        Criterion(finding=name.WITHERS_DROP, families=E | B, limits=_one(M.WITHERS_DROP, at_most(15, 25))),
        Criterion(finding=name.WITHERS_DROP, families=SOFT, limits=_one(M.WITHERS_DROP, at_most(30, 40))),
        Criterion(
            finding=name.WITHERS_SIDES,
            families=E | B,
            limits=_one(M.WITHERS_SIDE, at_least(12, 6), GIRTHED, NEAR_AND_OFF),
        ),
    )


def _channel() -> tuple[Criterion, ...]:
    width, narrow, wide = FindingName.CHANNEL_WIDTH, Note.TOO_NARROW, Note.TOO_WIDE
    limits_e = _one(M.CHANNEL_WIDTH, Levels(fine=(65.0, 100.0), borderline=(55.0, inf)), None)
    limits_b = _one(M.CHANNEL_WIDTH, at_least(70, 60), None)
    height = FindingName.SPINE_HEIGHT
    return (
        Criterion(finding=width, families=E, limits=limits_e, needs_settling=False, below=narrow, above=wide),
        Criterion(finding=width, families=B, limits=limits_b, needs_settling=False, below=narrow),
        Criterion(
            finding=FindingName.SPINE_STRIP,
            families=E | B,
            limits=_one(M.SPINE_MARGIN, at_least(10, 0), sides=NEAR_AND_OFF),
        ),
        Criterion(finding=height, families=E | B, limits=_one(M.SPINE_HEIGHT, at_least(15, 8))),
        Criterion(finding=height, families=SOFT, limits=_one(M.SPINE_HEIGHT, at_least(10, 5))),
    )


def _front() -> tuple[Criterion, ...]:
    angle, across = FindingName.FRONT_ANGLE, either_way(5, 10)
    fronts = (
        Criterion(
            finding=angle,
            families=E,
            limits=_one(M.POINT_ANGLE, across, GIRTHED, NEAR_AND_OFF),
            below=Note.BEARS_AT_TOP,
            above=Note.PINCHES_AT_ENDS,
        ),
        Criterion(
            finding=angle,
            families=B,
            limits=_one(M.FACE_ANGLE, across, UP, NEAR_AND_OFF, THIRDS),
            below=Note.OUTER_EDGE,
            above=Note.INNER_EDGE,
        ),
        Criterion(
            finding=FindingName.FRONT_WIDTH,
            families=E | B,
            limits=_one(M.WIDTH_MISMATCH, either_way(10, 20), GIRTHED),
            below=Note.TOO_NARROW,
            above=Note.TOO_WIDE,
        ),
    )
    return (*fronts, *(row for side in NEAR_AND_OFF for row in _behind_shoulder(side)))


def _behind_shoulder(side: Side) -> tuple[Criterion, Criterion]:
    behind, flare = M.BEHIND_SHOULDER, M.TIP_FLARE
    tips = _one(behind, at_least(0, 0), GIRTHED, (side,)) + _one(flare, at_least(8, 3), GIRTHED, (side,))
    return (
        Criterion(
            finding=FindingName.BEHIND_SHOULDER,
            families=E,
            limits=_one(behind, at_least(20, 0), GIRTHED, (side,)),
        ),
        Criterion(finding=FindingName.BEHIND_SHOULDER, families=B, limits=tips, combine=Combine.BEST),
    )


def _bearing() -> tuple[Criterion, ...]:
    name, sides = FindingName, NEAR_AND_OFF
    loaded = _one(M.LOAD_PAST_LAST_RIB, at_most(1, 1))
    up = _one(M.BRIDGE_DEPTH, at_most(3, 6), UP, sides) + _one(M.BRIDGE_LENGTH, at_most(60, 120), UP, sides)
    girthed_e = _one(M.BRIDGE_DEPTH, at_most(5, 10), GIRTHED, sides)
    girthed_b = _one(M.BRIDGE_DEPTH, at_most(8, 13), GIRTHED, sides)
    return (
        Criterion(
            finding=name.LAST_RIB,
            families=E,
            limits=_one(M.PAST_LAST_RIB, at_most(0, 20)) + loaded,
            above=Note.TOO_LONG,
        ),
        Criterion(
            finding=name.LAST_RIB,
            families=B,
            limits=_one(M.PAST_LAST_RIB, at_most(0, 30)) + loaded,
            above=Note.TOO_LONG,
        ),
        Criterion(finding=name.BRIDGING, families=E | B, limits=up, above=Note.BRIDGES),
        Criterion(finding=name.BRIDGING_GIRTHED, families=E, limits=girthed_e, above=Note.BRIDGES),
        Criterion(finding=name.BRIDGING_GIRTHED, families=B, limits=girthed_b, above=Note.BRIDGES),
        Criterion(
            finding=name.FACE_ANGLE,
            families=E,
            limits=_one(M.FACE_ANGLE, either_way(5, 10), UP, sides, (Part.MIDDLE, Part.REAR)),
            below=Note.OUTER_EDGE,
            above=Note.INNER_EDGE,
        ),
        Criterion(finding=name.EDGE_SHARE, families=E | B, limits=_one(M.EDGE_SHARE, at_most(10, 20))),
        Criterion(finding=name.SURFACE_USED, families=E | B, limits=_one(M.SURFACE_USED, at_least(70, 50))),
    )


def _balance() -> tuple[Criterion, ...]:
    name, rigid = FindingName, E | B
    any_third = _one(M.THIRD_SHARE, at_most(45, 55), UP, parts=(Part.FRONT, Part.MIDDLE))
    rear = _one(M.THIRD_SHARE, at_most(35, 45), UP, parts=(Part.REAR,))
    ends = _one(M.END_SHARE, at_most(15, 25), UP, parts=(Part.FRONT, Part.REAR))
    left = _one(M.LEFT_SHARE, Levels(fine=(45.0, 55.0), borderline=(40.0, 60.0)))
    straps_e, straps_b = either_way(30, 60), either_way(40, 80)
    return (
        Criterion(
            finding=name.ROCKING,
            families=rigid,
            limits=_one(M.ROCKING, at_most(10, 20), GIRTHED),
            above=Note.ROCKS,
        ),
        Criterion(finding=name.LOAD_ALONG, families=E, limits=any_third + rear),
        Criterion(finding=name.LOAD_ENDS, families=B, limits=ends),
        Criterion(
            finding=name.LEFT_SHARE,
            families=rigid - SIDE_SADDLE,
            limits=left,
            below=Note.TO_OFF,
            above=Note.TO_NEAR,
        ),
        Criterion(
            finding=name.SEAT_TILT,
            families=rigid,
            limits=_one(M.SEAT_TILT, either_way(2, 4)),
            below=Note.TIPS_FORWARD,
            above=Note.TIPS_BACK,
        ),
        Criterion(finding=name.SEAT_SHIFT, families=rigid, limits=_one(M.SEAT_SHIFT, either_way(15, 30))),
        Criterion(
            finding=name.OFF_LINE,
            families=rigid,
            limits=_one(M.OFF_LINE, either_way(10, 20)),
            below=Note.TO_OFF,
            above=Note.TO_NEAR,
        ),
        Criterion(finding=name.STRAPS, families=E, limits=_one(M.STRAPS_FROM_GROOVE, straps_e, GIRTHED)),
        Criterion(finding=name.STRAPS, families=B, limits=_one(M.STRAPS_FROM_GROOVE, straps_b, GIRTHED)),
    )


def _saddle_and_load() -> tuple[Criterion, ...]:
    equal, small, larger = FindingName.SADDLE_EQUAL, at_most(3, 6), at_most(5, 8)
    bars = _one(M.SADDLE_BARS_UNEQUAL, small, None)
    limits_e = _one(M.SADDLE_POINTS_UNEQUAL, small, None) + bars
    limits_e += _one(M.SADDLE_PANELS_UNEQUAL, larger, None)
    limits_b = bars + _one(M.SADDLE_PANELS_UNEQUAL, small, None)
    studies = (
        "Powell DM et al. (2008) J Equine Vet Sci 28:28–33; Dyson S et al. (2020) Equine Vet Educ 32:527–539;"
        " Stefánsdóttir GJ et al. (2017) Animal 11:1558–1566; levels: Halliday E, Randle H (2013) J Vet"
        " Behav, a practitioners' rule, second-hand"
    )
    share = Limit(measure=MeasureKey(name=M.RIDER_AND_TACK), levels=at_most(15, inf), source=studies)
    return (
        Criterion(finding=equal, families=E - SIDE_SADDLE, limits=limits_e, needs_settling=False),
        Criterion(finding=equal, families=B, limits=limits_b, needs_settling=False),
        Criterion(
            finding=FindingName.RIDER_AND_TACK,
            families=ALL,
            limits=(share,),
            needs_settling=False,
            above=Note.TALK_NOT_VERDICT,
        ),
    )


NYIKOS = (
    "Nyikos S et al. (2005) Pferdeheilkunde 21:187–198: levels seen with back problems at the trot,"
    " 26 horses, from its abstract"
)


def _pressures() -> tuple[PressureCriterion, ...]:
    mean = tuple(
        PressureGuide(
            measure=PressureKey(name=PressureName.MEAN, state=UP, part=part),
            usual_below_kpa=level,
            source=NYIKOS,
        )
        for part, level in zip(THIRDS, (13.2, 11.4, 10.0), strict=True)
    )
    peak = tuple(
        PressureGuide(
            measure=PressureKey(name=PressureName.PEAK, state=State.MOVING, part=part),
            usual_below_kpa=level,
            source=NYIKOS,
        )
        for part, level in zip(THIRDS, (34.5, 30.3, 31.0), strict=True)
    )
    return (
        PressureCriterion(finding=FindingName.PRESSURE_MEAN, families=E | B, guides=mean),
        PressureCriterion(finding=FindingName.PRESSURE_PEAK, families=E | B, guides=peak),
    )


DEFAULT_CRITERIA = Criteria(
    rows=_withers() + _channel() + _front() + _bearing() + _balance() + _saddle_and_load(),
    pressures=_pressures(),
)
