"""Which reading drives a doubt, and what a repeat takes away, against really adding the repeat."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo import shapes
from saddlebench.engine.back.draws import draw_radii
from saddlebench.engine.back.gaussian import condition
from saddlebench.engine.back.radial import radial_data
from saddlebench.engine.back.surface import estimate_back
from saddlebench.engine.errors import Undetermined, is_known
from saddlebench.engine.fit.agreement import share_agreeing
from saddlebench.engine.fit.criteria import Criterion, FindingName
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.doubt import with_confidence
from saddlebench.engine.fit.findings import judge, rows_that_apply
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.influence import sources_of
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName
from saddlebench.engine.fit.measures.table import MeasureTable
from saddlebench.engine.fit.uncertain import Inputs
from saddlebench.engine.fit.verdicts import at_least
from saddlebench.engine.fit.worth_repeating import (
    SourceKind,
    beyond_chance,
    kind_of_input,
    settling,
    worth_repeating,
)
from saddlebench.engine.saddle.model import Family
from support.measured import points_of

SHAPE = shapes.PLAIN
DRAWS = 1500
WITHERS = MeasureKey(name=MeasureName.WITHERS_TOP, state=State.RIDER_UP)
TABLE = {"count": DRAWS, "absent": {}, "unsettled": {}}


@pytest.fixture(scope="module")
def back():
    points = points_of(SHAPE, noise_mm=3.0, lift_sd_mm=4.0, rng=np.random.default_rng(1))
    return estimate_back(points, SHAPE.landmarks)


@pytest.fixture(scope="module")
def shift(back):
    return draw_radii(back, DRAWS, 3) - back.surface.radius_mm


def _functional(back, s_mm, phi_deg):
    """Return weights on the nodes: the mean radius about one place."""
    grid = back.surface.grid
    near_s = np.exp(-(((grid.s_mm - s_mm) / 40.0) ** 2))
    near_phi = np.exp(-(((np.rad2deg(grid.phi) - phi_deg) / 15.0) ** 2))
    weight = near_s[:, None] * near_phi[None, :]
    return weight / weight.sum()


def _doubt_of(values_mm, shift, back, inputs, levels=(30.0, 20.0)):
    saddle = _Saddle()
    table = MeasureTable(columns={WITHERS: values_mm}, known={WITHERS: np.ones(DRAWS, dtype=bool)}, **TABLE)
    nominal = MeasureTable(
        count=1,
        columns={WITHERS: values_mm[:1] * 0 + values_mm.mean()},
        known={WITHERS: np.ones(1, dtype=bool)},
        absent={},
        unsettled={},
    )
    rows = [
        row
        for row in rows_that_apply(nominal, saddle, Horse(), DEFAULT_CRITERIA)
        if row.finding is FindingName.WITHERS_TOP
    ]
    assert isinstance(rows[0], Criterion)
    assert rows[0].limits[0].levels == at_least(*levels)
    found = [f for f in judge(nominal, saddle, Horse(), DEFAULT_CRITERIA) if f.name is rows[0].finding]
    sources = sources_of(inputs.names, inputs.values, back.surface.grid, shift, back.points.stations)
    found = with_confidence(found, rows, table, sources)
    return worth_repeating(found, rows, table, inputs, shift, back)[0]


class _Saddle:
    family = Family.PANELLED


def _inputs(names=("the last-rib mark", "friction"), seed=5):
    return Inputs(names=tuple(names), values=np.random.default_rng(seed).standard_normal((DRAWS, len(names))))


def _variance_after_a_real_repeat(back, weight, station, side):
    """Add one section's readings again, with fresh errors of their own, and condition anew."""
    points = back.points
    rows = np.flatnonzero((points.station == station) & (points.side == side))
    own = [k for k, name in enumerate(points.error_source) if name.startswith(f"station {station + 1},")]
    fresh = np.zeros((len(points.points_back) + len(rows), 3, len(own)))
    fresh[len(points.points_back) :] = points.sensitivity[rows][:, :, own]
    again = points.sensitivity[rows].copy()
    again[:, :, own] = 0.0
    doubled = replace(
        points,
        points_back=np.concatenate([points.points_back, points.points_back[rows]]),
        station=np.concatenate([points.station, points.station[rows]]),
        side=np.concatenate([points.side, points.side[rows]]),
        noise_mm=np.concatenate([points.noise_mm, points.noise_mm[rows]]),
        sensitivity=np.concatenate([np.concatenate([points.sensitivity, again]), fresh], axis=2),
        error_sd=np.concatenate([points.error_sd, points.error_sd[own]]),
        error_source=(*points.error_source, *(f"again {k}" for k in own)),
    )
    grid = back.surface.grid
    s, phi, _ = grid.polar(doubled.points_back)
    data = radial_data(doubled, grid, back.surface.spline.radius(s, phi)[:, 1:3])
    posterior = condition(data, back.posterior.hyper)
    return float(posterior.covariance(weight[None])[0, 0])


@pytest.mark.parametrize(("s_mm", "phi_deg", "station", "side"), [(110.0, -35.0, 2, -1), (260.0, 30.0, 3, 1)])
def test_a_repeat_takes_away_what_was_predicted(back, shift, s_mm, phi_deg, station, side):
    weight = _functional(back, s_mm, phi_deg)
    before = float(back.posterior.covariance(weight[None])[0, 0])
    really = 1.0 - _variance_after_a_real_repeat(back, weight, station, side) / before
    values = 25.0 + np.tensordot(shift, weight, axes=2)
    doubt = _doubt_of(values, shift, back, _inputs())
    words = f"station {station + 1}, {'near' if side > 0 else 'off'} side"
    assert doubt.best.source == words
    assert really > 0.15
    assert doubt.best.removes == pytest.approx(really, abs=0.07)


