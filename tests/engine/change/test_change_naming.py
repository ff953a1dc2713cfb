"""Which discs are named: the likeliest account; beside a wide change, what the map bears out."""

import numpy as np
import pytest
from scipy import stats

from saddlebench.engine.change.accounts import DEPTH_MM, Accounts
from saddlebench.engine.change.naming import (
    BORNE_OUT,
    SURE,
    Discs,
    Scene,
    Whitened,
    middles,
    named_patches,
    place_sd,
)
from saddlebench.engine.change.results import DiscScan, Patch

THRESHOLD = 4.0
BAND = 3.4
N = 8
SD_MM = 1.5
NO_WIDE, WIDE = -100.0, 100.0


def row_of_discs(apart_mm: float = 400.0) -> Discs:
    """Discs so far apart that none is taken for another."""
    s = apart_mm * np.arange(N)
    return Discs(
        s_mm=s,
        phi=np.zeros(N),
        from_midline_mm=np.zeros(N),
        diameter_mm=np.full(N, 100.0),
        centre_back=np.stack([-s, np.zeros(N), np.zeros(N)], axis=1),
        spacing_mm=30.0,
    )


def seen(scores: list[float]) -> Whitened:
    """Readings in which every disc is read by one of its own."""
    held = np.pad(np.array(scores), (0, N - len(scores)))
    return Whitened(units=np.eye(N), sd_mm=np.full(N, SD_MM), rest=held)


def scene(
    plain: list[float],
    local: list[float] | None = None,
    mapped: list[float] | None = None,
    *,
    wide: float = NO_WIDE,
    n_tried: int = N,
    apart_mm: float = 400.0,
) -> Scene:
    """What the discs of a row show."""
    return Scene(
        discs=row_of_discs(apart_mm),
        tried=np.arange(N) < n_tried,
        plain=seen(plain),
        local=seen(plain if local is None else local),
        wide_evidence=wide,
        mapped=np.pad(np.array(mapped or [0.0]), (0, N - len(mapped or [0.0]))),
        threshold=THRESHOLD,
        band=BAND,
    )


def named(held: Scene) -> list[tuple[float, int]]:
    """Return place and sign of every patch."""
    return [(patch.s_mm, int(np.sign(patch.depth.value))) for patch in named_patches(held, 6)]


def beside_wide(plain: list[float], local: list[float], mapped: list[float]) -> list[tuple[float, int]]:
    """Return place and sign of every patch where a wide change is the better account."""
    return named(scene(plain, local, mapped, wide=WIDE))


def test_an_accounts_likelihood_is_that_of_two_normals() -> None:
    """A depth's estimate is N(0, sd²) without a change and N(0, sd² + τ²) with one: scipy's densities."""
    scores, sd = np.array([0.5, -3.0, 5.0]), np.array([0.8, 1.5, 3.0])
    accounts = Accounts.of(scores, sd)
    depth = scores * sd
    with_it = stats.norm.logpdf(depth, scale=np.hypot(sd, DEPTH_MM))
    without = stats.norm.logpdf(depth, scale=sd)
    np.testing.assert_allclose(accounts.evidence, with_it - without, rtol=1e-12)
    # The posterior of the depth by the conjugate normal, and the share of it above nothing.
    variance = 1.0 / (1.0 / sd**2 + 1.0 / DEPTH_MM**2)
    mean = variance * depth / sd**2
    np.testing.assert_allclose(accounts.fuller, stats.norm.sf(0.0, mean, np.sqrt(variance)), rtol=1e-12)
    assert accounts.together == pytest.approx(float(np.log(np.mean(np.exp(with_it - without)))))


def test_shares_of_both_directions_are_one_and_follow_the_larger_score() -> None:
    accounts = Accounts.of(np.array([4.5, -4.0, 0.0]), np.full(3, SD_MM))
    assert float(accounts.shares(1.0).sum() + accounts.shares(-1.0).sum()) == pytest.approx(1.0)
    assert accounts.sign == 1.0
    assert Accounts.of(np.array([4.0, -4.5]), np.full(2, SD_MM)).sign == -1.0


