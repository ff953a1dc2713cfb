"""Trends of invented series whose truth is known: change, band, season, odd visits, looking ahead."""

import datetime as dt
from math import inf

import numpy as np
import pytest
from statsmodels.regression.linear_model import GLS

from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.quantities import WITHERS_ANGLE, WITHERS_WIDTH, Tolerance
from saddlebench.engine.back.record import Coat
from saddlebench.engine.change.trend.recheck import advise_recheck, share_left
from saddlebench.engine.change.trend.series import DAYS_A_YEAR, Series, SeriesPoint, Visit, series_of
from saddlebench.engine.change.trend.smooth import smooth
from saddlebench.engine.change.trend.study import TOO_SHORT_FOR_SEASON, fit_trend, study_trends
from saddlebench.engine.errors import Undetermined

FIRST = dt.date(2020, 1, 6)


def _series(rng, n, truth, *, step=42, sd=2.0, devices=None, shared=0.0, odd=None):
    """Return visits every `step` days; each device has an offset of its own, sized `shared`."""
    devices = devices or ["a"] * n
    offsets = {name: rng.normal(0.0, shared) for name in sorted(set(devices))}
    points = []
    for k in range(n):
        value = 250.0 + truth(k * step / DAYS_A_YEAR) + offsets[devices[k]] + rng.normal(0.0, sd)
        value += odd[1] if odd and odd[0] == k else 0.0
        points.append(
            SeriesPoint(
                day=FIRST + dt.timedelta(days=k * step),
                value=float(value),
                fresh_sd=sd,
                shared={f"instrument: {devices[k]}": shared},
            )
        )
    return Series(quantity=WITHERS_WIDTH, points=tuple(points))


def _still(years):
    return 0.0 * years


def test_change_over_the_visits_is_covered_by_its_interval():
    inside = alarms = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        slope, wave, at = rng.normal(0.0, 3.0), rng.normal(0.0, 3.0), rng.uniform(0.0, 6.0)

        def truth(t, slope=slope, wave=wave, at=at):
            return slope * t + wave * np.sin(2.0 * np.pi * t / 2.5 + at)

        series = _series(rng, 9, truth, step=56)
        trend = fit_trend(series).trend
        apart = truth(series.years[-1]) - truth(0.0)
        inside += trend.overall.low <= apart <= trend.overall.high
        alarms += any(not point.belongs for point in trend.points)
    assert inside >= 54
    assert alarms <= 6


def test_a_still_back_shows_no_real_change_beyond_chance():
    found = [fit_trend(_series(np.random.default_rng(seed), 10, _still)).trend for seed in range(60)]
    assert sum(one.overall.is_real for one in found) <= 6
    assert sum(bool(one.swings) for one in found) <= 6


def test_a_rise_and_the_fall_after_it_are_told_though_the_ends_are_alike():
    """Trained for a year, rested, back where it began: first to last says nothing, the swings say it all."""

    def truth(years):
        return 14.0 * np.clip(years, 0.0, 1.0) - 14.0 * np.clip((years - 1.2) / 0.3, 0.0, 1.0)

    series = _series(np.random.default_rng(4), 18, truth)
    found = fit_trend(series, 0.05 / 29).trend
    assert not found.overall.is_real
    assert [one.change.value > 0.0 for one in found.swings] == [True, False]
    rise, fall = found.swings
    assert rise.first_day < rise.last_day <= fall.first_day < fall.last_day
    for one in found.swings:
        first, last = (truth((day - FIRST).days / DAYS_A_YEAR) for day in (one.first_day, one.last_day))
        assert one.change.low <= last - first <= one.change.high
        assert one.change.is_real


def test_a_visit_that_does_not_belong_is_found_and_left_out():
    rng = np.random.default_rng(3)
    clean = _series(rng, 16, lambda t: 4.0 * t)
    series = _series(np.random.default_rng(3), 16, lambda t: 4.0 * t, odd=(7, 20.0))
    found = fit_trend(series).trend
    assert [k for k, point in enumerate(found.points) if not point.belongs] == [7]
    assert found.points[7].chance < 1e-3
    without = fit_trend(clean).trend
    assert found.overall.value == pytest.approx(without.overall.value, abs=1.0)


def test_a_new_instrument_is_not_taken_for_a_change():
    """Half the visits with each of two, 5 mm apart, as both allow: the step is the instruments' own."""
    devices = ["a"] * 8 + ["b"] * 8
    called_shared = called_apart = 0
    for seed in range(30):
        series = _series(np.random.default_rng(seed), 16, _still, devices=devices, shared=4.0)
        called_shared += fit_trend(series).trend.overall.is_real
        pretended = Series(
            quantity=series.quantity,
            points=tuple(
                SeriesPoint(day=p.day, value=p.value, fresh_sd=p.sd, shared={}) for p in series.points
            ),
        )
        called_apart += fit_trend(pretended).trend.overall.is_real
    assert called_shared <= 3
    assert called_apart >= called_shared


