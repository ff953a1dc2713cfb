"""Every row of the criteria table, just inside and just outside each of its limits."""

from dataclasses import fields
from math import inf

import numpy as np
import pytest
from simple_pairs import plain_saddle

from saddlebench.engine.fit.criteria import Criterion, FindingName, LimitPlace, Note, PressureCriterion
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.findings import Finding, judge, touching
from saddlebench.engine.fit.horse import Build, Horse
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.names import (
    MeasureKey,
    MeasureName,
    Part,
    PressureKey,
    PressureName,
    Side,
)
from saddlebench.engine.fit.measures.table import MeasureTable
from saddlebench.engine.fit.verdicts import Levels, Limit, PressureGuide, Verdict
from saddlebench.engine.saddle.model import Family

F, M = FindingName, MeasureName
OK, SO_SO, NO = Verdict.FINE, Verdict.BORDERLINE, Verdict.NOT_RIGHT
PANELLED, CUT_BACK, BARS, SIDE_SADDLE = Family.PANELLED, Family.CUT_BACK, Family.BARS, Family.SIDE_SADDLE
MIDDLE = {
    M.CHANNEL_WIDTH: 80.0,
    M.WITHERS_TOP: 60.0,
    M.LEFT_SHARE: 50.0,
    M.THIRD_SHARE: 33.0,
    M.SURFACE_USED: 90.0,
    M.WITHERS_SIDE: 20.0,
    M.SPINE_HEIGHT: 30.0,
    M.SPINE_MARGIN: 20.0,
    M.BEHIND_SHOULDER: 30.0,
    M.TIP_FLARE: 10.0,
    M.PAST_LAST_RIB: -30.0,
}
"""A value that is fine everywhere; 0 for what is not listed."""

