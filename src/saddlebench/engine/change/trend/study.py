"""A trend study: every number of a back over the visits, which visits do not belong, how fast it moves."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from saddlebench.engine.back.estimates import NORMAL_95
from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.change.trend.belonging import LEAST_VISITS, Belonging, OddVisit, find_odd, kept_of
from saddlebench.engine.change.trend.series import DAYS_A_YEAR, Series, SeriesPoint, Visit, series_of
from saddlebench.engine.change.trend.smooth import Smooth, may_show_season
from saddlebench.engine.errors import Undetermined

FALSE_ALARMS = 0.05
"""Of horses without any odd visit, at most so many show one."""
SLOPE_OVER_YEARS = 0.25
"""A rate is the change over the last quarter of a year, or over all visits where they span less."""
LINE_POINTS = 80
SWING_PATHS = 400
AHEAD_YEARS = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendPoint:
    """One visit's number."""

    day: dt.date
    value: float
    sd: float
    """Standard uncertainty, all told."""
    belongs: bool
    chance: float
    """How probable so odd a value is, were it one of the series [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A change with its 95 % interval."""

    value: float
    low: float
    high: float

    @property
    def is_real(self) -> bool:
        """Whether the interval leaves out nothing having changed."""
        return self.low > 0.0 or self.high < 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """The smooth trend and its 95 % band, season included."""

    days: tuple[dt.date, ...]
    mean: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """What comes back every year."""

    half_range: float
    """From the yearly mean to the highest and lowest, on average."""
    sd: float
    highest_month: int
    """1 is January."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """A rise or fall between two visits, season included: training shows, and the rest after it."""

    first_day: dt.date
    last_day: dt.date
    change: Change
    """With an interval that holds for all pairs of visits, and all numbers of the horse, together."""


NO_SEASON = Undetermined(
    "no yearly coming and going is seen; a year and a quarter of visits at least show one"
)
TOO_SHORT_FOR_SEASON = Undetermined(
    "six visits over a year and a quarter at least tell what comes and goes with the year"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """One number over the visits."""

    quantity: Quantity
    points: tuple[TrendPoint, ...]
    line: Line | Undetermined
    overall: Change | Undetermined
    """From the first visit to the last, without the season."""
    rate: Change | Undetermined
    """Per quarter of a year, at the last visit, without the season."""
    season: Season | Undetermined
    swings: tuple[Swing, ...] = ()
    """The clearest, and those before and after it; none where the number may have stood still."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A trend and the fit behind it, for what looks ahead."""

    trend: Trend
    smooth: Smooth | Undetermined
    last_day: dt.date


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendStudy:
    """Every number's trend, and the visits that do not belong."""

    fitted: tuple[Fitted, ...]
    odd_visits: tuple[OddVisit, ...]
    """In the order of their days."""

    @property
    def last_day(self) -> dt.date | None:
        """The last visit of which some number belongs; None without any visit."""
        return max((one.last_day for one in self.fitted), default=None)


Told = Callable[[int, int, str], None]


def _silent(done: int, of: int, doing: str) -> None:
    del done, of, doing


def study_trends(visits: Sequence[Visit], told: Told = _silent) -> TrendStudy:
    """Return the trend of every number, and the visits that do not belong.

    Parameters
    ----------
    visits : in any order
    told : of progress; may raise to stop
    """
    series = series_of(visits)
    kinds = max(len(series), 1)
    long = [one for one in series if len(one.points) >= LEAST_VISITS]
    known = {visit.device: visit.correlations for visit in visits if visit.correlations.quantities}
    correlations = {visit.day: known[visit.device] for visit in visits if visit.device in known}
    belonging, odd_visits = find_odd(
        long, correlations, FALSE_ALARMS, lambda index, doing: told(index, kinds, doing)
    )
    held = {one.quantity: found for one, found in zip(long, belonging, strict=True)}
    # Many numbers are looked at: together a still horse shows a swing no more often than one alone.
    fitted = tuple(
        _fitted(one, held[one.quantity], FALSE_ALARMS / kinds) if one.quantity in held else _too_few(one)
        for one in series
    )
    told(kinds, kinds, "done")
    return TrendStudy(fitted=fitted, odd_visits=odd_visits)


def fit_trend(series: Series, false_alarms: float = FALSE_ALARMS) -> Fitted:
    """Return the trend of one number by itself.

    Parameters
    ----------
    series : of the visits on which it was measured
    false_alarms : how often a series without any odd visit may show one, and a still one may show a swing
    """
    if len(series.points) < LEAST_VISITS:
        return _too_few(series)
    (belonging,), _ = find_odd([series], {}, false_alarms, lambda _index, _doing: None)
    return _fitted(series, belonging, false_alarms)