def test_a_disc_of_which_nothing_is_left_accounts_for_nothing() -> None:
    accounts = Accounts.of(np.array([4.5, 0.0]), np.array([SD_MM, np.inf]))
    assert accounts.shares(1.0)[1] == 0.0
    assert accounts.together == pytest.approx(float(accounts.evidence[0]))


def test_the_likeliest_account_is_named_though_the_map_is_in_doubt() -> None:
    assert named(scene([5.0], mapped=[-0.4])) == [(0.0, 1)]
    assert named(scene([3.9])) == []


def test_as_likely_the_other_way_is_not_named() -> None:
    assert named(scene([4.5, -4.4])) == []
    (patch,) = named_patches(scene([5.0, -4.2]), 6)
    assert SURE < patch.sure < 0.99
    assert named_patches(scene([6.0]), 6)[0].sure > 0.999


def test_likely_at_two_places_is_named_with_both_as_its_place() -> None:
    (patch,) = named_patches(scene([4.5, 4.4], apart_mm=90.0, mapped=[1.0]), 1)
    assert [s for s, _ in patch.middles_mm] == [0.0, 90.0]
    assert patch.place_sd_mm > 40.0


def test_a_wider_disc_names_what_the_scans_discs_see_a_part_of() -> None:
    """The third disc is a wider one: it cannot tell a change, but what tells one is best explained by it."""
    assert named(scene([4.2, 4.1, 7.0], n_tried=2))[0] == (800.0, 1)
    assert named(scene([3.9, 3.9, 7.0], n_tried=2)) == []


def test_a_second_patch_the_same_way_has_to_reach_the_threshold_itself() -> None:
    assert named(scene([7.0, 3.9])) == [(0.0, 1)]
    assert named(scene([7.0, 4.6])) == [(0.0, 1), (400.0, 1)]


def test_a_second_patch_the_other_way_is_named_where_the_map_leaves_its_band() -> None:
    assert named(scene([7.9, -6.2], mapped=[2.5, -3.0])) == [(0.0, 1)]
    assert named(scene([7.9, -6.2], mapped=[2.5, -3.5])) == [(0.0, 1), (400.0, -1)]
    # What is passed over does not hide a third one.
    assert named(scene([7.9, -6.2, 5.0], mapped=[2.5, -3.0])) == [(0.0, 1), (800.0, 1)]


def test_beside_a_wide_change_what_stands_out_is_named_with_the_maps_sign() -> None:
    assert beside_wide([5.0], [4.5], [0.2]) == [(0.0, 1)]
    assert beside_wide([5.0], [3.7], [0.2]) == [(0.0, 1)]
    assert beside_wide([5.0], [3.5], [0.2]) == []
    assert beside_wide([5.0], [4.5], [-0.2]) == []


def test_one_disc_has_to_be_150_times_as_likely_as_a_wide_change() -> None:
    held = float(Accounts.of(np.array([5.0] + [0.0] * 7), np.full(N, SD_MM)).together)
    against_the_map = {"plain": [5.0], "local": [3.0], "mapped": [-1.0]}
    assert named(scene(**against_the_map, wide=held - 5.1)) == [(0.0, 1)]
    assert named(scene(**against_the_map, wide=held - 4.9)) == []


def test_the_rim_of_a_change_too_large_to_be_allowed_for_is_not_named_against_the_map() -> None:
    """Growth: the withers gain plainly, what lies behind gains less and looks less by itself."""
    assert beside_wide([7.9, -6.0], [5.0, -4.6], [6.0, 1.5]) == [(0.0, 1)]


def test_the_rim_of_a_wide_change_is_not_named_for_its_opposite() -> None:
    """A wide gain: the rim looks less by −5 until the neighbourhood may have changed as well."""
    assert beside_wide([-5.0, 4.2], [-2.5, 2.0], [-0.6, 4.0]) == [(400.0, 1)]
    assert beside_wide([-5.0, 4.2], [-2.5, 2.0], [-1.6, 1.9]) == []