ROWS = [
    # family, finding, measure, then value → verdict at the edges of each band, in mm, ° or %
    (PANELLED, F.WITHERS_TOP, M.WITHERS_TOP, {30: OK, 29.9: SO_SO, 20: SO_SO, 19.9: NO}),
    (BARS, F.WITHERS_TOP, M.WITHERS_TOP, {40: OK, 39.9: SO_SO, 25: SO_SO, 24.9: NO}),
    (CUT_BACK, F.WITHERS_TOP, M.WITHERS_TOP, {25: OK, 24.9: SO_SO, 15: SO_SO, 14.9: NO}),
    (
        PANELLED,
        F.WITHERS_TOP_GIRTHED,
        M.WITHERS_TOP,
        {40: OK, 75: OK, 39.9: SO_SO, 75.1: SO_SO},
    ),
    (BARS, F.WITHERS_TOP_GIRTHED, M.WITHERS_TOP, {50: OK, 90: OK, 49.9: SO_SO, 90.1: SO_SO}),
    (PANELLED, F.WITHERS_DROP, M.WITHERS_DROP, {15: OK, 15.1: SO_SO, 25: SO_SO, 25.1: NO}),
    (BARS, F.WITHERS_DROP, M.WITHERS_DROP, {15: OK, 15.1: SO_SO, 25: SO_SO, 25.1: NO}),
    (PANELLED, F.WITHERS_SIDES, M.WITHERS_SIDE, {12: OK, 11.9: SO_SO, 6: SO_SO, 5.9: NO}),
    (BARS, F.WITHERS_SIDES, M.WITHERS_SIDE, {12: OK, 11.9: SO_SO, 6: SO_SO, 5.9: NO}),
    (
        PANELLED,
        F.CHANNEL_WIDTH,
        M.CHANNEL_WIDTH,
        {65: OK, 64.9: SO_SO, 55: SO_SO, 54.9: NO},
    ),
    (PANELLED, F.CHANNEL_WIDTH, M.CHANNEL_WIDTH, {100: OK, 100.1: SO_SO}),
    (BARS, F.CHANNEL_WIDTH, M.CHANNEL_WIDTH, {70: OK, 69.9: SO_SO, 60: SO_SO, 59.9: NO}),
    (PANELLED, F.SPINE_STRIP, M.SPINE_MARGIN, {10: OK, 9.9: SO_SO, 0: SO_SO, -0.1: NO}),
    (PANELLED, F.SPINE_HEIGHT, M.SPINE_HEIGHT, {15: OK, 14.9: SO_SO, 8: SO_SO, 7.9: NO}),
    (
        PANELLED,
        F.FRONT_ANGLE,
        M.POINT_ANGLE,
        {5: OK, -5: OK, 5.1: SO_SO, -10: SO_SO, 10.1: NO},
    ),
    (BARS, F.FRONT_ANGLE, M.FACE_ANGLE, {5: OK, 5.1: SO_SO, 10: SO_SO, -10.1: NO}),
    (
        PANELLED,
        F.FRONT_WIDTH,
        M.WIDTH_MISMATCH,
        {10: OK, -10.1: SO_SO, 20: SO_SO, -20.1: NO},
    ),
    (BARS, F.FRONT_WIDTH, M.WIDTH_MISMATCH, {-10: OK, 10.1: SO_SO, -20: SO_SO, 20.1: NO}),
    (
        PANELLED,
        F.BEHIND_SHOULDER,
        M.BEHIND_SHOULDER,
        {20: OK, 19.9: SO_SO, 0: SO_SO, -0.1: NO},
    ),
    (PANELLED, F.LAST_RIB, M.PAST_LAST_RIB, {0: OK, 0.1: SO_SO, 20: SO_SO, 20.1: NO}),
    (BARS, F.LAST_RIB, M.PAST_LAST_RIB, {0: OK, 30: SO_SO, 30.1: NO}),
    (PANELLED, F.LAST_RIB, M.LOAD_PAST_LAST_RIB, {1: OK, 1.1: NO}),
    (PANELLED, F.BRIDGING, M.BRIDGE_DEPTH, {3: OK, 3.1: SO_SO, 6: SO_SO, 6.1: NO}),
    (PANELLED, F.BRIDGING, M.BRIDGE_LENGTH, {60: OK, 60.1: SO_SO, 120: SO_SO, 120.1: NO}),
    (
        PANELLED,
        F.BRIDGING_GIRTHED,
        M.BRIDGE_DEPTH,
        {5: OK, 5.1: SO_SO, 10: SO_SO, 10.1: NO},
    ),
    (BARS, F.BRIDGING_GIRTHED, M.BRIDGE_DEPTH, {8: OK, 8.1: SO_SO, 13: SO_SO, 13.1: NO}),
    (PANELLED, F.ROCKING, M.ROCKING, {10: OK, 10.1: SO_SO, 20: SO_SO, 20.1: NO}),
    (BARS, F.ROCKING, M.ROCKING, {10: OK, 10.1: SO_SO, 20: SO_SO, 20.1: NO}),
    (
        PANELLED,
        F.LEFT_SHARE,
        M.LEFT_SHARE,
        {45: OK, 55: OK, 44.9: SO_SO, 60: SO_SO, 60.1: NO},
    ),
    (
        PANELLED,
        F.SEAT_TILT,
        M.SEAT_TILT,
        {2: OK, -2: OK, 2.1: SO_SO, -4: SO_SO, 4.1: NO},
    ),
    (PANELLED, F.SEAT_SHIFT, M.SEAT_SHIFT, {15: OK, -15.1: SO_SO, 30: SO_SO, -30.1: NO}),
    (PANELLED, F.OFF_LINE, M.OFF_LINE, {10: OK, -10.1: SO_SO, 20: SO_SO, -20.1: NO}),
    (
        PANELLED,
        F.STRAPS,
        M.STRAPS_FROM_GROOVE,
        {30: OK, -30.1: SO_SO, 60: SO_SO, 60.1: NO},
    ),
    (BARS, F.STRAPS, M.STRAPS_FROM_GROOVE, {40: OK, -40.1: SO_SO, 80: SO_SO, 80.1: NO}),
    (PANELLED, F.EDGE_SHARE, M.EDGE_SHARE, {10: OK, 10.1: SO_SO, 20: SO_SO, 20.1: NO}),
    (PANELLED, F.FACE_ANGLE, M.FACE_ANGLE, {5: OK, -5.1: SO_SO, 10: SO_SO, -10.1: NO}),
    (PANELLED, F.SURFACE_USED, M.SURFACE_USED, {70: OK, 69.9: SO_SO, 50: SO_SO, 49.9: NO}),
    (
        PANELLED,
        F.SADDLE_EQUAL,
        M.SADDLE_POINTS_UNEQUAL,
        {3: OK, 3.1: SO_SO, 6: SO_SO, 6.1: NO},
    ),
    (PANELLED, F.SADDLE_EQUAL, M.SADDLE_BARS_UNEQUAL, {3: OK, 6: SO_SO, 6.1: NO}),
    (
        PANELLED,
        F.SADDLE_EQUAL,
        M.SADDLE_PANELS_UNEQUAL,
        {5: OK, 5.1: SO_SO, 8: SO_SO, 8.1: NO},
    ),
    (BARS, F.SADDLE_EQUAL, M.SADDLE_PANELS_UNEQUAL, {3: OK, 3.1: SO_SO, 6.1: NO}),
    (PANELLED, F.RIDER_AND_TACK, M.RIDER_AND_TACK, {15: OK, 15.1: SO_SO, 30: SO_SO}),
]


