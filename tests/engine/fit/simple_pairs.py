"""Backs, saddles and settled states simple enough that every measure is known in closed form."""

from dataclasses import replace

import numpy as np

from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.polar import PolarGrid, PolarSpline
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.fit.loads import LoadCase, State
from saddlebench.engine.fit.settled import Outcome, Position, Settled, SolverReport
from saddlebench.engine.frames import Frame, Pose, rotation_from_vector
from saddlebench.engine.saddle.materials import Material
from saddlebench.engine.saddle.model import (
    BearingSurface,
    Channel,
    Family,
    SaddleModel,
    Seat,
    StrapPair,
    TreePoint,
)

RADIUS_MM = 200.0
"""The back is a cylinder of this radius along x, its top at z = 0."""
ROWS, COLUMNS, STEP_MM, INNER_MM = 40, 6, 10.0, 40.0
LENGTH_MM = ROWS * STEP_MM

MARKS = Landmarks(
    withers=Mark(-60.0, 3.0),
    lowest=Mark(250.0, 5.0),
    last_rib=Mark(500.0, 20.0),
    shoulder_left=Mark(10.0, 7.0),
    shoulder_right=Mark(-5.0, 7.0),
    girth_groove=Mark(90.0, 5.0),
    spine_strip_width=Mark(44.0, 3.0),
)


def cylinder(measured_to_mm: float = 800.0) -> BackSurface:
    """Return the cylinder; stations behind `measured_to_mm` count as not measured."""
    grid = PolarGrid(s0_mm=-300.0, ds_mm=20.0, n_s=61, phi0=-1.8, dphi=0.06, n_phi=61, axis_z_mm=-RADIUS_MM)
    radius = np.full((grid.n_s, grid.n_phi), RADIUS_MM)
    measured = np.broadcast_to((grid.s_mm <= measured_to_mm)[:, None], radius.shape)
    return BackSurface(
        grid=grid,
        radius_mm=radius,
        sd_mm=np.ones_like(radius),
        measured=measured,
        tissue=np.full(radius.shape, 2, dtype=np.int8),
        spline=PolarSpline.through(grid, radius),
    )