def test_beside_a_wide_change_a_second_patch_has_to_reach_the_threshold_itself() -> None:
    assert beside_wide([5.0, 4.5], [5.0, 3.8], [0.1, 0.1]) == [(0.0, 1)]
    assert beside_wide([5.0, 4.5], [5.0, 4.4], [0.1, 0.1]) == [(0.0, 1), (400.0, 1)]
    assert beside_wide([5.0, 4.5], [5.0, 0.0], [0.1, 2.5]) == [(0.0, 1), (400.0, 1)]


def test_beside_a_wide_change_the_other_way_is_named_only_where_the_map_leaves_its_band() -> None:
    """Two gains with nothing lost beside them: readings and map both lean the other way there."""
    assert beside_wide([7.9, -7.2], [4.5, -5.8], [2.5, -3.0]) == [(0.0, 1)]
    assert beside_wide([7.9, -7.2], [4.5, -5.8], [2.5, -3.5]) == [(0.0, 1), (400.0, -1)]
    assert sorted(beside_wide([-7.9, 7.2], [-4.5, 1.0], [-2.5, 3.5])) == [(0.0, -1), (400.0, 1)]


def test_beside_a_wide_change_a_direction_is_sure_where_the_map_leaves_its_band() -> None:
    (within,) = named_patches(scene([5.0], mapped=[3.3], wide=WIDE), 6)
    (outside,) = named_patches(scene([5.0], mapped=[3.5], wide=WIDE), 6)
    (weighed,) = named_patches(scene([5.0], mapped=[0.0]), 6)
    assert within.is_way_in_doubt
    assert outside.sure == BORNE_OUT
    assert not outside.is_way_in_doubt
    assert not weighed.is_way_in_doubt


@pytest.mark.parametrize("wide", [NO_WIDE, WIDE])
def test_a_patch_carries_depth_and_deviation_of_the_readings_that_named_it(wide: float) -> None:
    (patch,) = named_patches(scene([0.0, -6.0], mapped=[0.0, -1.0], wide=wide), 6)
    assert patch.depth.value == pytest.approx(-9.0)
    assert patch.depth.sd == pytest.approx(SD_MM)
    assert patch.strength == pytest.approx(6.0)
    assert (patch.sure > 0.0) == (wide < 0.0)


@pytest.mark.parametrize("wide", [NO_WIDE, WIDE])
def test_a_disc_that_overlaps_a_named_one_is_part_of_it(wide: float) -> None:
    held = scene([6.0, 5.5], mapped=[1.0, 1.0], wide=wide, apart_mm=60.0)
    assert named(held) == [(0.0, 1)]


def test_a_place_is_known_the_worse_the_more_places_explain_the_readings() -> None:
    near = row_of_discs(30.0)
    alone = np.eye(N)[3]
    spread = np.array([0.0, 0.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0]) / 3.0
    # The spacing's rectangle and the form: a rule of its own would be √(30²/12 + 18²).
    least = float(np.hypot(30.0 / np.sqrt(12.0), 18.0))
    assert place_sd(near, alone, 3) == pytest.approx(least)
    assert place_sd(near, spread, 3) == pytest.approx(np.sqrt(least**2 + 2.0 * 30.0**2 / 3.0 / 2.0))


def test_stated_middles_hold_95_of_100_and_merge_sizes() -> None:
    shares = np.array([0.02, 0.10, 0.50, 0.35, 0.03, 0.0, 0.0, 0.0])
    assert middles(row_of_discs(), shares) == ((800.0, 0.0), (1200.0, 0.0), (400.0, 0.0))
    one = row_of_discs(0.0)
    assert middles(one, np.full(N, 1.0 / N)) == ((0.0, 0.0),)


def test_records_that_differ_without_a_place_say_so() -> None:
    (patch,) = named_patches(scene([5.0]), 1)

    def scan(strongest: float, patches: tuple[Patch, ...]) -> DiscScan:
        return DiscScan(level=0.05, threshold=4.0, strongest=strongest, patches=patches, n_discs=8)

    assert scan(4.5, ()).is_unplaced
    assert not scan(4.5, ()).is_told
    assert not scan(3.5, ()).is_unplaced
    assert scan(5.0, (patch,)).is_told
    assert not scan(5.0, (patch,)).is_unplaced
