"""Backs and rigid bodies simple enough that their contact is known in closed form."""

from dataclasses import replace

import numpy as np

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.polar import PolarGrid, PolarSpline
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.fit._kernels.parts import Girth
from saddlebench.engine.fit.loads import LoadCase, Push, Rider, State
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import (
    FitMaterials,
    GirthElastic,
    Grip,
    Placing,
    SettleSettings,
)
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.materials import Material
from saddlebench.engine.saddle.model import (
    BearingSurface,
    Channel,
    Family,
    SaddleModel,
    Seat,
    StrapPair,
)

RIGID = Material(name="rigid", stiffness_kpa_mm=1e12, source="test")
FLAT_RADIUS_MM = 1e6
"""A cylinder of this radius rises 0.02 mm over the half width of a saddle: flat for any purpose here."""
FEATHER_KG = 0.05
"""A body's own mass: enough to lay it on the back, half a newton among hundreds."""


def back_of(radius_mm: FloatArray, grid: PolarGrid) -> BackSurface:
    """Return a back of one tissue, measured all over, through radii at the nodes."""
    return BackSurface(
        grid=grid,
        radius_mm=radius_mm,
        sd_mm=np.zeros_like(radius_mm),
        measured=np.ones(radius_mm.shape, dtype=bool),
        tissue=np.full(radius_mm.shape, 2, dtype=np.int8),
        spline=PolarSpline.through(grid, radius_mm),
    )


def flat_back() -> BackSurface:
    """Return a level plane at z = 0, from 500 mm in front of the origin to 500 mm behind, 600 mm wide."""
    n_phi = 61
    half = 300.0 / FLAT_RADIUS_MM
    grid = PolarGrid(
        s0_mm=-500.0,
        ds_mm=25.0,
        n_s=41,
        phi0=-half,
        dphi=2.0 * half / (n_phi - 1),
        n_phi=n_phi,
        axis_z_mm=-FLAT_RADIUS_MM,
    )
    return back_of(np.full((grid.n_s, grid.n_phi), FLAT_RADIUS_MM), grid)


def round_back(radius_mm: float = 200.0) -> BackSurface:
    """Return a cylinder along x whose top lies at z = 0."""
    grid = PolarGrid(s0_mm=-500.0, ds_mm=25.0, n_s=41, phi0=-2.0, dphi=0.05, n_phi=81, axis_z_mm=-radius_mm)
    return back_of(np.full((grid.n_s, grid.n_phi), radius_mm), grid)


def roof_back(half_apex: float, *, depth_mm: float = 150.0, dphi_deg: float = 1.0) -> BackSurface:
    """Return two plane faces that meet in a ridge along x at z = 0; `half_apex` from the vertical [rad].

    The spline rounds the ridge; two nodes away it is off by a tenth of that, ten nodes away by 1e-6 of it.
    """
    n_side = int(75.0 / dphi_deg)
    dphi = np.deg2rad(dphi_deg)
    grid = PolarGrid(
        s0_mm=-500.0,
        ds_mm=25.0,
        n_s=41,
        phi0=-n_side * dphi,
        dphi=dphi,
        n_phi=2 * n_side + 1,
        axis_z_mm=-depth_mm,
    )
    normal_at = 0.5 * np.pi - half_apex
    across = depth_mm * np.sin(half_apex) / np.cos(np.abs(grid.phi) - normal_at)
    return back_of(np.tile(across, (grid.n_s, 1)), grid)


def tiles(
    length_mm: float, width_mm: float, n_along: int, n_across: int, *, centre_y_mm: float = 0.0
) -> tuple[FloatArray, FloatArray, float]:
    """Return x, y (n,) and the common area of tiles of a rectangle that begins at x = 0 and goes back."""
    x = -(np.arange(n_along) + 0.5) * length_mm / n_along
    y = centre_y_mm + ((np.arange(n_across) + 0.5) / n_across - 0.5) * width_mm
    along, across = np.meshgrid(x, y, indexing="ij")
    return along.ravel(), across.ravel(), length_mm * width_mm / (n_along * n_across)


