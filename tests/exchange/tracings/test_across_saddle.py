"""Which curve is which station of a saddle, and where its panels begin; all that is wrong is said at once."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.demo.traced_saddle import curve_across
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.saddle.numbers import model_from_numbers
from saddlebench.engine.saddle.sections import sections_of
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.across_saddle import (
    SectionsStated,
    curves_across,
    inner_edges,
    with_inner_edges,
)
from saddlebench.exchange.tracings.gathering import NamedSheet
from saddlebench.exchange.tracings.paper_edge import PrintedScale
from saddlebench.exchange.tracings.sheet_read import ReadCurve, ReadSheet

BEHIND = (20.0, 120.0, 240.0, 350.0)
SECTIONS = sections_of(model_from_numbers(ALL_ROUND, 800), BEHIND)


def curve_of(number: int) -> ReadCurve:
    points, strokes = curve_across(SECTIONS[number])
    return ReadCurve(
        points=points,
        seen=np.ones(len(points), bool),
        photo=points,
        point_sd_mm=0.3,
        ticks=np.array([one.mean(axis=0) for one in (strokes[0], strokes[2])]),
        by_tick=True,
    )


def sheet_of(
    *curves: ReadCurve, kind: SheetKind = SheetKind.SADDLE, stations: tuple[int, ...] = ()
) -> NamedSheet:
    return NamedSheet(
        name="one.jpg",
        sheet=ReadSheet(
            kind=kind,
            size_px=(1632, 1224),
            curves=curves,
            stations=stations,
            scale=PrintedScale(across=1.0, down=1.0, sd=0.003, source="the paper’s edges"),
            tilt_deg=0.0,
            curl=0.0,
            n_markers=10,
            inside_mm=0.2,
            to_mm=np.eye(3),
            remarks=(),
        ),
    )


def test_strokes_say_where_panels_begin_and_the_curve_where_they_end() -> None:
    found = curves_across(
        [sheet_of(curve_of(1), curve_of(2), stations=(2, 3))], SectionsStated(behind_mm=BEHIND)
    )
    for one, true in zip(found.curves, SECTIONS[1:3], strict=True):
        assert one.near[0, 0] == pytest.approx(true.left[0, 0], abs=0.1)
        assert one.near[-1, 0] == pytest.approx(true.left[-1, 0], abs=0.1)
        assert one.off[0, 0] == pytest.approx(-true.right[0, 0], abs=0.1)
        assert one.edges_are_marked
    assert found.remarks == ()
    assert found.gaps_mm is None


def test_near_on_the_right_is_turned_round() -> None:
    lopsided = with_inner_edges(curve_of(1), 30.0, 44.0)
    assert inner_edges(lopsided) == (30.0, 44.0)
    stated = SectionsStated(behind_mm=BEHIND)
    (plain,) = curves_across([sheet_of(lopsided, stations=(2,))], stated).curves
    (turned,) = curves_across([sheet_of(lopsided, stations=(2,))], replace(stated, mirrored=True)).curves
    assert (plain.near[0, 0], plain.off[0, 0]) == pytest.approx((30.0, 44.0), abs=0.05)
    assert (turned.near[0, 0], turned.off[0, 0]) == pytest.approx((44.0, 30.0), abs=0.05)


def test_an_outer_stroke_ends_a_panel_before_its_curve_does() -> None:
    curve = curve_of(1)
    ticks = np.vstack([curve.ticks, [-90.0, float(np.interp(-90.0, curve.points[:, 0], curve.points[:, 1]))]])
    (one,) = curves_across(
        [sheet_of(replace(curve, ticks=ticks), stations=(2,))], SectionsStated(behind_mm=BEHIND)
    ).curves
    assert one.near[-1, 0] == pytest.approx(90.0, abs=0.05)
    assert one.off[-1, 0] > 110.0


def test_without_strokes_nothing_is_guessed_unless_the_channel_was_measured() -> None:
    bare = replace(curve_of(1), ticks=np.zeros((0, 2)))
    with pytest.raises(InputProblemsError) as caught:
        curves_across([sheet_of(bare, stations=(2,))], SectionsStated(behind_mm=BEHIND))
    said = [str(one) for one in caught.value.problems]
    assert len(said) == 2
    assert "no stroke says where the near panel begins" in said[0]
    stated = SectionsStated(behind_mm=BEHIND, channel_mm=(None, 74.0, None, None))
    (one,) = curves_across([sheet_of(bare, stations=(2,))], stated).curves
    assert (one.near[0, 0], one.off[0, 0]) == pytest.approx((37.0, 37.0), abs=0.05)
    assert not one.edges_are_marked


def test_everything_that_is_wrong_is_said_at_once() -> None:
    photos = [
        sheet_of(curve_of(0), stations=(1,)),
        sheet_of(curve_of(1), stations=(1,)),
        sheet_of(curve_of(2), stations=(9,)),
        sheet_of(curve_of(3), kind=SheetKind.SECTIONS, stations=(4,)),
    ]
    stated = SectionsStated(behind_mm=BEHIND, leans_deg=(1.0, 45.0), gaps_mm=(0.0, 0.0, 0.0, -2.0))
    with pytest.raises(InputProblemsError) as caught:
        curves_across(photos, stated)
    said = " ".join(str(one) for one in caught.value.problems)
    for words in (
        "45 is no lean",
        "2 values are given for 4 stations",
        "-2 is no gap",
        "two curves are of station 1",
        "station 9 has no distance",
        "this is a sheet for a back",
    ):
        assert words in said


def test_a_station_by_its_order_alone_is_remarked_upon() -> None:
    found = curves_across([sheet_of(curve_of(0), curve_of(1))], SectionsStated(behind_mm=BEHIND))
    assert [one.behind_mm for one in found.curves] == [20.0, 120.0]
    assert all("by its order" in str(one) for one in found.remarks)
    assert len(found.remarks) == 2