def keys_for(family):
    rows = (*DEFAULT_CRITERIA.for_pair(family, Build.ORDINARY), *DEFAULT_CRITERIA.pressures_for(family))
    return {
        held.measure for row in rows for held in (row.limits if isinstance(row, Criterion) else row.guides)
    }


def table_with(family, changes):
    """Return a table that is fine throughout but for the changed measures, given in the unit people see."""
    columns = {}
    for key in keys_for(family):
        shown = MIDDLE.get(key.name, 0.0)
        for matches, value in changes:
            shown = value if matches(key) else shown
        columns[key] = np.array([shown * key.unit.in_engine])
    known = {key: np.ones(1, dtype=bool) for key in columns}
    return MeasureTable(count=1, columns=columns, known=known, absent={}, unsettled={})


def findings(family, changes, horse=None, criteria=DEFAULT_CRITERIA) -> dict[FindingName, list[Finding]]:
    found = judge(table_with(family, changes), plain_saddle(family), horse or Horse(), criteria)
    by_name: dict[FindingName, list[Finding]] = {}
    for one in found:
        by_name.setdefault(one.name, []).append(one)
    return by_name


def state_of(finding):
    return State.GIRTHED if finding in (F.WITHERS_TOP_GIRTHED, F.BRIDGING_GIRTHED) else State.RIDER_UP


@pytest.mark.parametrize(
    ("family", "finding", "measure", "value", "verdict"),
    [
        pytest.param(family, finding, measure, value, verdict, id=f"{family}-{finding}-{measure}-{value}")
        for family, finding, measure, edges in ROWS
        for value, verdict in edges.items()
    ],
)
def test_edges_of_every_band(family, finding, measure, value, verdict):
    several = measure in (M.WITHERS_TOP, M.BRIDGE_DEPTH, M.BRIDGE_LENGTH)

    def is_meant(key):
        return key.name is measure and (not several or key.state is state_of(finding))

    assert {one.verdict for one in findings(family, [(is_meant, value)])[finding]} == {verdict}


