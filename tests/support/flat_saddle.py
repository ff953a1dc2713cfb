"""A saddle of two level panels on a level back: what is not level shows in its pressures and nowhere else."""

import numpy as np

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.fit.loads import HALT, Rider
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import FitMaterials, GirthElastic, Placing, SettleSettings
from saddlebench.engine.saddle.materials import WOOL, Material
from saddlebench.engine.saddle.model import (
    BearingSurface,
    Channel,
    Family,
    SaddleModel,
    Seat,
    StrapPair,
)
from saddlebench.engine.saddle.zones import zone_of
from support.bodies import flat_back

LENGTH_MM, WIDTH_MM, INNER_MM = 400.0, 120.0, 40.0
TISSUE = Material(name="test tissue", stiffness_kpa_mm=1.2, source="test")


def level_bearing(rows: int = 30, columns: int = 8) -> BearingSurface:
    """Return both panels; no point counts as near an edge, so that an even load is even to the edge."""
    row, column = np.divmod(np.arange(rows * columns), columns)
    side = np.repeat([1, -1], rows * columns).astype(np.int8)
    row, column = np.tile(row, 2), np.tile(column, 2)
    x = -(row + 0.5) * LENGTH_MM / rows
    y = side * (INNER_MM + (column + 0.5) * WIDTH_MM / columns)
    n = len(x)
    return BearingSurface(
        points_saddle=np.stack([x, y, np.zeros(n)], axis=1),
        normals_saddle=np.tile([0.0, 0.0, -1.0], (n, 1)),
        area_mm2=np.full(n, LENGTH_MM * WIDTH_MM / rows / columns),
        side=side,
        row=row.astype(np.int32),
        column=column.astype(np.int32),
        zone=zone_of(-x, LENGTH_MM),
        edge_mm=np.full(n, 50.0),
        outer_edge_mm=np.full(n, 50.0),
        firmness=np.ones(n),
    )


def level_saddle() -> SaddleModel:
    """Return a saddle whose load acts over the middle of its panels, its arch and roof high above."""
    x = np.linspace(0.0, -LENGTH_MM, 41)
    middle = -0.5 * LENGTH_MM
    bar, out = np.array([middle, 0.0, 60.0]), np.array([0.0, 90.0, 0.0])
    return SaddleModel(
        label="two level panels",
        family=Family.PANELLED,
        bearing=level_bearing(),
        panel=WOOL,
        arch_saddle=np.stack([np.full(9, -40.0), np.linspace(60.0, -60.0, 9), np.full(9, 90.0)], axis=1),
        points=None,
        channel=Channel(
            x_mm=x,
            half_width_left_mm=np.full(41, INNER_MM),
            half_width_right_mm=np.full(41, INNER_MM),
            roof_z_mm=np.full(41, 60.0),
        ),
        straps=(
            StrapPair(
                name="strap",
                left_saddle=np.array([middle, 80.0, 20.0]),
                right_saddle=np.array([middle, -80.0, 20.0]),
            ),
        ),
        seat=Seat(
            x_mm=middle + np.linspace(100.0, -100.0, 21),
            z_mm=80.0 + np.linspace(-100.0, 100.0, 21) ** 2 / 800.0,
            stirrup_bar_left=bar + out,
            stirrup_bar_right=bar - out,
        ),
        mass_kg=6.0,
        centre_of_mass_saddle=np.array([middle, 0.0, 40.0]),
    )


def level_fit(saddle: SaddleModel) -> FitProblem:
    """Return the fit of such a saddle on a level back, girth slack."""
    return FitProblem(
        surface=flat_back(),
        landmarks=Landmarks(),
        saddle=saddle,
        rider=Rider(mass_kg=70.0, load_height_mm=0.0),
        cases=(HALT,),
        materials=FitMaterials(tissue=(TISSUE,) * 4, girth=GirthElastic(tension_n=0.0, stiffness_n_mm=0.0)),
        settings=SettleSettings(placing=Placing(origin_s_mm=0.0), both_positions=False, coarse_points=0),
    )
