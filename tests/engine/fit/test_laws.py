"""Layers in series: tabulated laws against root finding by another route."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from saddlebench.engine.fit._kernels.laws import law
from saddlebench.engine.fit.contact import Underside, pad_layers, underside
from saddlebench.engine.fit.laws import Layers, tabulated
from saddlebench.engine.fit.settings import Factors, FitMaterials
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.materials import FELT_PAD, FLEECE_PAD, WOOL, Material
from saddlebench.engine.saddle.model import PadLayer
from saddlebench.engine.saddle.pads import pad_layer
from support.bodies import bearing_of, rigid_body, tiles

STACKS = {
    "two linear": ((1.2, np.inf), (1.2, np.inf)),
    "one hardening": ((0.6, 8.0),),
    "hardening tissue under linear wool": ((1.2, np.inf), (0.8, 10.0)),
    "three hardening": ((1.2, 12.0), (3.0, 2.0), (0.9, 15.0)),
}


def layers(name: str) -> Layers:
    return Layers.of(
        *(Material(name=name, stiffness_kpa_mm=k, hardening_mm=d, source="test") for k, d in STACKS[name])
    )


def pressure_by_roots(name: str, delta: float) -> float:
    """Solve Σ δ_j(p) = δ for p, each δ_j by its own bracketing root of p = kδ(1 + (δ/δ₀)²)."""

    def compression(p: float) -> float:
        return sum(
            brentq(lambda d, k=k, d0=d0: k * d * (1 + (d / d0) ** 2) - p, 0.0, 1e4) for k, d0 in STACKS[name]
        )

    return brentq(lambda p: compression(p) - delta, 0.0, 1e4, xtol=1e-12)


@pytest.mark.parametrize("name", STACKS)
@pytest.mark.parametrize("delta", [0.01, 0.7, 3.0, 9.0, 17.0])
def test_pressure_is_that_of_numerical_root_finding(name: str, delta: float) -> None:
    laws = tabulated(layers(name))
    _, p, _ = law(laws, 0, delta)
    exact = pressure_by_roots(name, delta)
    if exact > 120.0:
        pytest.skip("beyond the table, where the law goes on straight by definition")
    # 40 cubics to 120 kPa: the fourth power of intervals of 0.1–3 mm over hardening lengths of 2–15 mm stays
    # below a part in five thousand; linear stacks are exact
    assert p == pytest.approx(exact, rel=1e-12 if name == "two linear" else 2e-4, abs=1e-6)


@pytest.mark.parametrize("name", STACKS)
def test_potential_pressure_and_slope_agree_with_each_other(name: str) -> None:
    laws = tabulated(layers(name))
    beyond = 1.4 * max(float(laws.end[0, 0]), 5.0)
    for delta in np.linspace(0.05, beyond, 23):
        h = 1e-4
        psi, p, slope = law(laws, 0, delta)
        # central differences of 1e-4 mm; at a node the slope's own slope jumps: h times that jump
        assert (law(laws, 0, delta + h)[0] - law(laws, 0, delta - h)[0]) / (2 * h) == pytest.approx(
            p, rel=1e-7
        )
        assert (law(laws, 0, delta + h)[1] - law(laws, 0, delta - h)[1]) / (2 * h) == pytest.approx(
            slope, rel=1e-3
        )
        area, _ = quad(lambda d: law(laws, 0, d)[1], 0.0, delta, limit=400)
        assert psi == pytest.approx(area, rel=1e-7)


@pytest.mark.parametrize("name", STACKS)
def test_pressure_rises_without_a_jump_and_the_potential_is_convex(name: str) -> None:
    laws = tabulated(layers(name))
    delta = np.linspace(0.0, 1.3 * max(float(laws.end[0, 0]), 5.0), 4001)
    p = np.array([law(laws, 0, d)[1] for d in delta])
    slope = np.array([law(laws, 0, d)[2] for d in delta])
    assert p[0] == 0.0
    assert np.all(np.diff(p) > 0.0)
    assert np.all(slope > 0.0)
    # no jump: a step's rise is its slope's, to the step times the slope's change over it
    assert np.diff(p) == pytest.approx(0.5 * (slope[1:] + slope[:-1]) * np.diff(delta), rel=2e-3)


def test_layers_of_a_draw_carry_its_factors() -> None:
    stack = Layers.of(WOOL)
    factors = Factors(tissue=(0.5, 1.0, 2.0, 1.0), panel=3.0)
    made = stack.over_tissues(FitMaterials(), factors)
    assert made.stiffness_kpa_mm[:, 0] == pytest.approx(np.full(4, 3.0 * WOOL.stiffness_kpa_mm))
    tissues = [material.stiffness_kpa_mm for material in FitMaterials().tissue]
    assert made.stiffness_kpa_mm[:, 1] == pytest.approx(np.array(tissues) * factors.tissue)


def test_a_pad_is_stiffer_where_it_is_thinner_and_drops_out_where_it_is_not() -> None:
    pad = pad_layer(FLEECE_PAD, (10.0, 20.0, 0.0, 30.0))
    made = pad_layers(pad)
    expected = FLEECE_PAD.modulus_kpa / np.array([10.0, 20.0, 30.0])
    assert made.stiffness_kpa_mm[[0, 1, 3], 0] == pytest.approx(expected, rel=1e-12)
    assert made.hardening_mm[[0, 1, 3], 0] == pytest.approx(
        FLEECE_PAD.hardening_strain * np.array([10.0, 20.0, 30.0]), rel=1e-12
    )
    assert made.stiffness_kpa_mm[2, 0] > 1e9


def test_every_point_has_the_stack_of_its_own_firmness_and_zone() -> None:
    pad = pad_layer(FELT_PAD, (8.0, 8.0, 16.0, 16.0))
    firmness = np.tile([0.5, 1.0, 2.0], 8)
    zone = np.repeat([0, 1, 2, 3], 6)
    under = underside_of(firmness, zone, pad)
    own = under.layers.stiffness_kpa_mm[under.stack]
    assert own[:, 0] == pytest.approx(WOOL.stiffness_kpa_mm * np.tile(firmness, 2), rel=1e-12)
    assert own[:, 1] == pytest.approx(
        FELT_PAD.modulus_kpa / np.where(np.tile(zone, 2) < 2, 8.0, 16.0), rel=1e-12
    )
    assert under.layers.stiffness_kpa_mm.shape[0] == 12


def underside_of(firmness: FloatArray, zone: FloatArray, pad: PadLayer) -> Underside:
    x, y, area = tiles(240.0, 40.0, 24, 1)
    points = np.concatenate([np.stack([x, y + s * 60.0, 0.0 * x], axis=1) for s in (1.0, -1.0)])
    both = bearing_of(points, np.tile([0.0, 0.0, -1.0], (48, 1)), area)
    both = replace(
        both,
        firmness=np.tile(firmness, 2),
        zone=np.tile(zone, 2).astype(np.int8),
        row=np.tile(np.arange(24, dtype=np.int32), 2),
    )
    return underside(replace(rigid_body(both), panel=WOOL), (pad,))
