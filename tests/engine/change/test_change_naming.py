"""Which discs are named: what stands out by itself, what the map bears out; no rim of something wider."""

import numpy as np
import pytest

from saddlebench.engine.change.naming import Discs, Whitened, named_patches, place_sd
from saddlebench.engine.change.results import DiscScan, Patch

THRESHOLD = 4.0
BAND = 3.4


def row_of_discs(n: int = 8, apart_mm: float = 400.0) -> Discs:
    """Discs so far apart that none is taken for another."""
    s = apart_mm * np.arange(n)
    return Discs(
        s_mm=s,
        phi=np.zeros(n),
        from_midline_mm=np.zeros(n),
        diameter_mm=np.full(n, 100.0),
        centre_back=np.stack([-s, np.zeros(n), np.zeros(n)], axis=1),
        spacing_mm=30.0,
    )


def seen(scores: list[float]) -> Whitened:
    """Readings in which every disc is read by one of its own."""
    n = len(scores)
    return Whitened(units=np.eye(n), sd_mm=np.full(n, 1.5), rest=np.array(scores))


def named(plain: list[float], local: list[float], mapped: list[float]) -> list[tuple[float, int]]:
    """Return place and sign of every patch."""
    filled = [np.pad(one, (0, 8 - len(one))).tolist() for one in (plain, local, mapped)]
    patches = named_patches(
        row_of_discs(),
        seen(filled[0]),
        seen(filled[1]),
        np.array(filled[2]),
        threshold=THRESHOLD,
        band=BAND,
        most=6,
    )
    return [(patch.s_mm, int(np.sign(patch.depth.value))) for patch in patches]


def test_what_stands_out_by_itself_is_named_though_the_map_is_in_doubt() -> None:
    assert named([5.0], [4.5], [0.2]) == [(0.0, 1)]
    assert named([5.0], [3.7], [0.2]) == [(0.0, 1)]
    assert named([5.0], [3.5], [0.2]) == []
    assert named([5.0], [4.5], [-0.2]) == []


def test_the_rim_of_a_change_too_large_to_be_allowed_for_is_not_named_against_the_map() -> None:
    """Growth: the withers gain plainly, what lies behind gains less and looks less by itself."""
    assert named([7.9, -6.0], [5.0, -4.6], [6.0, 1.5]) == [(0.0, 1)]


def test_the_rim_of_a_wide_change_is_not_named_for_its_opposite() -> None:
    """A wide gain: the rim looks less by −5 until the neighbourhood may have changed as well."""
    assert named([-5.0, 4.2], [-2.5, 2.0], [-0.6, 4.0]) == [(400.0, 1)]


def test_where_neither_bears_it_out_no_place_is_named() -> None:
    assert named([-5.0, 4.2], [-2.5, 2.0], [-1.6, 1.9]) == []


def test_a_second_patch_has_to_reach_the_threshold_itself() -> None:
    assert named([5.0, 4.5], [5.0, 3.8], [0.1, 0.1]) == [(0.0, 1)]
    assert named([5.0, 4.5], [5.0, 4.4], [0.1, 0.1]) == [(0.0, 1), (400.0, 1)]
    assert named([5.0, 4.5], [5.0, 0.0], [0.1, 2.5]) == [(0.0, 1), (400.0, 1)]


def test_the_other_way_is_named_only_where_the_map_leaves_its_band() -> None:
    """Two gains with nothing lost beside them: readings and map both lean the other way there."""
    assert named([7.9, -7.2], [4.5, -5.8], [2.5, -3.0]) == [(0.0, 1)]
    assert named([7.9, -7.2], [4.5, -5.8], [2.5, -3.5]) == [(0.0, 1), (400.0, -1)]
    assert sorted(named([-7.9, 7.2], [-4.5, 1.0], [-2.5, 3.5])) == [(0.0, -1), (400.0, 1)]


def test_a_patch_carries_depth_and_deviation_of_the_readings_that_named_it() -> None:
    scores = [0.0, -6.0, *[0.0] * 6]
    (patch,) = named_patches(
        row_of_discs(), seen(scores), seen(scores), np.sign(scores), threshold=THRESHOLD, band=BAND, most=6
    )
    assert patch.depth.value == pytest.approx(-9.0)
    assert patch.depth.sd == pytest.approx(1.5)
    assert patch.strength == pytest.approx(6.0)


def test_a_disc_that_overlaps_a_named_one_is_part_of_it() -> None:
    near = row_of_discs(apart_mm=60.0)
    scores = [6.0, 5.5, *[0.0] * 6]
    patches = named_patches(
        near, seen(scores), seen(scores), np.sign(scores), threshold=THRESHOLD, band=BAND, most=6
    )
    assert [patch.s_mm for patch in patches] == [0.0]


def test_a_place_is_known_the_worse_the_more_places_explain_the_readings() -> None:
    near = row_of_discs(apart_mm=30.0)
    sharp = np.array([0.0, 0.0, 2.0, 8.0, 2.0, 0.0, 0.0, 0.0])
    flat = np.array([0.0, 0.0, 7.9, 8.0, 7.9, 0.0, 0.0, 0.0])
    spacing_alone = 30.0 / np.sqrt(12.0)
    assert place_sd(near, sharp, 3) == pytest.approx(spacing_alone, rel=1e-3)
    assert place_sd(near, flat, 3) > 1.7 * spacing_alone
    # What is of the other sign, or out of reach, is another matter.
    assert place_sd(near, np.where(np.arange(8) == 3, 8.0, -7.9), 3) == pytest.approx(spacing_alone)
    assert place_sd(row_of_discs(), np.full(8, 8.0), 3) == pytest.approx(spacing_alone)


def test_records_that_differ_without_a_place_say_so() -> None:
    (patch,) = named_patches(
        row_of_discs(),
        seen([5.0, *[0.0] * 7]),
        seen([5.0, *[0.0] * 7]),
        np.ones(8),
        threshold=THRESHOLD,
        band=BAND,
        most=1,
    )

    def scan(strongest: float, patches: tuple[Patch, ...]) -> DiscScan:
        return DiscScan(level=0.05, threshold=4.0, strongest=strongest, patches=patches, n_discs=8)

    assert scan(4.5, ()).is_unplaced
    assert not scan(4.5, ()).is_told
    assert not scan(3.5, ()).is_unplaced
    assert scan(5.0, (patch,)).is_told
    assert not scan(5.0, (patch,)).is_unplaced
