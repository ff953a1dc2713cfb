"""A scene made by hand: an invented saddle laid on an invented back, pressed in by a stated depth.

Nothing here is solved: the fields follow from the geometry alone, so a drawing can be checked against them.
"""

from functools import cache

import numpy as np

from saddlebench.demo.shapes import LEFT_SHOULDER, BackShape
from saddlebench.engine.fit.loads import LoadCase, State
from saddlebench.engine.fit.settled import Outcome, Position, Settled, SolverReport
from saddlebench.engine.frames import Frame, Pose, read_only, rotation_from_vector
from saddlebench.engine.saddle.materials import Material
from saddlebench.engine.saddle.model import (
    BearingSurface,
    Channel,
    Family,
    PadLayer,
    SaddleModel,
    Seat,
    StrapPair,
    TreePoint,
    Zone,
)
from saddlebench.exchange.drawings.scene import Scene

FRONT_S_MM = 20.0
LENGTH_MM = 430.0
STIFFNESS_KPA_MM = 0.65
WOOL = Material(name="wool", stiffness_kpa_mm=1.2, source="assumption")
FELT = Material(name="felt", stiffness_kpa_mm=4.0, source="assumption")
RIDER_UP = LoadCase(
    name="rider up, at halt",
    state=State.RIDER_UP,
    force_multiple=1.0,
    is_peak=False,
    stirrup_share=0.2,
    source="assumption",
)


def underside_height(shape: BackShape, s: float, y: np.ndarray) -> np.ndarray:
    """Height of the made-up underside: the back itself, bridged in the middle and narrow in front."""
    section = shape.section(s, 401)
    base = np.interp(np.abs(y), np.abs(section[200:, 1]), section[200:, 2])
    along = (s - FRONT_S_MM) / LENGTH_MM
    bridge = 9.0 * np.exp(-(((along - 0.50) / 0.16) ** 2))
    narrow = -9.0 * np.exp(-((along / 0.16) ** 2)) * np.clip((np.abs(y) - 60.0) / 60.0, 0.0, 1.0)
    return base + bridge + narrow


def bearing(shape: BackShape, rows: int = 44, columns: int = 14) -> BearingSurface:
    u, v = np.meshgrid(np.linspace(0, 1, rows), np.linspace(0, 1, columns), indexing="ij")
    inner = 34.0 + 6.0 * u
    width = 78.0 + 22.0 * np.sin(np.pi * u) + 8.0 * u - 26.0 * np.clip((u - 0.86) / 0.14, 0, 1) ** 2
    points, normals, area, side, edge = [], [], [], [], []
    for sign in (1, -1):
        y = sign * (inner + width * v)
        s = FRONT_S_MM + LENGTH_MM * u
        z = np.stack([underside_height(shape, s[i, 0], y[i]) for i in range(rows)])
        grid = np.stack([-s, y, z], axis=-1)
        along, across = np.gradient(grid, axis=0), np.gradient(grid, axis=1)
        normal = np.cross(along, across) * sign
        size = np.linalg.norm(normal, axis=-1)
        points.append(grid.reshape(-1, 3) + np.array([FRONT_S_MM, 0.0, 0.0]))
        normals.append((normal / size[..., None]).reshape(-1, 3))
        area.append(size.ravel())
        side.append(np.full(rows * columns, sign, dtype=np.int8))
        edge.append((np.minimum(v, 1 - v) * width).ravel())
    row, column = np.meshgrid(np.arange(rows), np.arange(columns), indexing="ij")
    zone = np.select([u < 0.25, u < 0.5, u < 0.75], [Zone.FRONT, Zone.WAIST, Zone.SEAT], Zone.REAR)
    held = np.concatenate(normals)
    held = held * np.where(held[:, 2:] > 0, -1.0, 1.0)
    return BearingSurface(
        points_saddle=read_only(np.concatenate(points)),
        normals_saddle=read_only(held),
        area_mm2=read_only(np.concatenate(area)),
        side=np.concatenate(side),
        row=np.tile(row.ravel(), 2).astype(np.int32),
        column=np.tile(column.ravel(), 2).astype(np.int32),
        zone=np.tile(zone.ravel(), 2).astype(np.int8),
        edge_mm=read_only(np.concatenate(edge)),
        outer_edge_mm=read_only(np.concatenate(edge)),
        firmness=read_only(np.ones(2 * rows * columns)),
    )


