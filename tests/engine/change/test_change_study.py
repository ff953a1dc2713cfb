"""Two invented visits compared: silent where nothing changed, plain where something did."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.shapes import WIDE_COB
from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.readings import ToplineHeights
from saddlebench.engine.back.record import Coat
from saddlebench.engine.change.coat import coat_offset
from saddlebench.engine.change.comparable import STANDS_OTHERWISE
from saddlebench.engine.change.marks import shift_by_marks
from saddlebench.engine.change.results import Comparison, NotComparable, Step
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.study import compare, study_change
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Problem
from saddlebench.exchange.back_job import MeasuredBack, measured
from support.visits import comb, disc, visited

QUICK = ChangeSettings(simulations=600, draws=64)
GAIN = disc(8.0, 150.0, 0.4, 140.0)


def compared(earlier: MeasuredBack, later: MeasuredBack, settings: ChangeSettings = QUICK) -> Comparison:
    held = compare(earlier, later, settings=settings)
    assert isinstance(held, Comparison), held
    return held


@pytest.fixture(scope="module")
def same() -> Comparison:
    return compared(visited(0, 1), visited(180, 2))


@pytest.fixture(scope="module")
def gained() -> Comparison:
    return compared(visited(0, 1), visited(180, 3, change=GAIN))


def test_the_same_back_measured_again_shows_nothing(same: Comparison) -> None:
    assert not same.scan.patches
    assert not same.scan.is_told
    assert not same.map.is_real.any()
    assert not any(one.is_told for one in (*same.volumes, *same.numbers, *same.sides))


def test_a_gain_is_found_where_it_is_with_its_sign_and_depth(gained: Comparison) -> None:
    patch = gained.scan.patches[0]
    assert abs(patch.s_mm - 150.0) < 50.0
    assert patch.from_midline_mm > 40.0
    assert 4.0 < patch.depth.value < 11.0
    assert patch.depth.low > 0.0


def test_a_patch_that_reaches_before_the_withers_may_be_the_necks(gained: Comparison) -> None:
    assert not any("neck" in caution for caution in gained.cautions)
    before = compared(visited(0, 1), visited(180, 3, change=disc(12.0, -110.0, 0.35, 140.0)))
    assert before.scan.patches[0].s_mm < -60.0
    assert any("how the neck was carried" in caution for caution in before.cautions)


def test_turned_round_a_gain_is_the_same_loss(gained: Comparison) -> None:
    back = compared(visited(180, 3, change=GAIN), visited(0, 1))
    lost, won = back.scan.patches[0], gained.scan.patches[0]
    assert lost.depth.high < 0.0
    assert abs(lost.s_mm - won.s_mm) < 60.0
    assert abs(lost.from_midline_mm - won.from_midline_mm) < 60.0


def test_the_gain_lies_on_the_near_side_alone(gained: Comparison) -> None:
    at_patch = [one for one in gained.sides if one.along.value in ("front", "middle")]
    held = [one.left_minus_right for one in at_patch]
    assert max(one.value for one in held if isinstance(one, Estimate)) > 1.5


def test_what_could_be_told_is_stated_everywhere_both_measured(same: Comparison) -> None:
    held = same.map.told_mm[same.map.common]
    assert np.isfinite(held).mean() > 0.9
    assert 2.0 < np.median(held[np.isfinite(held)]) < 10.0
    assert np.isinf(same.map.told_mm[~same.map.common]).all()


def test_a_wide_change_hides_more_easily_than_one_over_100_mm(same: Comparison) -> None:
    assert same.least_wide is not None
    local = np.median(same.map.told_mm[same.map.common])
    assert local < same.least_wide.middle_mm < same.least_wide.even_mm < 40.0
    assert same.least_wide.best_mm < same.least_wide.middle_mm < same.least_wide.worst_mm


def test_a_gains_patch_says_how_sure_it_is_and_where_its_middle_may_be(gained: Comparison) -> None:
    patch = gained.scan.patches[0]
    assert patch.sure > 0.99
    assert min(abs(s - 150.0) for s, _ in patch.middles_mm) < 45.0
    assert (patch.s_mm, patch.from_midline_mm) == pytest.approx(patch.middles_mm[0], abs=60.0)


def test_fewer_stations_tell_less(same: Comparison) -> None:
    five = (-140.0, 35.0, 210.0, 385.0, 560.0)
    few = compared(visited(0, 1, stations=five), visited(180, 2, stations=five))
    both = [np.median(one.map.told_mm[one.map.common]) for one in (same, few)]
    assert both[1] > both[0]


def test_the_later_record_is_laid_by_withers_and_rib_and_not_moved_beyond_them(same: Comparison) -> None:
    moves = {move.name: move for move in same.registration.moves}
    assert set(moves) == {"along the back", "sideways", "height", "roll", "pitch", "heading"}
    assert moves["along the back"].expected_sd < 10.0
    for move in moves.values():
        assert move.beyond < STANDS_OTHERWISE
        assert move.sd <= move.expected_sd * 1.0001


def test_a_shoulder_mark_set_elsewhere_is_no_change() -> None:
    back = visited(0, 1).record
    marks = back.landmarks
    nearer = replace(
        marks,
        **{
            name: replace(getattr(marks, name), value_mm=getattr(marks, name).value_mm - 25.0)
            for name in ("withers", "lowest", "last_rib")
        },
    )
    stations = tuple(
        replace(one, distance_mm=one.distance_mm - 25.0) for one in visited(180, 2).record.readings.stations
    )
    topline = visited(180, 2).record.readings.topline
    moved = replace(topline, distance_mm=tuple(d - 25.0 for d in topline.distance_mm))
    later = replace(
        visited(180, 2).record,
        landmarks=nearer,
        readings=replace(visited(180, 2).record.readings, stations=stations, topline=moved),
    )
    held = compared(visited(0, 1), measured(later))
    along = held.registration.moves[0]
    assert along.value == pytest.approx(25.0, abs=12.0)
    assert not held.scan.patches


def set_further_back(by_mm: float) -> MeasuredBack:
    """Return the later visit with every mark set that much further back, as one slip of the whole hand."""
    record = visited(180, 2).record
    stations = tuple(replace(one, distance_mm=one.distance_mm - by_mm) for one in record.readings.stations)
    topline = record.readings.topline
    assert isinstance(topline, ToplineHeights)
    nearer = replace(topline, distance_mm=tuple(d - by_mm for d in topline.distance_mm))
    return measured(replace(record, readings=replace(record.readings, stations=stations, topline=nearer)))


@pytest.mark.parametrize("as_step", [False, True])
def test_marks_set_elsewhere_altogether_are_told_and_the_records_laid_by_shape(as_step: bool) -> None:
    later = set_further_back(70.0)
    if as_step:
        step = study_change([visited(0, 1), later, visited(200, 3)], settings=QUICK).steps[0]
        assert isinstance(step, Step)
        assert not step.scan.is_told
        return
    held = compared(visited(0, 1), later)
    along = held.registration.along
    assert along.value == pytest.approx(70.0, abs=20.0)
    assert abs(along.value - 70.0) < 2.5 * along.sd
    assert not held.scan.patches
    assert not held.map.is_real.any()
    assert "set at other places" in held.cautions[0]


def test_marks_tie_by_their_precision() -> None:
    marks = visited(0, 1).record.landmarks
    tied = shift_by_marks(marks, marks)
    assert tied.mean_mm == 0.0
    assert tied.sd_mm < 8.5
    alone = shift_by_marks(Landmarks(), Landmarks())
    assert alone.sd_mm == pytest.approx(10.0 * np.sqrt(2.0))
    assert alone.tied_by == ()


def test_a_clipped_coat_is_not_lost_muscle() -> None:
    winter, clipped = visited(0, 1, coat=Coat.WINTER), visited(60, 2, coat=Coat.CLIPPED)
    offset = coat_offset(winter.record, clipped.record)
    assert offset.is_other
    assert offset.mean_mm == pytest.approx(-4.0)
    held = compared(winter, clipped)
    assert not held.scan.patches
    assert not any(one.is_told for one in held.volumes)
    assert any("hair" in caution for caution in held.cautions)


def test_a_coat_that_was_not_noted_widens_what_cannot_be_told(same: Comparison) -> None:
    held = compared(visited(0, 1, coat=Coat.NOT_NOTED), visited(180, 2, coat=Coat.NOT_NOTED))
    widths = [
        next(
            one.volume.sd for one in study.volumes if isinstance(one.volume, Estimate) and one.side == "both"
        )
        for study in (same, held)
    ]
    assert widths[1] > 1.1 * widths[0]
    assert any("not noted" in caution for caution in held.cautions)


def test_another_piece_of_the_instrument_tells_less(same: Comparison) -> None:
    other = compared(visited(0, 1), visited(180, 2), replace(QUICK, same_device=False))
    # The deviations, everywhere; what can be told hangs on a threshold that each study draws for itself.
    assert np.all(other.map.sd_mm[same.map.common] > same.map.sd_mm[same.map.common])


@pytest.mark.parametrize(
    ("later", "word"),
    [
        ("horse", "two horses"),
        ("exact", "no error"),
        ("region", "no region"),
        ("rider", "not to be trusted"),
    ],
)
def test_records_that_say_nothing_of_each_other_are_refused_in_words(later: str, word: str) -> None:
    first, second = visited(0, 1), visited(180, 2)
    if later == "horse":
        second = visited(180, 2, label="Kestrel (invented)", shape=WIDE_COB)
    if later == "exact":
        points = second.estimated.points
        silent = replace(
            points, noise_mm=np.zeros_like(points.noise_mm), error_sd=np.zeros_like(points.error_sd)
        )
        second = replace(second, estimated=replace(second.estimated, points=silent))
    if later == "region":
        first = visited(0, 1, stations=(-140.0, -100.0, -60.0))
        second = visited(180, 2, stations=(300.0, 400.0, 500.0))
    if later == "rider":
        questioned = (Problem(what="A rider sits on it", cure="Scan the bare back."),)
        second = replace(second, record=replace(second.record, questioned=questioned))
    held = compare(first, second, settings=QUICK)
    assert isinstance(held, NotComparable)
    assert word in held.reason


def test_a_horse_that_stood_otherwise_is_refused_in_words() -> None:
    """The later topline rises by 4° towards the tail: the ground is level to ± 0.5°."""
    later = visited(180, 2).record
    topline = later.readings.topline
    assert isinstance(topline, ToplineHeights)
    risen = tuple(
        round(h + np.tan(np.deg2rad(4.0)) * d)
        for h, d in zip(topline.height_mm, topline.distance_mm, strict=True)
    )
    tipped = replace(later, readings=replace(later.readings, topline=replace(topline, height_mm=risen)))
    held = compare(visited(0, 1), measured(tipped), settings=QUICK)
    assert isinstance(held, NotComparable)
    assert "stood otherwise" in held.reason
    assert "square on level ground" in held.reason


def test_one_record_makes_no_study() -> None:
    with pytest.raises(InputProblemsError, match="two back records"):
        study_change([visited(0, 1)])


def test_every_visit_is_held_against_the_first() -> None:
    backs = [visited(180, 3, change=GAIN), visited(0, 1), visited(90, 2)]
    study = study_change(backs, settings=QUICK)
    assert [visit.measured_on for visit in study.visits] == sorted(b.record.measured_on for b in backs)
    middle, last = study.steps
    assert isinstance(middle, Step)
    assert isinstance(last, Step)
    assert not middle.scan.is_told
    assert last.scan.is_told
    assert study.told_since is study.visits[2]
    assert not isinstance(last.under_saddle, NotMeasured)
    assert any("veterinary" in caution for caution in study.cautions)


def test_the_same_seed_gives_the_same_study() -> None:
    one, other = (compare(visited(0, 1), visited(180, 2), settings=QUICK) for _ in range(2))
    assert isinstance(one, Comparison)
    assert isinstance(other, Comparison)
    assert one.scan == other.scan
    assert one.numbers == other.numbers


def test_the_comb_of_the_tests_states_its_errors() -> None:
    assert comb().pin_sd_mm > 0.0
