"""A scan of an upturned saddle against solids that were built without this program's saddles."""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pytest

from saddlebench.demo.saddles import ALL_ROUND, BARS, FLEXIBLE, SIDE_SADDLE, TREELESS
from saddlebench.engine.errors import InputProblemsError, NotMeasured
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.model import Zone
from saddlebench.engine.saddle.numbers import PanelledNumbers, SaddleNumbers, model_from_numbers
from saddlebench.engine.saddle.panels import PanelNumbers, TreeNumbers
from saddlebench.engine.saddle.record import SaddleRecord, model_of
from saddlebench.engine.saddle.underside.become import panelled_of, with_scanned
from saddlebench.engine.saddle.underside.cloud import (
    FINE_MM,
    surface_points,
    thinned,
    unit_guesses,
    without_tables,
)
from saddlebench.engine.saddle.underside.evenness import unevenness
from saddlebench.engine.saddle.underside.found import FoundUnderside, find_underside
from saddlebench.engine.saddle.underside.placing import Placed, place, turned_round
from saddlebench.engine.units import Length
from support.upturned import Upturned, clutter, sampled, slabs, table, underside_of, upturned

# What a tape would have told of the two slabs, a little wrong as tapes are.
NUMBERS = PanelledNumbers(
    label="slabs",
    tree=TreeNumbers(width_mm=250.0, depth_mm=140.0, angle_deg=96.0, rise_mm=45.0),
    panel=PanelNumbers(
        length_mm=425.0, channel_mm=(76.0, 72.0, 76.0), width_mm=(140.0, 105.0, 115.0), angle_deg=(36.0, 30.0)
    ),
)


@dataclass(frozen=True)
class Tried:
    made: Upturned
    placed: Placed
    found: FoundUnderside

    @property
    def turned_deg(self) -> FloatArray:
        """Roll, pitch, yaw of the axes that were found against the true ones."""
        off = self.found.placed.rotation @ self.made.rotation
        return np.degrees([off[2, 1], off[0, 2], off[1, 0]])


def found_in(made: Upturned, numbers: PanelledNumbers) -> Tried:
    pattern = model_from_numbers(numbers, 1500)
    points = thinned(surface_points(made.vertices, made.faces), FINE_MM)
    placed = place(points, pattern)
    return Tried(made=made, placed=placed, found=find_underside(points, placed, pattern))


@lru_cache(maxsize=2)
def of_slabs(twist_deg: float) -> Tried:
    solid = slabs(twist_deg=twist_deg, channel_mm=70.0, dent=(1, 260.0, 0.5, 4.0, 30.0))
    return found_in(upturned(sampled(solid, 1), 1, noise_mm=1.5, holes=4), NUMBERS)


@lru_cache(maxsize=1)
def of_all_round() -> Tried:
    mesh = underside_of(model_from_numbers(ALL_ROUND, 2000))
    return found_in(upturned(mesh, 2, noise_mm=1.5, holes=6), ALL_ROUND)


def test_axes_of_a_scan_among_clutter() -> None:
    assert np.abs(of_all_round().turned_deg).max() < 1.0


def test_pommel_and_cantle_are_told_apart_by_an_all_round_saddle() -> None:
    tried = of_all_round()
    assert tried.placed.heading_is_sure
    assert tried.turned_deg[2] == pytest.approx(0.0, abs=1.0)


def test_channel_within_two_millimetres() -> None:
    """Two slabs stand exactly 70 mm apart all along."""
    found = of_slabs(2.0).found
    inside = (found.behind_mm > 40.0) & (found.behind_mm < 390.0)
    assert float(np.mean(found.channel_mm[inside])) == pytest.approx(70.0, abs=2.0)


def test_twist_within_half_a_degree() -> None:
    """The rear of the solid was turned by 2° against its front."""
    found = of_slabs(2.0).found
    assert np.degrees(found.twist) == pytest.approx(2.0, abs=0.5)
    assert abs(np.degrees(found.twist) - 2.0) < 2.0 * np.degrees(found.twist_sd)


def test_a_known_dent_is_given_back() -> None:
    """A ball's cap, 4 mm deep and 60 mm wide, was pressed into the near panel at 260 mm, half way across."""
    found = of_slabs(2.0).found
    near = {one.zone: one for one in unevenness(found.near, found.length_mm)}
    dent = near[Zone.SEAT]
    assert dent.is_told
    assert dent.most_mm == pytest.approx(-4.0, abs=1.0)
    assert dent.behind_mm == pytest.approx(260.0, abs=15.0)
    assert dent.across == pytest.approx(0.5, abs=0.15)


