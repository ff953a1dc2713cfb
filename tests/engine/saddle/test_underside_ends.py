"""The ends of a scanned panel: rounded, holed, half seen. The face is a formula, so every height is known."""

import numpy as np
import pytest

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import LEFT, RIGHT
from saddlebench.engine.saddle.sections import UndersideSection
from saddlebench.engine.saddle.underside.become import sections_of_grids
from saddlebench.engine.saddle.underside.end_rows import with_ends_carried
from saddlebench.engine.saddle.underside.heights import FaceGrid

LENGTH_MM, INNER_MM, OUTER_MM, ROUND_MM = 420.0, 38.0, 128.0, 30.0


def height(behind: FloatArray, out: FloatArray) -> FloatArray:
    """A face that slopes by 40° in front and 28° behind, with a rocker, swept up over the last 80 mm."""
    slope = np.tan(np.radians(40.0 - 12.0 * behind / LENGTH_MM))
    swept = 6.0 * (np.maximum(0.0, behind - LENGTH_MM + 80.0) / 80.0) ** 2
    return 40.0 * (behind / LENGTH_MM - 0.5) ** 2 - slope * (out - INNER_MM) + swept


def face(side: int) -> FaceGrid:
    """Rows every 12 mm; the corners are quarters of a circle of 30 mm."""
    behind = np.linspace(1.5, LENGTH_MM - 1.5, 36)
    from_end = np.minimum(np.minimum(behind, LENGTH_MM - behind), ROUND_MM)
    inwards = ROUND_MM - np.sqrt(ROUND_MM**2 - (ROUND_MM - from_end) ** 2)
    inner, outer = INNER_MM + inwards, OUTER_MM - inwards
    out = inner[:, None] + np.linspace(0.0, 1.0, 15) * (outer - inner)[:, None]
    z = height(behind[:, None], out)
    return FaceGrid(side=side, behind_mm=behind, out_y_mm=out, z_mm=z, sd_mm=np.full(z.shape, 0.2))


def holed(grid: FaceGrid, behind: float, out: float, radius: float) -> FaceGrid:
    z = grid.z_mm.copy()
    z[np.hypot(grid.behind_mm[:, None] - behind, grid.out_y_mm - out) < radius] = np.nan
    return FaceGrid(
        side=grid.side, behind_mm=grid.behind_mm, out_y_mm=grid.out_y_mm, z_mm=z, sd_mm=grid.sd_mm
    )


def off_the_face(section: UndersideSection) -> float:
    lines = [section.left, section.right * np.array([-1.0, 1.0])]
    return max(
        float(np.abs(line[:, 1] - height(np.array(section.behind_mm), line[:, 0])).max()) for line in lines
    )


def test_rounded_ends_lie_on_the_face() -> None:
    """Rows at the ends are narrower: a height carried along by columns alone stood 20 mm beside the face."""
    sections, left_out = sections_of_grids(face(LEFT), face(RIGHT))
    assert left_out == ()
    assert len(sections) == 36
    assert [sections[0].behind_mm, sections[-1].behind_mm] == [1.5, LENGTH_MM - 1.5]
    assert max(off_the_face(one) for one in sections) < 0.05


@pytest.mark.parametrize(("behind", "out"), [(405.0, 120.0), (15.0, 45.0), (410.0, 85.0)])
def test_a_small_hole_near_an_end_does_not_shorten_the_panel(behind: float, out: float) -> None:
    near, rows = with_ends_carried(holed(face(LEFT), behind, out, 25.0))
    off, unchanged = with_ends_carried(face(RIGHT))
    assert np.abs(near.behind_mm[rows] - behind).max() < 25.0
    assert rows.any()
    assert not unchanged.any()
    sections, left_out = sections_of_grids(near, off)
    assert left_out == ()
    assert len(sections) == 36
    assert max(off_the_face(one) for one in sections) < 0.6


def test_an_end_that_was_not_scanned_is_not_made_up() -> None:
    near, rows = with_ends_carried(holed(face(LEFT), LENGTH_MM, 83.0, 110.0))
    sections, left_out = sections_of_grids(near, face(RIGHT))
    assert sections[-1].behind_mm < LENGTH_MM - 50.0
    assert max(left_out) > LENGTH_MM - 5.0
    assert near.behind_mm[rows].max(initial=0.0) < LENGTH_MM - 50.0


def test_a_hole_in_the_middle_is_left_to_the_sections_around_it() -> None:
    near, rows = with_ends_carried(holed(face(LEFT), 210.0, 50.0, 25.0))
    assert not rows.any()
    assert np.isnan(near.z_mm).any()