def test_sections_far_away_are_not_named(back, shift):
    values = 25.0 + np.tensordot(shift, _functional(back, 110.0, -35.0), axes=2)
    doubt = _doubt_of(values, shift, back, _inputs())
    assert doubt.sources[0].stations == (3,)
    assert all(6 not in one.stations for one in doubt.sources)
    shares = [one.share for one in doubt.sources]
    assert shares == sorted(shares, reverse=True)


def test_a_mark_felt_again_halves_its_own_part(back, shift):
    inputs = _inputs()
    values = 25.0 + 3.0 * inputs.values[:, 0] + 4.0 * inputs.values[:, 1]
    doubt = _doubt_of(values, shift, back, inputs)
    named = {one.source: one for one in doubt.sources}
    mark, friction = named["the last-rib mark"], named["friction"]
    assert mark.share == pytest.approx(9.0 / 25.0, abs=0.04)
    assert mark.removes == pytest.approx(mark.share / 2.0)
    assert mark.kind is SourceKind.MARK
    assert friction.share == pytest.approx(16.0 / 25.0, abs=0.04)
    assert friction.kind is SourceKind.ASSUMPTION
    assert friction.removes == 0.0
    assert doubt.best is mark
    assert doubt.half_width == pytest.approx(1.96 * 5.0, rel=0.08)
    assert doubt.half_width_after(mark) == pytest.approx(doubt.half_width * np.sqrt(1.0 - mark.removes))
    assert mark.high - mark.low == pytest.approx(2 * 1.96 * 3.0, rel=0.15)


def test_where_only_assumptions_vary_no_repeat_is_advised(back, shift):
    inputs = _inputs(("friction", "how soft the back is"))
    doubt = _doubt_of(25.0 + 4.0 * inputs.values[:, 0], shift, back, inputs)
    assert isinstance(doubt.best, Undetermined)
    assert not doubt.would_settle


def test_chance_alone_names_nothing(back, shift):
    values = 25.0 + np.random.default_rng(9).standard_normal(DRAWS)
    assert _doubt_of(values, shift, back, _inputs()).sources == ()


def test_settling_is_the_share_of_repeats_after_which_it_can_be_told():
    """By simulation of the repeat: the measure's mean moves, its spread shrinks, the shares are counted."""
    levels, mean, sd, removes = at_least(30.0, 20.0), 31.5, 3.0, 0.5
    rng = np.random.default_rng(2)
    told = 0
    for _ in range(2000):
        after = mean + sd * np.sqrt(removes) * rng.standard_normal()
        tries = after + sd * np.sqrt(1.0 - removes) * rng.standard_normal(400)
        verdicts = [np.mean(tries >= 30.0), np.mean((tries >= 20.0) & (tries < 30.0)), np.mean(tries < 20.0)]
        told += max(verdicts) >= 0.8
    assert settling(mean, sd, removes, levels) == pytest.approx(told / 2000, abs=0.04)
    assert settling(mean, sd, 0.0, levels) == 0.0
    assert settling(60.0, sd, 0.0, levels) == 1.0


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("the girth groove", SourceKind.MARK),
        ("the twist of the saddle", SourceKind.SADDLE),
        ("the horse's mass", SourceKind.KIT),
        ("thickness of felt (1)", SourceKind.KIT),
        ("softness of felt (1)", SourceKind.ASSUMPTION),
        ("level of the ground across the horse", SourceKind.LEVEL),
        ("travel of the shoulder blade", SourceKind.ASSUMPTION),
    ],
)
def test_what_can_be_done_about_each_input(name, kind):
    assert kind_of_input(name) is kind


def test_share_of_tries_with_its_exact_interval():
    """Clopper and Pearson: 81 of 100 lies between 0.719 and 0.882 (any statistics package)."""
    found = share_agreeing([True] * 81 + [False] * 19)
    assert found.share == 0.81
    assert found.is_told
    assert (found.low, found.high) == pytest.approx((0.7193, 0.8816), abs=2e-4)
    assert share_agreeing(np.ones(5, dtype=bool)).high == 1.0
    assert not share_agreeing([False, True]).is_told
    with pytest.raises(ValueError, match="no tries"):
        share_agreeing([])


def test_a_finding_that_is_told_needs_no_settling(back, shift):
    inputs = _inputs()
    doubt = _doubt_of(60.0 + inputs.values[:, 0], shift, back, inputs)
    assert doubt.is_told
    assert not doubt.would_settle
    assert is_known(doubt.best)
    assert doubt.agreeing == 1.0


@pytest.mark.parametrize("count", [16, 48, 256])
def test_what_idle_numbers_explain_is_taken_for_chance_as_often_as_stated(count):
    """Least squares on idle numbers: the share explained passes at 5 % in about one case of twenty."""
    rng, cases = np.random.default_rng(count), 600
    passed = {1: 0, 6: 0}
    for _ in range(cases):
        shown = rng.standard_normal(count)
        shown -= shown.mean()
        for dimension in passed:
            idle = rng.standard_normal((count, dimension))
            basis, _ = np.linalg.qr(idle - idle.mean(axis=0))
            explained = float(np.sum((basis.T @ shown) ** 2) / np.sum(shown**2))
            passed[dimension] += beyond_chance(explained, dimension, count, 0.05)
    for dimension, n in passed.items():
        assert 0.02 <= n / cases <= 0.08, dimension


def test_with_too_few_tries_nothing_is_beyond_chance():
    assert not beyond_chance(0.9, 12.0, 13, 0.05)
    assert beyond_chance(0.9, 1.0, 13, 0.05)
