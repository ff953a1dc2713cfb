"""The invented backs have the sizes and the marks that real ones are known to have."""

import numpy as np
import pytest

from saddlebench.demo.shapes import (
    BACK_SHAPES,
    CROUP_HIGH,
    GUTTERED_NATIVE,
    LEFT_SHOULDER,
    MEASURED_PHI,
    PLAIN,
    ROACH,
    SWAY,
    BackShape,
)
from saddlebench.engine.errors import is_known
from saddlebench.engine.frames import FloatArray

S = np.linspace(-200.0, 650.0, 341)


def width_below_midline(shape: BackShape, s: float, depth: float) -> float:
    points = shape.section(s, n=4001)
    top = float(shape.radius(s, 0.0)) + shape.axis_z_mm
    above = points[:, 2] > top - depth
    return float(np.ptp(points[above][:, 1]))


def topline(shape: BackShape) -> FloatArray:
    return shape.radius(S * shape.scale, 0.0) + shape.axis_z_mm


@pytest.mark.parametrize("shape", BACK_SHAPES.values(), ids=lambda shape: shape.name)
def test_the_zero_is_on_the_midline_and_sizes_are_those_of_horses(shape: BackShape) -> None:
    marks = shape.landmarks
    assert is_known(marks.withers)
    assert is_known(marks.lowest)
    assert is_known(marks.last_rib)
    assert float(shape.radius(0.0, 0.0)) == pytest.approx(-shape.axis_z_mm, abs=1e-9)
    # 550–750 mm from withers to last rib in horses of 1.55–1.70 m (facts of the trade, no measured table);
    # the invented horse is 1.60 m and one of them is short-coupled by intent, hence 500.
    assert 500.0 <= (marks.last_rib.value_mm - marks.withers.value_mm) / shape.scale <= 750.0
    assert marks.withers.value_mm < 0.0 < marks.lowest.value_mm < marks.last_rib.value_mm


def test_plain_back_is_as_wide_as_published_near_t10() -> None:
    # 31.2 ± 2.4 and 29.8 ± 1.4 cm at T10, 15 cm below the midline (half-pad and shim study, Utrecht 2023):
    # within one standard deviation of the wider mean and two of the narrower.
    assert 288.0 <= width_below_midline(PLAIN, 60.0, 150.0) <= 326.0


@pytest.mark.parametrize("shape", BACK_SHAPES.values(), ids=lambda shape: shape.name)
def test_front_sides_open_as_trees_do(shape: BackShape) -> None:
    narrow, wide = (width_below_midline(shape, -20.0 * shape.scale, d * shape.scale) for d in (50.0, 120.0))
    included = 2.0 * np.rad2deg(np.arctan2((wide - narrow) / 2, 70.0 * shape.scale))
    # Trees are made 80–110° included (trade); a horse with hollows is a little narrower than its tree.
    assert 72.0 <= included <= 110.0


def test_each_type_is_what_its_name_says() -> None:
    depth = {shape.name: float(topline(shape)[50:].min()) for shape in BACK_SHAPES.values()}
    assert depth["sway"] == min(depth.values())
    rise = {shape.name: topline(shape).max() - topline(shape)[50:].min() for shape in BACK_SHAPES.values()}
    assert rise["high-withers"] > rise["plain"] + 15.0 > rise["wide-cob"] + 30.0
    arched = np.interp([300.0, 400.0, 520.0], S, topline(ROACH))
    assert arched[1] > arched[0]
    assert arched[1] > arched[2]
    rear = {shape.name: float(topline(shape)[-1]) for shape in (CROUP_HIGH, PLAIN, SWAY)}
    assert max(rear, key=rear.__getitem__) == "croup-high"
    native = GUTTERED_NATIVE.section(250.0, n=401)
    assert native[:, 2].max() > native[200, 2] + 3.0
    left = LEFT_SHOULDER.radius(-60.0, np.deg2rad(55.0))
    assert float(left) > float(LEFT_SHOULDER.radius(-60.0, np.deg2rad(-55.0))) + 8.0


@pytest.mark.parametrize("shape", [PLAIN, GUTTERED_NATIVE], ids=lambda shape: shape.name)
def test_size_scales_every_length(shape: BackShape) -> None:
    half = shape.of_height(0.5 * shape.height_at_withers_mm)
    s, phi = np.array([-80.0, 120.0, 400.0]), np.array([0.1, -0.7, 1.2])
    np.testing.assert_allclose(half.radius(0.5 * s, phi), 0.5 * shape.radius(s, phi), rtol=1e-12)
    np.testing.assert_allclose(half.section(100.0), 0.5 * shape.section(200.0), rtol=1e-12, atol=1e-9)
    assert half.landmarks.last_rib.value_mm == pytest.approx(0.5 * shape.landmarks.last_rib.value_mm)


@pytest.mark.parametrize("shape", BACK_SHAPES.values(), ids=lambda shape: shape.name)
def test_the_exact_surface_holds_the_shape_between_its_nodes(shape: BackShape) -> None:
    surface = shape.surface()
    s, phi = np.meshgrid(
        np.linspace(-195.0, 645.0, 97) * shape.scale,
        np.linspace(-0.99, 0.99, 83) * MEASURED_PHI,
        indexing="ij",
    )
    error = surface.spline.radius(s.ravel(), phi.ravel())[:, 0] - shape.radius(s, phi).ravel()
    # A crown of 13 mm radius spans half a cell of 3°: 0.11 mm there is the spline's own error (order 4).
    assert np.abs(error).max() < 0.15
    assert float(np.sqrt(np.mean(error**2))) < 0.01
    assert surface.measured.any()
    assert not surface.measured[0].any()
    assert np.all(surface.sd_mm == 0.0)