@pytest.mark.parametrize(
    ("part", "edges"),
    [
        (Part.FRONT, {45: OK, 45.1: SO_SO, 55: SO_SO, 55.1: NO}),
        (Part.MIDDLE, {45: OK, 45.1: SO_SO, 55.1: NO}),
        (Part.REAR, {35: OK, 35.1: SO_SO, 45: SO_SO, 45.1: NO}),
    ],
)
def test_thirds_of_the_load_and_which_third_is_named(part, edges):
    for value, verdict in edges.items():
        (found,) = findings(PANELLED, [(lambda key: getattr(key, "part", None) is part, value)])[F.LOAD_ALONG]
        assert found.verdict is verdict
        if verdict is not OK:
            assert found.note is not None
            assert str(part) in found.note


def test_bars_are_judged_on_their_end_fifty_millimetres_instead():
    assert F.LOAD_ALONG not in findings(BARS, [])
    edges = {15: OK, 15.1: SO_SO, 25: SO_SO, 25.1: NO}
    for value, verdict in edges.items():
        changed = [(lambda key: key.name is M.END_SHARE and key.part is Part.REAR, value)]
        assert findings(BARS, changed)[F.LOAD_ENDS][0].verdict is verdict


@pytest.mark.parametrize(
    ("behind", "flare", "verdict"),
    [
        (5.0, 0.0, OK),
        (-5.0, 8.0, OK),
        (-5.0, 7.9, SO_SO),
        (-5.0, 3.0, SO_SO),
        (-5.0, 2.9, NO),
    ],
)
def test_bar_tips_may_overlap_the_shoulder_if_flared(behind, flare, verdict):
    changes = [
        (lambda key: key.name is M.BEHIND_SHOULDER, behind),
        (lambda key: key.name is M.TIP_FLARE, flare),
    ]
    assert {one.verdict for one in findings(BARS, changes)[F.BEHIND_SHOULDER]} == {verdict}


@pytest.mark.parametrize(("build", "fine"), [(Build.PONY, 55.0), (Build.COB, 75.0), (Build.ORDINARY, 65.0)])
def test_channel_floor_follows_the_horses_build(build, fine):
    horse = Horse(build=build)
    for value, verdict in {fine: OK, fine - 0.1: SO_SO, fine - 10.1: NO}.items():
        changed = [(lambda key: key.name is M.CHANNEL_WIDTH, value)]
        assert findings(PANELLED, changed, horse)[F.CHANNEL_WIDTH][0].verdict is verdict


def test_side_saddle_is_not_held_to_equal_sides():
    found = findings(SIDE_SADDLE, [])
    assert F.LEFT_SHARE not in found
    assert F.SADDLE_EQUAL not in found
    assert F.WITHERS_TOP in found


def test_high_front_is_no_sign_of_a_narrow_tree_on_flat_withers():
    changed = [(lambda key: key.name is M.WITHERS_TOP and key.state is State.GIRTHED, 80.0)]
    (round_backed,) = findings(PANELLED, changed, Horse(is_flat_withered=True))[F.WITHERS_TOP_GIRTHED]
    (ordinary,) = findings(PANELLED, changed)[F.WITHERS_TOP_GIRTHED]
    assert round_backed.note is None
    assert "narrow" in str(ordinary.note)


def test_a_practices_own_limit_replaces_the_default_and_is_named():
    place = LimitPlace(finding=F.WITHERS_TOP, measure=M.WITHERS_TOP, family=Family.PANELLED)
    own = DEFAULT_CRITERIA.with_own("Yard practice", {place: Levels(fine=(35, 99), borderline=(25, 120))})
    changed = [(lambda key: key.name is M.WITHERS_TOP and key.state is State.RIDER_UP, 32.0)]
    (found,) = findings(PANELLED, changed, criteria=own)[F.WITHERS_TOP]
    assert found.verdict is SO_SO
    assert found.decided_by.limit.owner == "Yard practice"
    assert found.decided_by.limit.source == "the practice's own"
    (girthed,) = findings(PANELLED, changed, criteria=own)[F.WITHERS_TOP_GIRTHED]
    assert girthed.decided_by.limit.owner != "Yard practice"