def saddle(shape: BackShape = LEFT_SHOULDER) -> SaddleModel:
    s = np.linspace(FRONT_S_MM, FRONT_S_MM + LENGTH_MM, 30)
    top = shape.radius(s, np.zeros(30)) + shape.axis_z_mm
    front = top[0]
    section = shape.section(FRONT_S_MM + 28.0, 401)[200:]
    y = np.linspace(62.0, 112.0, 12)
    side_z = np.interp(y, section[:, 1], section[:, 2]) + 26.0
    theta = np.linspace(0.0, np.pi, 25)
    hoop = np.stack([62.0 * np.cos(theta), side_z[0] + 52.0 * np.sin(theta)], axis=1)
    outline = np.concatenate(
        [np.stack([y, side_z], axis=1)[::-1], hoop[1:-1], np.stack([-y, side_z], axis=1)]
    )
    arch = np.column_stack([np.full(len(outline), -28.0), outline])
    ends = []
    for sign in (1.0, -1.0):
        up = np.array([0.0, sign * (y[0] - y[-1]), side_z[0] - side_z[-1]])
        ends.append(
            TreePoint(
                end_saddle=read_only(np.array([-28.0, sign * y[-1], side_z[-1]])),
                upward_saddle=read_only(up / np.linalg.norm(up)),
                length_mm=float(np.linalg.norm(up)),
                cover_mm=12.0,
            )
        )
    x = np.linspace(10.0, -LENGTH_MM - 20.0, 60)
    seat = front + 78.0 + 62.0 * ((x + 215.0) / 215.0) ** 2 * np.where(x > -215.0, 0.8, 1.15)
    return SaddleModel(
        label="Larkspur 17½ in",
        family=Family.PANELLED,
        bearing=bearing(shape),
        panel=WOOL,
        arch_saddle=read_only(arch),
        points=(ends[0], ends[1]),
        channel=Channel(
            x_mm=read_only(FRONT_S_MM - s),
            half_width_left_mm=read_only(np.linspace(34.0, 40.0, 30)),
            half_width_right_mm=read_only(np.linspace(34.0, 40.0, 30)),
            roof_z_mm=read_only(np.maximum(top, front - 40.0) + 34.0),
        ),
        straps=tuple(
            StrapPair(
                name=name,
                left_saddle=read_only(np.array([x0, 150.0, front - 60.0])),
                right_saddle=read_only(np.array([x0, -150.0, front - 60.0])),
            )
            for name, x0 in (("front", -110.0), ("rear", -165.0))
        ),
        seat=Seat(
            x_mm=read_only(x),
            z_mm=read_only(seat),
            stirrup_bar_left=read_only(np.array([-95.0, 75.0, front + 10.0])),
            stirrup_bar_right=read_only(np.array([-95.0, -75.0, front + 10.0])),
        ),
        mass_kg=7.0,
        centre_of_mass_saddle=read_only(np.array([-210.0, 0.0, front + 40.0])),
    )


@cache
def scene(shape: BackShape = LEFT_SHOULDER, *, press_mm: float = 17.0, pad_mm: float = 8.0) -> Scene:
    surface, model = shape.surface(), saddle(shape)
    pads = (PadLayer(name="felt pad", thickness_mm=(pad_mm,) * 4, material=FELT),) if pad_mm else ()
    move = Pose(
        source=Frame.SADDLE,
        target=Frame.BACK,
        rotation=rotation_from_vector(np.deg2rad([0.8, 0.9, 0.4])),
        translation_mm=np.array([-FRONT_S_MM, 2.0, pad_mm - press_mm + 7.0]),
    )
    points = move.points(model.bearing.points_saddle) + pad_mm * move.directions(model.bearing.normals_saddle)
    s, phi, r = surface.grid.polar(points)
    gap = (r - surface.spline.radius(s, phi)[:, 0]) * surface.spline.scale(s, phi)[:, 0]
    settled = Settled(
        case=RIDER_UP,
        position=Position.PUT,
        outcome=Outcome.SITS,
        why_not=None,
        saddle_to_back=move,
        gap_mm=read_only(gap),
        pressure_kpa=read_only(STIFFNESS_KPA_MM * np.maximum(0.0, -gap)),
        shear_back_kpa=read_only(np.zeros((gap.size, 3))),
        measured=s < 425.0,
        girth_tension_n=70.0,
        stiffness_back=read_only(np.diag([12.0, 12.0, 600.0, 1e7, 1e7, 1e7])),
        reference_saddle=read_only(np.zeros(3)),
        solver=SolverReport(
            iterations=1,
            evaluations=1,
            friction_passes=1,
            force_residual=0.0,
            softest_n_mm=10.0,
            softest_frictionless_n_mm=-4.0,
            slip_share=0.1,
            point_evaluations=1,
            friction_work_n_mm=0.0,
            energy_n_mm=0.0,
        ),
    )
    return Scene(
        back_label="Juniper, 3 May 2026",
        surface=surface,
        landmarks=shape.landmarks,
        saddle=model,
        pads=pads,
        settled=settled,
    )