def bearing_of(points: FloatArray, normals: FloatArray, area_mm2: FloatArray | float) -> BearingSurface:
    """Return a bearing surface of points that need no rows or edges."""
    n = len(points)
    return BearingSurface(
        points_saddle=points,
        normals_saddle=normals,
        area_mm2=np.broadcast_to(np.asarray(area_mm2, dtype=float), n).copy(),
        side=np.where(points[:, 1] >= 0.0, 1, -1).astype(np.int8),
        row=np.arange(n, dtype=np.int32),
        column=np.zeros(n, dtype=np.int32),
        zone=np.zeros(n, dtype=np.int8),
        edge_mm=np.full(n, 50.0),
        outer_edge_mm=np.full(n, 50.0),
        firmness=np.ones(n),
    )


def rigid_body(
    bearing: BearingSurface,
    *,
    mass_kg: float = FEATHER_KG,
    centre: FloatArray | None = None,
    straps: tuple[StrapPair, ...] = (),
    seat: Seat | None = None,
) -> SaddleModel:
    """Return a body that is a bearing surface and nothing else; its mass acts at the surface's centroid."""
    middle = np.average(bearing.points_saddle, axis=0, weights=bearing.area_mm2)
    none = np.zeros(0)
    return SaddleModel(
        label="a test body",
        family=Family.PANELLED,
        bearing=bearing,
        panel=RIGID,
        arch_saddle=np.zeros((0, 3)),
        points=None,
        channel=Channel(x_mm=none, half_width_left_mm=none, half_width_right_mm=none, roof_z_mm=none),
        straps=straps,
        seat=seat
        or Seat(
            x_mm=middle[0] + np.linspace(100.0, -100.0, 21),
            z_mm=middle[2] + np.linspace(-100.0, 100.0, 21) ** 2 / 800.0,
            stirrup_bar_left=middle,
            stirrup_bar_right=middle,
        ),
        mass_kg=mass_kg,
        centre_of_mass_saddle=middle if centre is None else centre,
    )


def pushed(name: str, *pushes: tuple[FloatArray, float]) -> LoadCase:
    """Return a case of weights (place in the saddle frame [mm], force [N]) on a body laid on the back."""
    return LoadCase(
        name=name,
        state=State.PLACED,
        force_multiple=0.0,
        is_peak=False,
        stirrup_share=0.0,
        pushes=tuple(Push(at_saddle=np.asarray(at, dtype=float), force_n=force) for at, force in pushes),
        source="test",
    )


def materials_of(
    stiffness_kpa_mm: float,
    *,
    friction: float = 0.35,
    shear_kpa_mm: float = 0.3,
    girth: GirthElastic | None = None,
    hardening_mm: float = np.inf,
) -> FitMaterials:
    """Return one tissue everywhere, under a rigid panel."""
    tissue = Material(
        name="test tissue", stiffness_kpa_mm=stiffness_kpa_mm, hardening_mm=hardening_mm, source="test"
    )
    return FitMaterials(
        tissue=(tissue,) * 4,
        grip=Grip(coefficient=friction, shear_kpa_mm=shear_kpa_mm),
        girth=girth or GirthElastic(tension_n=0.0, stiffness_n_mm=0.0),
    )


def fit_of(
    surface: BackSurface,
    body: SaddleModel,
    materials: FitMaterials,
    cases: tuple[LoadCase, ...],
    *,
    rider: Rider | None = None,
    landmarks: Landmarks | None = None,
    origin_s_mm: float = 0.0,
) -> FitProblem:
    """Return a fit put at a stated place, solved there only."""
    return FitProblem(
        surface=surface,
        landmarks=landmarks or Landmarks(),
        saddle=body,
        rider=rider or Rider(mass_kg=70.0, load_height_mm=0.0),
        cases=cases,
        materials=materials,
        settings=SettleSettings(placing=Placing(origin_s_mm=origin_s_mm), both_positions=False),
    )


def with_settings(fit: FitProblem, **changes: object) -> FitProblem:
    """Return a fit with some settings changed."""
    return replace(fit, settings=replace(fit.settings, **changes))  # type: ignore[arg-type]


NO_PULL = Girth(
    anchors=np.zeros((0, 3)), wraps=np.zeros((0, 3)), share=1.0, tension=0.0, stiffness=0.0, length=0.0
)
"""A girth that is not there, for looking at other terms of the energy."""