def flat_panels() -> BearingSurface:
    """Return two level panels of 40 × 6 points on a 10 mm lattice, inner edge 40 mm from the midline."""
    row, column = np.divmod(np.arange(ROWS * COLUMNS), COLUMNS)
    side = np.repeat([1, -1], ROWS * COLUMNS).astype(np.int8)
    row, column = np.tile(row, 2), np.tile(column, 2)
    x = -(row + 0.5) * STEP_MM
    y = side * (INNER_MM + (column + 0.5) * STEP_MM)
    n = x.size
    inner, outer = (column + 0.5) * STEP_MM, (COLUMNS - column - 0.5) * STEP_MM
    ends = np.minimum(row + 0.5, ROWS - row - 0.5) * STEP_MM
    return BearingSurface(
        points_saddle=np.stack([x, y, np.zeros(n)], axis=1),
        normals_saddle=np.tile([0.0, 0.0, -1.0], (n, 1)),
        area_mm2=np.full(n, STEP_MM**2),
        side=side,
        row=row.astype(np.int32),
        column=column.astype(np.int32),
        zone=np.clip(row * 4 // ROWS, 0, 3).astype(np.int8),
        edge_mm=np.minimum(np.minimum(inner, outer), ends),
        outer_edge_mm=outer,
        firmness=np.ones(n),
    )


def square_arch() -> np.ndarray:
    """Return an arch 60 mm high and 80 mm wide inside, in steps of 1 mm, 50 mm above the panels."""
    up = np.arange(0.0, 60.5, 1.0)
    left = np.stack([np.zeros_like(up), np.full_like(up, 40.0), up - 10.0], axis=1)
    across = np.arange(39.0, -39.5, -1.0)
    top = np.stack([np.zeros_like(across), across, np.full_like(across, 50.0)], axis=1)
    return np.vstack([left, top, (left * [1.0, -1.0, 1.0])[::-1]])


def plain_saddle(family: Family = Family.PANELLED) -> SaddleModel:
    """Return a symmetric saddle with level panels, a channel of 80 mm and a parabolic seat."""
    upward = np.array([0.0, -0.6, 0.8])
    ends = np.array([-30.0, 90.0, -40.0])
    x = -np.linspace(20.0, 420.0, 81)
    channel_x = -np.linspace(10.0, 390.0, 39)
    points = tuple(
        TreePoint(
            end_saddle=ends * [1.0, sign, 1.0],
            upward_saddle=upward * [1.0, sign, 1.0],
            length_mm=100.0,
            cover_mm=12.0,
        )
        for sign in (1.0, -1.0)
    )
    return SaddleModel(
        label="hand-made",
        family=family,
        bearing=flat_panels(),
        panel=Material(name="wool", stiffness_kpa_mm=1.2, source="assumption"),
        arch_saddle=square_arch(),
        points=None if family is Family.BARS else (points[0], points[1]),
        channel=Channel(
            x_mm=channel_x,
            half_width_left_mm=np.full(39, INNER_MM),
            half_width_right_mm=np.full(39, INNER_MM),
            roof_z_mm=np.full(39, 45.0),
        ),
        straps=(
            StrapPair(
                name="first",
                left_saddle=np.array([-110.0, 120.0, 0.0]),
                right_saddle=np.array([-110.0, -120.0, 0.0]),
            ),
            StrapPair(
                name="second",
                left_saddle=np.array([-150.0, 120.0, 0.0]),
                right_saddle=np.array([-150.0, -120.0, 0.0]),
            ),
        ),
        seat=Seat(
            x_mm=x,
            z_mm=60.0 + (x + 230.0) ** 2 / 800.0,
            stirrup_bar_left=np.array([-80.0, 100.0, 20.0]),
            stirrup_bar_right=np.array([-80.0, -100.0, 20.0]),
        ),
        mass_kg=7.0,
        centre_of_mass_saddle=np.array([-200.0, 0.0, 40.0]),
    )


REPORT = SolverReport(
    iterations=5,
    evaluations=9,
    point_evaluations=4000,
    friction_passes=2,
    force_residual=1e-8,
    softest_n_mm=12.0,
    softest_frictionless_n_mm=-4.0,
    slip_share=0.1,
    friction_work_n_mm=0.0,
    energy_n_mm=0.0,
)


def case(state: State, name: str = "", *, is_peak: bool = False) -> LoadCase:
    """Return a load case whose load plays no part: the states are made by hand."""
    return LoadCase(
        name=name or str(state),
        state=state,
        force_multiple=1.0,
        is_peak=is_peak,
        stirrup_share=0.2,
        source="test",
    )


def settled(
    saddle: SaddleModel,
    state: State = State.RIDER_UP,
    *,
    pressure_kpa: np.ndarray | float = 10.0,
    gap_mm: np.ndarray | float = -10.0,
    at_mm: tuple[float, float, float] = (0.0, 0.0, 0.0),
    turned: tuple[float, float, float] = (0.0, 0.0, 0.0),
    name: str = "",
    outcome: Outcome = Outcome.SITS,
    stiffness: np.ndarray | None = None,
) -> Settled:
    """Return a state with the saddle moved by `at_mm` and turned by the rotation vector `turned` [rad]."""
    n = saddle.bearing.area_mm2.size
    return Settled(
        case=case(state, name),
        position=Position.PUT,
        outcome=outcome,
        why_not=None,
        saddle_to_back=Pose(
            source=Frame.SADDLE,
            target=Frame.BACK,
            rotation=rotation_from_vector(np.array(turned)),
            translation_mm=np.array(at_mm),
        ),
        gap_mm=np.broadcast_to(np.asarray(gap_mm, float), (n,)),
        pressure_kpa=np.broadcast_to(np.asarray(pressure_kpa, float), (n,)),
        shear_back_kpa=np.zeros((n, 3)),
        measured=np.ones(n, dtype=bool),
        girth_tension_n=100.0,
        stiffness_back=np.eye(6) if stiffness is None else stiffness,
        reference_saddle=np.array([-200.0, 0.0, 0.0]),
        solver=REPORT,
    )


def mirrored(saddle: SaddleModel) -> SaddleModel:
    """Return the saddle in a mirror: left and right of everything exchanged."""
    flip = np.array([1.0, -1.0, 1.0])
    bearing = saddle.bearing
    assert saddle.points is not None
    left, right = saddle.points
    return replace(
        saddle,
        bearing=replace(
            bearing,
            points_saddle=bearing.points_saddle * flip,
            normals_saddle=bearing.normals_saddle * flip,
            side=(-bearing.side).astype(np.int8),
        ),
        arch_saddle=(saddle.arch_saddle * flip)[::-1],
        points=(_flip_point(right), _flip_point(left)),
        channel=replace(
            saddle.channel,
            half_width_left_mm=saddle.channel.half_width_right_mm,
            half_width_right_mm=saddle.channel.half_width_left_mm,
        ),
        straps=tuple(
            replace(one, left_saddle=one.right_saddle * flip, right_saddle=one.left_saddle * flip)
            for one in saddle.straps
        ),
        seat=replace(
            saddle.seat,
            stirrup_bar_left=saddle.seat.stirrup_bar_right * flip,
            stirrup_bar_right=saddle.seat.stirrup_bar_left * flip,
        ),
    )


def _flip_point(point: TreePoint) -> TreePoint:
    flip = np.array([1.0, -1.0, 1.0])
    return replace(point, end_saddle=point.end_saddle * flip, upward_saddle=point.upward_saddle * flip)
