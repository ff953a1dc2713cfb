"""The pictures of doubts, trends and hands: what they say in words, what they mark, how wide they are."""

import datetime as dt
import re
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from saddlebench.engine.back.quantities import WITHERS_WIDTH
from saddlebench.engine.change.repeat.exercise import CheckMe, Hand, HandOn
from saddlebench.engine.change.repeat.own import Ratio, own_errors
from saddlebench.engine.change.repeat.spread import spread_of
from saddlebench.engine.change.trend.series import Series, SeriesPoint
from saddlebench.engine.change.trend.study import NO_SEASON, TOO_SHORT_FOR_SEASON, Season, fit_trend
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.measures.names import Side
from saddlebench.engine.fit.worth_repeating import FindingDoubt, SourceKind, WorthRepeating
from saddlebench.exchange.doubt_words import advice_of, worth_telling
from saddlebench.exchange.drawings import PAGE_WIDTH_MM, PHONE_WIDTH_MM, as_svg
from saddlebench.exchange.drawings.doubt import doubt_chart
from saddlebench.exchange.drawings.repeat_hand import hand_chart
from saddlebench.exchange.drawings.trend import trend_chart
from saddlebench.exchange.repeat_words import plain_sentences
from saddlebench.exchange.trend_words import (
    SEASON_TOLD,
    change_words,
    is_season_told,
    moved_words,
    one_swing_words,
    ordered,
    season_words,
    swing_words,
)


def _source(name, kind, share, removes, settles):
    return WorthRepeating(
        source=name,
        kind=kind,
        share=share,
        low=8.0,
        high=16.0,
        removes=removes,
        settles=settles,
        stations=(3,) if kind is SourceKind.SECTION else (),
    )


def _doubt(*sources, is_told=False):
    return FindingDoubt(
        finding=FindingName.SPINE_HEIGHT,
        side=Side.BOTH,
        what="height over the spine, rider up",
        unit="mm",
        value=12.0,
        half_width=6.0,
        bounds=(8.0, 15.0),
        agreeing=0.6,
        is_told=is_told,
        sources=sources,
    )


STATION = _source("station 3, off side", SourceKind.SECTION, 0.5, 0.36, 0.7)
SOFT = _source("how soft the back is", SourceKind.ASSUMPTION, 0.3, 0.0, 0.0)


def test_the_repeat_that_settles_a_finding_is_said_plainly():
    said = advice_of(_doubt(STATION, SOFT)).replace("\u00a0", " ")
    assert said == (
        "Measure station 3 again on the off side (right); this can then be told in about 70 of 100 cases, "
        "known to ±4.8 mm."
    )
    # Where it lies is said as well, and a repeat is never certain.
    placed = replace(STATION, at_mm=240.0, settles=1.0)
    said = advice_of(_doubt(placed, SOFT)).replace("\u00a0", " ")
    assert said.startswith(
        "Measure station 3 (240 mm behind the shoulder mark) again on the off side (right); this can then be "
        "told in about 99 of 100 cases"
    )


def test_a_repeat_that_seldom_settles_it_is_not_oversold():
    seldom = _source("the last-rib mark", SourceKind.MARK, 0.4, 0.2, 0.2)
    assert "in about 20 of 100 cases only" in advice_of(_doubt(seldom))
    never = _source("the last-rib mark", SourceKind.MARK, 0.4, 0.2, 0.0)
    assert "alone does not let it be told" in advice_of(_doubt(never))
    assert "rests on assumptions" in advice_of(_doubt(SOFT))
    assert "can be told as it is" in advice_of(_doubt(STATION, is_told=True))


def test_findings_in_doubt_come_with_the_most_helpful_first():
    hopeless, told = _doubt(SOFT), _doubt(STATION, is_told=True)
    helpful = _doubt(STATION, SOFT)
    assert worth_telling((hopeless, told, helpful)) == (helpful, hopeless)


@pytest.mark.parametrize("width", [PHONE_WIDTH_MM, PAGE_WIDTH_MM])
def test_the_doubt_chart_has_a_bar_for_every_source(width):
    drawing = doubt_chart([_doubt(STATION, SOFT), _doubt()], pair="Rowan on Kestrel", width_mm=width)
    assert drawing.figure.get_size_inches()[0] == pytest.approx(width / 25.4)
    bars = [axes.patches for axes in drawing.figure.axes if axes.patches]
    assert [len(one) for one in bars] == [2]
    first = bars[0][0]
    assert (first.get_x(), first.get_width()) == (8.0, 8.0)
    texts = [text.get_text() for text in drawing.figure.texts]
    assert "50\u00a0%: station 3, off side" in texts
    assert "Measure station 3 again" in drawing.description
    assert as_svg(drawing).startswith("<?xml")