def test_a_practices_own_limit_is_of_the_named_family_and_part_alone():
    place = LimitPlace(finding=F.LOAD_ALONG, measure=M.THIRD_SHARE, part=Part.REAR, family=Family.CUT_BACK)
    own = DEFAULT_CRITERIA.with_own("Yard practice", {place: Levels(fine=(-inf, 30), borderline=(-inf, 40))})

    def owners(family):
        rows = [row for row in own.rows if row.finding is F.LOAD_ALONG and family in row.families]
        assert len(rows) == 1
        return {limit.measure.part: limit.owner for limit in rows[0].limits}

    default = DEFAULT_CRITERIA.rows[0].limits[0].owner
    assert owners(Family.CUT_BACK) == {Part.FRONT: default, Part.MIDDLE: default, Part.REAR: "Yard practice"}
    assert set(owners(Family.PANELLED).values()) == {default}


def test_pressure_alone_never_makes_a_finding_not_right():
    for row in DEFAULT_CRITERIA.pressures:
        assert isinstance(row, PressureCriterion)
        changed = [(lambda key: isinstance(key, PressureKey), 1e6)]
        assert {one.verdict for one in findings(PANELLED, changed)[row.finding]} == {SO_SO}


def test_no_limit_that_can_condemn_takes_a_pressure():
    """Held by the type checker; this pins the two facts it relies on."""
    assert {one.type for one in fields(Limit) if one.name == "measure"} <= {MeasureKey, "MeasureKey"}
    for row in DEFAULT_CRITERIA.rows:
        assert all(isinstance(limit.measure, MeasureKey) for limit in row.limits)
    assert not {name.value for name in PressureName} & {name.value for name in MeasureName}
    guide = PressureGuide(
        measure=PressureKey(name=PressureName.PEAK, state=State.MOVING), usual_below_kpa=30.0, source="test"
    )
    assert {guide.judge(value) for value in (0.0, 30.0, 31.0, 1e9)} == {OK, SO_SO}


def test_levels_that_are_not_nested_are_refused():
    with pytest.raises(ValueError, match="not nested"):
        Levels(fine=(0.0, 10.0), borderline=(5.0, 20.0))


def test_every_finding_has_a_source_and_an_owner():
    for row in DEFAULT_CRITERIA.rows:
        for limit in row.limits:
            assert limit.source
            assert limit.owner


def test_treeless_saddles_answer_cannot_tell_where_settling_is_needed():
    found = findings(Family.TREELESS, [])
    (withers,) = found[F.WITHERS_TOP]
    assert withers.verdict is Verdict.CANNOT_TELL
    assert withers.doubt is not None
    assert "not rigid" in withers.doubt.reason
    (mass,) = found[F.RIDER_AND_TACK]
    assert mass.verdict is OK
    assert F.BRIDGING not in found


def test_sides_are_named_where_one_side_is_judged():
    changed = [(lambda key: key.name is M.BEHIND_SHOULDER and key.side is Side.NEAR, -5.0)]
    found = findings(PANELLED, changed)[F.BEHIND_SHOULDER]
    assert {(one.side, one.verdict) for one in found} == {(Side.NEAR, NO), (Side.OFF, OK)}


@pytest.mark.parametrize(
    ("finding", "measure", "note"),
    [(F.WITHERS_TOP, M.WITHERS_TOP, Note.ON_WITHERS), (F.SPINE_HEIGHT, M.SPINE_HEIGHT, Note.ON_SPINE)],
)
def test_a_saddle_that_would_lie_on_the_back_says_that_its_pressures_no_longer_hold(
    finding: FindingName, measure: MeasureName, note: Note
) -> None:
    for shown, said in ((-0.1, True), (0.1, False)):
        found = [
            one
            for many in findings(PANELLED, [(lambda key: key.name is measure, shown)]).values()
            for one in many
        ]
        assert [one.note is note for one in found if one.name is finding] == [said]
        assert [one.name for one in touching(found)] == ([finding] if said else [])
