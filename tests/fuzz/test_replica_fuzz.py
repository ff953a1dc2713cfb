"""Backs that were measured badly: one side only, two stations, a gap, almost nothing. Never a traceback."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from saddlebench.engine.back.readings import BackReadings, StationReadings, ToplineHeights
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.replica.proof import prove_rebuild
from saddlebench.engine.replica.ribs import rib_replica
from saddlebench.engine.replica.settings import settings_for
from saddlebench.engine.replica.templates import template_set
from saddlebench.exchange.back_job import MeasuredBack
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.ribs import nested
from saddlebench.exchange.solids import SolidChoices, solid_replica
from support.rebuilt import back_of, rebuilt


def changed(change: Callable[[StationReadings], StationReadings | None]) -> MeasuredBack:
    """Return the invented back with every station's readings changed, or left out."""
    record = back_of().record
    stations = tuple(
        new
        for one in record.readings.stations
        if isinstance(one, StationReadings) and one.repeat == 0 and (new := change(one)) is not None
    )
    return rebuilt(BackReadings(stations=stations, topline=record.readings.topline), record.instrument)


def cut(row: tuple[float | None, ...], n: int) -> tuple[float | None, ...]:
    return (*row[:n], *(None for _ in row[n:]))


BACKS = {
    "off side at one station only": lambda one: replace(one, right=cut(one.right, 8 * (one.number == 4))),
    "off side hardly": lambda one: replace(one, right=cut(one.right, 2)),
    "two stations far apart": lambda one: one if one.number in (2, 10) else None,
    "two stations close together": lambda one: one if one.number in (5, 6) else None,
    "a gap": lambda one: None if one.number in (5, 6, 7, 8) else one,
    "a finger's width": lambda one: replace(one, left=cut(one.left, 3), right=cut(one.right, 3)),
    "sides that end unevenly": lambda one: replace(one, left=cut(one.left, 6 + one.number)),
}


@pytest.mark.parametrize("words", BACKS)
def test_a_badly_measured_back_is_rebuilt_as_far_as_it_goes_or_refused_in_words(words: str) -> None:
    back = changed(BACKS[words])
    done = 0
    refused: list[InputProblemsError] = []
    for work in (
        lambda: settings_for(back.estimated, example_instrument("chain-8-uneven")),
        lambda: settings_for(back.estimated, example_instrument("comb-24x15-foot")),
        lambda: template_set(back.estimated, thickness_mm=4.0),
        lambda: nested(rib_replica(back.estimated)),
        lambda: solid_replica(back.estimated, SolidChoices(bed_mm=(300.0, 300.0, 400.0))),
        lambda: prove_rebuild(back_of().estimated, back.estimated),
    ):
        try:
            made = work()
        except InputProblemsError as error:
            refused.append(error)
            continue
        done += 1
        if isinstance(made, tuple) and made and hasattr(made[0], "outline"):
            assert all(Polygon(one.outline).is_valid for one in made)
            assert all(np.isfinite(one.outline).all() for one in made)
    assert all(problem.what and problem.cure for error in refused for problem in error.problems)
    if words == "sides that end unevenly":
        assert done == 6


def test_a_topline_that_was_measured_oddly_is_no_reason_to_crash() -> None:
    record = back_of().record
    topline = record.readings.topline
    assert isinstance(topline, ToplineHeights)
    steep = replace(
        topline,
        height_mm=tuple(h - 0.3 * s for s, h in zip(topline.distance_mm, topline.height_mm, strict=True)),
    )
    back = rebuilt(replace(record.readings, topline=steep), record.instrument)
    assert len(template_set(back.estimated)) == 24
    assert len(rib_replica(back.estimated).ribs) >= 10
