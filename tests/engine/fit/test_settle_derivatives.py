"""Gradient and Hessian of every term of the energy against differences of the energy itself."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.demo.shapes import LEFT_SHOULDER
from saddlebench.engine.fit._kernels.energy import STUCK, evaluate, girth_tension
from saddlebench.engine.fit._kernels.newton import moved
from saddlebench.engine.fit._kernels.parts import Back, Friction, Girth, Laws, Loads, Panels, Work
from saddlebench.engine.fit.contact import kernel_back, underside
from saddlebench.engine.fit.laws import Layers, tabulated
from saddlebench.engine.fit.steps import new_work
from saddlebench.engine.frames import FloatArray, rotation_from_vector
from saddlebench.engine.saddle.materials import Material
from saddlebench.engine.saddle.numbers import model_from_numbers
from support.bodies import NO_PULL

LEVER = 150.0
NO_LOADS = Loads(
    points=np.zeros((0, 4)),
    seat_n=0.0,
    seat_x=0.0,
    seat_y=0.0,
    seat_z=0.0,
    seat_curvature=0.0025,
    seat_reach=90.0,
)


@dataclass
class Scene:
    """Everything one evaluation needs; each test switches on one term."""

    back: Back
    panels: Panels
    laws: Laws
    friction: Friction
    girth: Girth
    loads: Loads
    work: Work
    follow: float = 0.0

    def at(self, pose: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        gradient, hessian, extra = np.zeros(6), np.zeros((6, 6)), np.zeros((6, 6))
        self.work.free_until[:] = 0.0
        energy = evaluate(
            self.back,
            self.panels,
            self.laws,
            self.friction,
            self.girth,
            self.loads,
            pose,
            self.work,
            self.follow,
            gradient,
            hessian,
            extra,
        )
        return energy, gradient, hessian + extra


def step(pose: FloatArray, motion: FloatArray) -> FloatArray:
    out = np.zeros(12)
    moved(pose, motion[:3].copy(), motion[3:] / LEVER, out)
    return out


def pressed_pose() -> FloatArray:
    """An ordinary saddle turned and pressed into the back so that part of it touches, part does not."""
    turn = rotation_from_vector(np.array([0.03, -0.05, 0.08]))
    return np.concatenate([turn.ravel(), [-195.0, 4.0, -118.0]])


@pytest.fixture(scope="module")
def scene() -> Callable[..., Scene]:
    surface = LEFT_SHOULDER.surface()
    under = underside(model_from_numbers(ALL_ROUND, 400), ())
    n = under.area_n_kpa.size
    linear = Material(name="a", stiffness_kpa_mm=0.6, source="test")
    soft = Material(name="b", stiffness_kpa_mm=1.2, hardening_mm=6.0, source="test")

    def make(kind: str, **changes: object) -> Scene:
        off = Friction(
            stiffness=0.0,
            coefficient=0.35,
            anchor=np.zeros((n, 3)),
            cap=np.zeros(n),
            normal=np.zeros((n, 3)),
            first=np.zeros((n, 3)),
            first_gap=np.full(n, -1.0),
        )
        area = under.area_n_kpa if kind != "none" else np.zeros(n)
        laws = tabulated(Layers.of(soft, linear) if kind == "hardening" else Layers.of(linear))
        made = Scene(
            back=kernel_back(surface, 60.0),
            panels=Panels(points=under.points, area=area, law=np.zeros(n, dtype=np.int64)),
            laws=laws,
            friction=off,
            girth=NO_PULL,
            loads=NO_LOADS,
            work=new_work(n, np.zeros(4, dtype=np.int64)),
        )
        for name, value in changes.items():
            setattr(made, name, value)
        return made

    return make


def check(scene: Scene, pose: FloatArray, *, gradient_rel: float, hessian_rel: float) -> None:
    """Compare with central differences of the energy, in lengths (a radian counts for 150 mm)."""
    scale = np.array([1.0, 1.0, 1.0, 1.0 / LEVER, 1.0 / LEVER, 1.0 / LEVER])
    _, gradient, hessian = scene.at(pose)
    gradient, hessian = gradient * scale, hessian * np.outer(scale, scale)
    unit = np.eye(6)
    h = 1e-3
    slope = [(scene.at(step(pose, h * e))[0] - scene.at(step(pose, -h * e))[0]) / (2 * h) for e in unit]
    assert gradient == pytest.approx(np.array(slope), abs=gradient_rel * np.abs(gradient).max())
    h = 0.03
    bend = np.zeros((6, 6))
    for i in range(6):
        for j in range(6):
            corners = [
                a * b * scene.at(step(pose, h * (a * unit[i] + b * unit[j])))[0]
                for a in (1.0, -1.0)
                for b in (1.0, -1.0)
            ]
            bend[i, j] = sum(corners) / (4 * h * h)
    assert hessian == pytest.approx(hessian.T, abs=1e-12 * np.abs(hessian).max())
    assert hessian == pytest.approx(bend, abs=hessian_rel * np.abs(hessian).max())


# Differences of 1e-3 mm leave h²/6 of the third derivative (1e-7) and 1e-13 of the energy over h (1e-7 here);
# second differences of 0.03 mm leave h² of the fourth and the points that cross from free to touching within
# 0.06 mm, a few in four hundred: 1e-4.


@pytest.mark.parametrize("kind", ["linear", "hardening"])
def test_contact(scene: Callable[..., Scene], kind: str) -> None:
    check(scene(kind), pressed_pose(), gradient_rel=1e-6, hessian_rel=2e-4)


@pytest.mark.parametrize("cap", [STUCK, 0.9])
def test_friction_alone_sticking_and_partly_slipping(scene: Callable[..., Scene], cap: float) -> None:
    with_contact = scene("linear")
    pose = pressed_pose()
    with_contact.at(pose)
    touching = with_contact.work.pressure > 0.0
    n = touching.size
    rng = np.random.default_rng(5)
    turn = pose[:9].reshape(3, 3)
    position = with_contact.panels.points @ turn.T + pose[9:]
    # normals and springs are those of the last pass: any, as long as they are frozen
    friction = with_contact.friction._replace(
        stiffness=0.3,
        cap=np.where(touching, cap, 0.0),
        normal=with_contact.work.normal.copy(),
        anchor=position + rng.normal(0.0, 3.0, (n, 3)),
    )
    alone = scene("linear", friction=friction)
    alone.laws = Laws(end=np.array([[0.0, 0.0, 0.0, 1e-12]]), table=np.zeros((1, 1, 5)))
    if cap < STUCK:
        assert 0.2 < np.mean(np.linalg.norm(position - friction.anchor, axis=1)[touching] > cap / 0.3) < 0.95
    # springs of 3 mm whose slip begins within 0.06 mm are some in a hundred: their corner is what is left
    check(alone, pose, gradient_rel=1e-6, hessian_rel=1e-6 if cap == STUCK else 2e-3)


@pytest.mark.parametrize(("tension", "stiffness"), [(120.0, 0.0), (60.0, 3.0)])
def test_girth(scene: Callable[..., Scene], tension: float, stiffness: float) -> None:
    girth = Girth(
        anchors=np.array(
            [[60.0, 90.0, 40.0], [60.0, -95.0, 38.0], [-20.0, 80.0, 41.0], [-25.0, -85.0, 40.0]]
        ),
        wraps=np.array(
            [
                [-150.0, 250.0, -300.0],
                [-150.0, -260.0, -310.0],
                [-160.0, 240.0, -290.0],
                [-170.0, -240.0, -300.0],
            ]
        ),
        share=0.5,
        tension=tension,
        stiffness=stiffness,
        length=400.0,
    )
    made = scene("none", girth=girth)
    assert girth_tension(girth, pressed_pose()) > 50.0
    check(made, pressed_pose(), gradient_rel=1e-7, hessian_rel=1e-6)


@pytest.mark.parametrize("pitch", [0.02, 0.5])
def test_weights_and_the_rider_on_the_seat(scene: Callable[..., Scene], pitch: float) -> None:
    """Within the seat's reach the rider slides to its lowest point; beyond it stays at the reach's end."""
    loads = Loads(
        points=np.array([[10.0, 5.0, 90.0, 70.0], [110.0, 100.0, 60.0, 80.0]]),
        seat_n=600.0,
        seat_x=-20.0,
        seat_y=12.0,
        seat_z=35.0,
        seat_curvature=0.0025,
        seat_reach=90.0,
    )
    turn = rotation_from_vector(np.array([0.04, pitch, 0.03]))
    pose = np.concatenate([turn.ravel(), [-195.0, 4.0, -118.0]])
    slid = abs(turn[2, 0] / (turn[2, 2] * loads.seat_curvature))
    assert (slid > loads.seat_reach) == (pitch == 0.5)
    check(scene("none", loads=loads), pose, gradient_rel=1e-7, hessian_rel=1e-6)


def test_all_terms_with_friction_that_follows(scene: Callable[..., Scene]) -> None:
    """The unsymmetric derivative of the last stage, against differences of its own force."""
    made = scene("hardening")
    pose = pressed_pose()
    made.at(pose)
    n = made.panels.area.size
    position = made.panels.points @ pose[:9].reshape(3, 3).T + pose[9:]
    rng = np.random.default_rng(8)
    made.friction = made.friction._replace(
        stiffness=0.3,
        normal=np.tile([0.0, 0.0, 1.0], (n, 1)),
        anchor=position + rng.normal(0.0, 5.0, (n, 3)),
        first=position - np.array([1.0, 2.0, -14.0]),
        first_gap=np.where(rng.random(n) < 0.5, -1.0, 2.0),
    )
    made.friction.cap[:] = 1.0
    made.follow = 1.0
    scale = np.array([1.0, 1.0, 1.0, 1.0 / LEVER, 1.0 / LEVER, 1.0 / LEVER])
    _, gradient, derivative = made.at(pose)
    derivative = derivative * np.outer(scale, scale)
    gradient = gradient * scale
    h = 1e-3
    columns = []
    for e in np.eye(6):
        rise = made.at(step(pose, h * e))[1] * scale
        fall = made.at(step(pose, -h * e))[1] * scale
        columns.append((rise - fall) / (2 * h))
    # a force turned by a step differs from the force in the turned axes by half its moment: ½ [m]×
    moment = gradient[3:] / LEVER
    cross = np.array(
        [[0.0, -moment[2], moment[1]], [moment[2], 0.0, -moment[0]], [-moment[1], moment[0], 0.0]]
    )
    measured = np.stack(columns, axis=1)
    either = [measured.copy(), measured.copy()]
    either[0][3:, 3:] += 0.5 * cross
    either[1][3:, 3:] -= 0.5 * cross
    # the turning of the normals with the point is left out of the derivative on purpose: a few per cent
    worst = min(np.abs(derivative - one).max() for one in either)
    assert worst < 0.05 * np.abs(derivative).max()