def test_a_season_is_shown_and_is_not_a_change():
    rng = np.random.default_rng(8)
    found = fit_trend(_series(rng, 36, lambda t: 6.0 * np.cos(2.0 * np.pi * (t - 0.5)))).trend
    assert found.season.half_range == pytest.approx(6.0, abs=1.5)
    assert found.season.highest_month in (6, 7, 8)
    assert abs(found.overall.value) < 4.0


def test_few_visits_show_no_season_and_two_no_trend():
    assert fit_trend(_series(np.random.default_rng(1), 5, _still)).trend.season == TOO_SHORT_FOR_SEASON
    two = fit_trend(_series(np.random.default_rng(1), 2, _still))
    assert isinstance(two.trend.line, Undetermined)
    assert len(two.trend.points) == 2
    with pytest.raises(ValueError, match="three visits"):
        smooth(_series(np.random.default_rng(1), 2, _still))


def test_statsmodels_agrees_on_a_straight_change_with_shared_errors():
    """Generalised least squares of a line, with the same covariance of the visits' errors."""
    devices = ["a"] * 12 + ["b"] * 12
    series = _series(np.random.default_rng(6), 24, lambda t: 9.0 * t, devices=devices, shared=1.5)
    covariance = np.diag(series.fresh_sd**2) + series.shared_covariance()
    design = np.column_stack([np.ones(24), series.years])
    line = GLS(series.values, design, sigma=covariance).fit(cov_type="nonrobust")
    expected = line.params[1] * series.years[-1]
    trend = fit_trend(series).trend
    assert trend.overall.value == pytest.approx(expected, abs=2.5)
    assert trend.overall.low < expected < trend.overall.high


def test_the_band_widens_ahead_of_the_last_visit():
    line = fit_trend(_series(np.random.default_rng(2), 12, lambda t: 5.0 * t)).trend.line
    width = np.array(line.high) - np.array(line.low)
    assert width[-1] > 1.3 * np.median(width)
    assert line.days[0] == FIRST


def test_paths_leave_a_range_once_and_for_all():
    paths = np.array([[0.0, 1.0, 5.0, 1.0], [0.0, -1.0, -2.0, -6.0]])
    assert share_left(paths, -4.0, 4.0).tolist() == [0.0, 0.0, 0.5, 1.0]
    assert share_left(paths, -inf, 4.0).tolist() == [0.0, 0.0, 0.5, 0.5]


def _visits(rate, seed=4, n=12):
    rng = np.random.default_rng(seed)
    visits = []
    for k in range(n):
        years = 42 * k / DAYS_A_YEAR
        value = 250.0 + rate * years + rng.normal(0.0, 1.0)
        estimate = Estimate(value=value, sd=1.0, low=value - 2.0, high=value + 2.0, unit="mm")
        angle = Estimate(value=90.0, sd=1.0, low=88.0, high=92.0, unit="°")
        visits.append(
            Visit(
                day=FIRST + dt.timedelta(days=42 * k),
                label="an invented horse",
                device="comb",
                coat=Coat.SUMMER,
                estimates={WITHERS_WIDTH: estimate, WITHERS_ANGLE: angle},
                fresh_share={WITHERS_WIDTH: 0.8},
            )
        )
    return visits


LIMIT = Tolerance(quantity=WITHERS_WIDTH, lower=-8.0, upper=8.0, why="the front is no longer fine")


def _advice(rate, tolerances=(LIMIT,)):
    fitted = study_trends(_visits(rate)).fitted
    last = fitted[0].last_day
    steady = last + dt.timedelta(days=182)
    return last, advise_recheck(fitted, tolerances, due_from=steady, due_by=steady, reason="a steady adult")


def test_a_back_that_moves_fast_is_seen_before_common_practice_says():
    last, advice = _advice(40.0)
    assert dt.timedelta(weeks=4) <= advice.day - last <= dt.timedelta(weeks=11)
    assert "withers width" in advice.reasons[1]
    assert advice.leaving[0].rate == pytest.approx(10.0, abs=3.0)


def test_a_back_that_keeps_still_waits_for_common_practice():
    last, advice = _advice(0.0, (LIMIT, Tolerance(quantity=WITHERS_ANGLE, lower=-30.0, upper=inf, why="-")))
    assert advice.day == last + dt.timedelta(days=182)
    assert "nothing leaves" in advice.reasons[1]
    assert advice.leaving[1].upper is None


def test_without_limits_only_common_practice_speaks():
    last, advice = _advice(40.0, ())
    assert advice.day == last + dt.timedelta(days=182)
    assert advice.leaving == ()


def test_what_visits_share_is_parted_from_what_is_fresh():
    width = next(one for one in series_of(_visits(0.0)) if one.quantity == WITHERS_WIDTH)
    point = width.points[0]
    assert point.fresh_sd**2 == pytest.approx(0.8)
    assert point.sd == pytest.approx(1.0)
    assert width.shared_covariance()[0, 1] == pytest.approx(0.2)


def test_a_study_that_is_stopped_stops():
    def stop(done, of, doing):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        study_trends(_visits(0.0), stop)