def _trend(odd=None):
    rng = np.random.default_rng(3)
    points = []
    for k in range(14):
        value = 250.0 + 6.0 * k * 42 / 365.25 + rng.normal(0.0, 1.0) + (15.0 if k == odd else 0.0)
        day = dt.date(2024, 1, 8) + dt.timedelta(days=42 * k)
        points.append(SeriesPoint(day=day, value=value, fresh_sd=1.0, shared={}))
    return fit_trend(Series(quantity=WITHERS_WIDTH, points=tuple(points))).trend


def test_the_trend_chart_marks_the_visit_that_does_not_belong():
    drawing = trend_chart([_trend(odd=6)], label="Bramble (invented)", width_mm=PAGE_WIDTH_MM)
    assert "does not belong: 16 September 2024" in drawing.description
    markers = [line.get_marker() for axes in drawing.figure.axes[:1] for line in axes.lines]
    assert markers.count("X") == 1
    assert markers.count("o") == 1
    assert as_svg(drawing).count("<svg") == 1


def test_changes_are_said_with_their_interval_and_whether_they_are_real():
    trend = _trend()
    assert trend.overall.is_real
    said = change_words(trend.overall, trend.quantity)
    assert said.startswith("+")
    assert "within measuring error" not in said
    (swing,) = trend.swings
    assert swing_words(trend) == one_swing_words(swing, trend.quantity)
    assert re.fullmatch(
        r"\d+ \w+ \d{4} to \d+ \w+ \d{4} \+[\d.]+\smm \(\+[\d.]+ to \+[\d.]+\smm\)", swing_words(trend)
    )
    assert moved_words((trend, trend)) == "2 of 2 numbers moved"
    still = replace(trend, swings=())
    assert moved_words((still,)).startswith("None of 1 numbers moved")
    assert ordered((still, trend))[0] is trend


def _check(observed):
    own = spread_of(observed**2, 4)
    hand = Hand.LESS_STEADY if observed > 2.0 else Hand.AS_STATED
    one = HandOn(quantity=WITHERS_WIDTH, mean=250.0, own=own, stated_sd=1.0, hand=hand)
    ratio = Ratio(observed=observed**2, stated=1.0, fixed=0.1, degrees=6.0, n_repeats=5)
    return CheckMe(
        n_repeats=5,
        overall=own_errors([ratio]),
        ratio=ratio,
        numbers=(one,),
        patterns=(),
        practise="pressing: lay the instrument down with its own weight alone" if observed > 2.0 else "",
    )


def test_a_hand_is_told_in_plain_words():
    shaky = plain_sentences(_check(4.0))
    assert "less steady than stated" in shaky[0]
    assert shaky[1] == "A width read twice differs by up to 11\u00a0mm (95 of 100 times)."
    assert "Practise: pressing" in shaky[3]
    steady = plain_sentences(_check(1.0))
    assert "as the instrument states" in steady[0]
    assert "Nothing stands out" in steady[2]
    assert "halved" not in steady[-1]
    assert "steadier" in plain_sentences(_check(0.1))[0]


def test_the_hand_chart_shows_every_number_against_the_stated_one():
    drawing = hand_chart(_check(4.0), label="Bramble (invented)")
    assert "withers width" in " ".join(text.get_text() for text in drawing.figure.texts)
    assert "Practise" in drawing.description
    diamonds = [line for axes in drawing.figure.axes for line in axes.lines if line.get_marker() == "^"]
    assert diamonds[0].get_xdata()[0] == pytest.approx(2.0)


def test_a_season_is_told_only_where_it_stands_out_from_error():
    """A yearly wave of nothing but errors: its height has a mean over its deviation of 1.91 (Rayleigh).

    Of thirty numbers none may show a season by errors alone in 95 of 100 horses.
    """
    noise = np.hypot(*np.random.default_rng(5).standard_normal((2, 20_000)))
    assert noise.mean() / noise.std() == pytest.approx(1.91, abs=0.03)
    rare = stats.rayleigh.isf(0.05 / 30)
    assert stats.rice.mean(rare) / stats.rice.std(rare) == pytest.approx(SEASON_TOLD, abs=0.05)
    quantity = WITHERS_WIDTH
    seen = Season(half_range=4.0, sd=1.0, highest_month=9)
    assert season_words(seen, quantity).replace("\u00a0", " ") == "±4.0 mm with the season, most in September"
    for unsure in (replace(seen, half_range=3.0), replace(seen, sd=2.0)):
        assert season_words(unsure, quantity) == "a season cannot be told from error"
        assert not is_season_told(unsure)
    assert not is_season_told(NO_SEASON)
    assert season_words(NO_SEASON, quantity) == "no season seen"
    assert season_words(TOO_SHORT_FOR_SEASON, quantity) == "too few visits to tell a season"