def _too_few(series: Series) -> Fitted:
    n = len(series.points)
    why = Undetermined(f"three visits at least make a trend, not {n}")
    points = tuple(_point(point, None) for point in series.points)
    return Fitted(
        trend=Trend(
            quantity=series.quantity,
            points=points,
            line=why,
            overall=why,
            rate=why,
            season=TOO_SHORT_FOR_SEASON,
        ),
        smooth=why,
        last_day=series.points[-1].day,
    )


def _fitted(series: Series, belonging: Belonging, false_alarms: float) -> Fitted:
    odd, found = belonging.odd, belonging.smooth
    points = tuple(_point(point, odd.get(index)) for index, point in enumerate(series.points))
    start = float(found.years[0])
    kept = kept_of(series, odd).points
    first_day = kept[0].day
    end = float(found.years[-1])
    back = min(SLOPE_OVER_YEARS, end - start)
    steady = found.at(np.array([start, end - back, end]), with_season=False)
    overall, rate = steady.difference(0, 2), steady.difference(1, 2)
    per_quarter = SLOPE_OVER_YEARS / back
    return Fitted(
        trend=Trend(
            quantity=series.quantity,
            points=points,
            line=_line(found, first_day, end),
            overall=_change(*overall),
            rate=_change(rate[0] * per_quarter, rate[1] * per_quarter),
            season=_season(found, first_day),
            swings=_swings(found, [point.day for point in kept], false_alarms),
        ),
        smooth=found,
        last_day=kept[-1].day,
    )


def _point(point: SeriesPoint, chance: float | None) -> TrendPoint:
    return TrendPoint(
        day=point.day,
        value=point.value,
        sd=point.sd,
        belongs=chance is None,
        chance=1.0 if chance is None else chance,
    )


def _change(mean: float, sd: float) -> Change:
    return Change(value=mean, low=mean - NORMAL_95 * sd, high=mean + NORMAL_95 * sd)


def _swings(found: Smooth, days: Sequence[dt.date], false_alarms: float) -> tuple[Swing, ...]:
    """Return the clearest change between two visits, and the clearest before and after it, in their order.

    Every pair's change, over its own deviation, is held against the largest that paths of the trend show
    about their mean; from its 95 % follows how many independent pairs there are in effect, and from these
    the threshold at the level asked for, which holds for all pairs together.
    """
    n = len(found.years)
    first, second = np.triu_indices(n, 1)
    paths = found.at(found.years).paths(SWING_PATHS, 0)
    apart = paths[:, second] - paths[:, first]
    mean, sd = apart.mean(axis=0), np.maximum(apart.std(axis=0, ddof=1), 1e-9)
    usual = max(float(np.quantile(np.abs((apart - mean) / sd).max(axis=1), 0.95)), NORMAL_95)
    pairs = 0.05 / (2.0 * ndtr(-usual))
    threshold = -float(ndtri(false_alarms / (2.0 * pairs)))

    def within(start: int, end: int) -> tuple[Swing, ...]:
        clear = np.where((first >= start) & (second <= end), np.abs(mean) / sd, 0.0)
        k = int(np.argmax(clear))
        if clear[k] <= threshold:
            return ()
        value, half = float(mean[k]), float(threshold * sd[k])
        change = Change(value=value, low=value - half, high=value + half)
        one = Swing(first_day=days[first[k]], last_day=days[second[k]], change=change)
        return (*within(start, int(first[k])), one, *within(int(second[k]), end))

    return within(0, n - 1)


def _line(found: Smooth, first_day: dt.date, end: float) -> Line:
    years = np.linspace(0.0, end + min(AHEAD_YEARS, max(0.25 * end, 0.1)), LINE_POINTS)
    moments = found.at(years)
    mean, sd = moments.mean(), moments.sd()
    return Line(
        days=tuple(first_day + dt.timedelta(days=round(float(year) * DAYS_A_YEAR)) for year in years),
        mean=tuple(mean.tolist()),
        low=tuple((mean - NORMAL_95 * sd).tolist()),
        high=tuple((mean + NORMAL_95 * sd).tolist()),
    )


def _season(found: Smooth, first_day: dt.date) -> Season | Undetermined:
    months = np.arange(12)
    days = [dt.date(first_day.year + 1, int(month) + 1, 15) for month in months]
    years = np.array([(day - first_day).days for day in days]) / DAYS_A_YEAR
    moments = found.season(years)
    if moments is None:
        return NO_SEASON if may_show_season(found.years) else TOO_SHORT_FOR_SEASON
    paths = moments.paths(200, 0)
    ranges = 0.5 * (paths.max(axis=1) - paths.min(axis=1))
    return Season(
        half_range=float(ranges.mean()),
        sd=float(ranges.std(ddof=1)),
        highest_month=int(np.argmax(moments.mean())) + 1,
    )
