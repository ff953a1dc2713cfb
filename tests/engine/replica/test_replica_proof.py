"""Proof of a rebuild: wherever the replica stands, faults are found where they are, and only there."""

import dataclasses

import numpy as np
import pytest

from saddlebench.engine.back.instruments import PinComb, Placing, Scale
from saddlebench.engine.back.readings import BackReadings, StationReadings, ToplineHeights
from saddlebench.engine.back.stance import Stance
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.replica.proof import RebuildVerdict, not_compared, prove_rebuild
from saddlebench.engine.replica.settings import settings_for
from saddlebench.exchange.back_job import MeasuredBack, measured
from support.rebuilt import back_of, rebuilt

STEADY = PinComb(
    name="a steady comb on a bench",
    pitch_mm=10.0,
    n_pins=41,
    midline_pin=21.0,
    scale=Scale(lowest=0.0, highest=400.0, step=0.5),
    offset_mm=30.0,
    offset_sd_mm=0.1,
    pin_sd_mm=0.1,
    zero_sd_mm=0.0,
    placing=Placing(along_mm=0.3, midline_mm=0.2, tilt_deg=0.1, lean_deg=0.1, contact_mm=0.2, height_mm=0.3),
)


def replica(*, raised_mm: float = 0.0, station: int = 0, near_only: bool = False) -> MeasuredBack:
    """Return the original as a steady comb shows it, one station raised (or its near side alone)."""
    readings = settings_for(back_of().estimated, STEADY).readings
    stations = []
    for one in readings.stations:
        assert isinstance(one, StationReadings)
        if one.number == station:
            left = tuple(None if r is None else r - raised_mm for r in one.left)
            right = one.right if near_only else tuple(None if r is None else r - raised_mm for r in one.right)
            middle = one.middle if near_only or one.middle is None else one.middle - raised_mm
            stations.append(dataclasses.replace(one, left=left, right=right, middle=middle))
        else:
            stations.append(one)
    return rebuilt(dataclasses.replace(readings, stations=tuple(stations)), STEADY)


def test_a_true_rebuild_is_good_at_every_station() -> None:
    found = prove_rebuild(back_of().estimated, replica().estimated)
    assert found.verdict is RebuildVerdict.GOOD
    assert found.rms_mm < 0.6
    assert np.all(found.band_mm > 0.0)
    assert not_compared(found, back_of().estimated) == ()


def test_a_side_set_too_high_is_found_there_and_nowhere_else() -> None:
    found = prove_rebuild(back_of().estimated, replica(raised_mm=8.0, station=6, near_only=True).estimated)
    verdicts = {one.number: one.verdict for one in found.stations}
    assert verdicts[6] is RebuildVerdict.MOVE
    near, off = found.stations[5].sides
    assert (near.side, off.side) == ("near", "off")
    assert near.verdict is RebuildVerdict.MOVE
    assert off.verdict is not RebuildVerdict.MOVE
    assert near.worst_mm > 3.0
    assert all(verdict is not RebuildVerdict.MOVE for k, verdict in verdicts.items() if abs(k - 6) > 1)


def test_a_station_set_too_high_is_to_be_lowered_by_about_that_much() -> None:
    original = back_of()
    readings = settings_for(original.estimated, STEADY).readings
    topline = readings.topline
    assert isinstance(topline, ToplineHeights)
    place = readings.stations[6].distance_mm
    heights = tuple(
        height + (7.0 if abs(s - place) < 0.5 else 0.0)
        for s, height in zip(topline.distance_mm, topline.height_mm, strict=True)
    )
    raised = dataclasses.replace(readings, topline=dataclasses.replace(topline, height_mm=heights))
    found = prove_rebuild(original.estimated, rebuilt(raised, STEADY).estimated)
    station = found.stations[6]
    assert station.verdict is RebuildVerdict.MOVE
    assert station.raise_mm == pytest.approx(-7.0, abs=2.5)
    assert abs(station.shift_near_mm) < 1.5
    assert sum(one.verdict is RebuildVerdict.MOVE for one in found.stations) <= 3


@pytest.mark.parametrize(("pitch", "roll"), [(3.0, 0.0), (0.0, -4.0), (2.0, 3.0)])
def test_a_replica_on_a_sloping_bench_is_the_same_replica(pitch: float, roll: float) -> None:
    """The bench's slope is not told to the record: laying one on the other takes it out."""
    level = replica()
    record = dataclasses.replace(level.record, stance=Stance(pitch_deg=pitch, roll_deg=roll))
    found = prove_rebuild(back_of().estimated, measured(record).estimated)
    assert found.verdict is RebuildVerdict.GOOD
    assert found.rms_mm < 1.0
    assert np.abs(found.turned_deg).max() == pytest.approx(np.hypot(pitch, roll), abs=1.2)


def test_another_horse_is_not_passed() -> None:
    found = prove_rebuild(back_of().estimated, back_of(1).estimated)
    assert found.verdict is not RebuildVerdict.GOOD
    assert found.largest_mm > 5.0


def test_the_band_holds_the_measuring_error_at_all_places_at_once() -> None:
    """A replica measured again and again with errors as large as the comb states: all inside, 95 in 100.

    Of twelve measurings of a true rebuild, four or more beyond the band somewhere have a chance of 0.2 %
    (binomial).
    """
    comb = dataclasses.replace(
        STEADY,
        pin_sd_mm=0.6,
        offset_sd_mm=0.4,
        scale=Scale(lowest=0.0, highest=400.0, step=0.02),
        placing=dataclasses.replace(
            STEADY.placing,
            along_mm=0.0,
            midline_mm=0.0,
            tilt_deg=0.0,
            lean_deg=0.0,
            contact_mm=0.0,
            height_mm=0.8,
        ),
    )
    exact = settings_for(back_of().estimated, comb).readings
    beyond = 0
    for seed in range(12):
        again = rebuilt(misread(exact, np.random.default_rng(100 + seed)), comb)
        found = prove_rebuild(back_of().estimated, again.estimated, tolerance_mm=0.5)
        beyond += bool(np.any(np.abs(found.off_mm) > found.band_mm))
    assert beyond <= 3


def misread(exact: BackReadings, rng: np.random.Generator) -> BackReadings:
    """Return readings with errors of exactly the stated sizes: each pin, each station's foot, each height."""
    stations = []
    for one in exact.stations:
        assert isinstance(one, StationReadings)
        foot = float(rng.normal(0.0, 0.4))
        rows = [
            tuple(None if r is None else float(r + foot + rng.normal(0.0, 0.6)) for r in row)
            for row in (one.left, one.right, (one.middle,))
        ]
        stations.append(dataclasses.replace(one, left=rows[0], right=rows[1], middle=rows[2][0]))
    topline = exact.topline
    assert isinstance(topline, ToplineHeights)
    heights = tuple(float(h + rng.normal(0.0, 0.8)) for h in topline.height_mm)
    return BackReadings(stations=tuple(stations), topline=dataclasses.replace(topline, height_mm=heights))


def test_records_with_nothing_in_common_are_refused() -> None:
    front = settings_for(back_of().estimated, STEADY, (-140.0, -100.0)).readings
    far = tuple(dataclasses.replace(one, distance_mm=one.distance_mm + 2000.0) for one in front.stations)
    topline = front.topline
    assert isinstance(topline, ToplineHeights)
    heights = dataclasses.replace(topline, distance_mm=tuple(s + 2000.0 for s in topline.distance_mm))
    with pytest.raises(InputProblemsError):
        prove_rebuild(
            back_of().estimated,
            rebuilt(dataclasses.replace(front, stations=far, topline=heights), STEADY).estimated,
        )