def test_a_record_comes_of_it_with_its_error() -> None:
    record = SaddleRecord(
        label="slabs",
        numbers=NUMBERS,
        alterable=usual_alterations(NUMBERS, "not known"),
        assumed=("panel.width",),
    )
    scanned = with_scanned(record, of_slabs(2.0).found)
    model = model_of(scanned.record)
    assert not isinstance(model, NotMeasured)
    error = scanned.record.shape_error
    assert error is not None
    assert model.shape_error == error
    assert error.twist_mm > 0.0
    assert error.arch_width_mm == 3.0
    panel = panelled_of(scanned.record.numbers).panel
    assert panel.length_mm == pytest.approx(430.0, abs=6.0)
    assert scanned.record.assumed == ()


def test_turned_round_lies_where_the_cantle_was() -> None:
    placed = of_all_round().placed
    other = turned_round(placed, 430.0)
    at_front = placed.origin[None]
    assert other.to_saddle(at_front)[0] == pytest.approx([-430.0, 0.0, 0.0], abs=1e-6)


def test_a_table_is_taken_away_and_the_saddle_stays() -> None:
    flat = np.array(table(spacing=8.0).vertices)
    saddle = np.array(underside_of(model_from_numbers(ALL_ROUND, 600), spacing=6.0).vertices)
    left = without_tables(np.concatenate([flat, saddle]))
    assert len(left) == pytest.approx(len(saddle), rel=0.05)


def test_units_are_offered_and_none_is_taken() -> None:
    saddle = np.array(underside_of(model_from_numbers(ALL_ROUND, 600), spacing=8.0).vertices)
    likely = {guess.unit for guess in unit_guesses(saddle / 1000.0) if guess.is_likely}
    assert likely == {Length.M}


def test_a_room_without_a_saddle_is_refused() -> None:
    room = np.concatenate([np.array(part.vertices) for part in clutter(np.random.default_rng(0))])
    with pytest.raises(InputProblemsError, match="saddle"):
        place(room, model_from_numbers(ALL_ROUND, 1500))


def test_another_saddle_is_not_taken_for_this_one() -> None:
    odd = replace(NUMBERS, panel=replace(NUMBERS.panel, angle_deg=(62.0, 60.0)))
    with pytest.raises(InputProblemsError):
        found_in(upturned(sampled(slabs(channel_mm=70.0), 3), 3, noise_mm=1.5), odd)


def test_slabs_that_are_seen_from_both_sides_are_found_by_their_lower_faces() -> None:
    """Two thick slabs, 430 mm long, not twisted: their upper faces are seen, too, and through a hole."""
    solid = slabs(channel_mm=70.0, dent=(1, 260.0, 0.5, 4.0, 30.0))
    tried = found_in(upturned(sampled(solid, 1), 3, noise_mm=1.5, holes=4), NUMBERS)
    assert tried.found.length_mm == pytest.approx(430.0, abs=6.0)
    assert abs(tried.found.twist) < 3.0 * tried.found.twist_sd
    inside = (tried.found.behind_mm > 40.0) & (tried.found.behind_mm < 390.0)
    assert float(np.mean(tried.found.channel_mm[inside])) == pytest.approx(70.0, abs=2.0)
    assert np.abs(tried.turned_deg[[0, 2]]).max() < 1.5


@pytest.mark.parametrize(
    ("numbers", "what", "instead"),
    [
        (BARS, "bars are not found", "Measure the bars"),
        (SIDE_SADDLE, "unequal on purpose", "near and off side each"),
        (TREELESS, "no panels on a rigid tree", "by its numbers"),
        (FLEXIBLE, "no panels on a rigid tree", "by its numbers"),
    ],
    ids=["bars", "side-saddle", "treeless", "flexible"],
)
def test_families_that_are_not_found_say_what_to_do_instead(
    numbers: SaddleNumbers, what: str, instead: str
) -> None:
    with pytest.raises(InputProblemsError) as refused:
        panelled_of(numbers)
    (problem,) = refused.value.problems
    assert what in problem.what
    assert instead in problem.cure
    assert problem.where.field == "family"
