"""What the kernels are given and fill, as named bundles of arrays; all floats are float64, C-contiguous."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray


class Back(NamedTuple):
    """A back's surface."""

    flat: FloatArray
    """(k,) float, coefficients of R [mm] and C [1], interleaved, row by row of φ: k = 2(n_s + 3)(n_phi + 3)."""
    row: int
    """Number of coefficients in one row."""
    n_s: int
    """Cells along."""
    n_phi: int
    """Cells across."""
    s0: float
    per_ds: float
    """One over the spacing along [1/mm]."""
    phi0: float
    per_dphi: float
    """One over the spacing across [1/rad]."""
    axis_z: float
    margin_mm: float
    """How far the last cells are continued; beyond it there is no back."""


class Panels(NamedTuple):
    """The points of a saddle that may press, pads included."""

    points: FloatArray
    """(n, 3) float, saddle axes about the reference [mm]."""
    area: FloatArray
    """(n,) float [N/kPa]."""
    law: NDArray[np.int64]
    """(n,) int, row of the laws."""


class Laws(NamedTuple):
    """Compression laws."""

    end: FloatArray
    """(m, 4) float: where the table ends, δ [mm], ψ [kPa·mm], p [kPa], p' [kPa/mm]; linear beyond."""
    table: FloatArray
    """(m, k, 5) float: ψ where an interval starts [kPa·mm], and p as a cubic of t in [0, 1) [kPa]."""


class Friction(NamedTuple):
    """Friction of one step."""

    stiffness: float
    """[kPa/mm]; 0 switches friction off."""
    coefficient: float
    anchor: FloatArray
    """(n, 3) float, back frame [mm]: where the spring of each point is unstretched."""
    cap: FloatArray
    """(n,) float, lagged μp [kPa]; huge where stuck, 0 where there is none."""
    normal: FloatArray
    """(n, 3) float, back frame [1]: lagged unit normals."""
    first: FloatArray
    """(n, 3) float, back frame [mm]: where points that did not touch were when the step began."""
    first_gap: FloatArray
    """(n,) float, gaps when the step began, below 0 for points that touched [mm]."""


class Girth(NamedTuple):
    """A girth as it lies in one step."""

    anchors: FloatArray
    """(2k, 3) float, saddle axes about the reference [mm]."""
    wraps: FloatArray
    """(2k, 3) float, back frame [mm]."""
    share: float
    """Of one strap pair."""
    tension: float
    """At the reference length [N]."""
    stiffness: float
    """[N/mm]; 0 is a girth being tightened to a set tension."""
    length: float
    """Reference length [mm]."""


class Straps(NamedTuple):
    """How the girth of a step is made from its straps."""

    anchors: FloatArray
    """(2k, 3) float, saddle axes about the reference [mm]."""
    kind: int
    """NO_GIRTH, TIGHTENED or ELASTIC."""
    tension: float
    stiffness: float
    half_length: float
    """From anchor to breastbone [mm]."""
    leans: bool
    """To a girth groove that was marked."""
    groove_x: float
    """In the back frame [mm]."""


class Loads(NamedTuple):
    """Weights, and a rider."""

    points: FloatArray
    """(k, 4) float, saddle axes about the reference [mm], and the force downwards [N]."""
    seat_n: float
    seat_x: float
    """Lowest point of the seat's curve, about the reference [mm]."""
    seat_y: float
    seat_z: float
    seat_curvature: float
    """[1/mm]."""
    seat_reach: float
    """How far the rider may slide along the curve [mm]."""


class Work(NamedTuple):
    """What the solver writes while it works."""

    pressure: FloatArray
    """(n,) float [kPa]."""
    free_until: FloatArray
    """(n,) float, motion of the saddle up to which the point cannot touch [mm]."""
    normal: FloatArray
    """(n, 3) float, back frame [1]: unit normals where points touched."""
    misfit: FloatArray
    """(n,) float, μp less the lagged cap at the last pass [kPa]."""
    counts: NDArray[np.int64]
    """(4,) int: iterations, evaluations, passes, points evaluated."""
    numbers: FloatArray
    """(4,) float: motion so far [mm], misfit [1], residual [N], energy [N·mm]."""
    tangent: FloatArray
    """(6, 6) float, back frame [N/mm, N, N·mm]: Hessian where it came to rest."""


class Fields(NamedTuple):
    """What a step leaves at every point."""

    springs: FloatArray
    """(n, 3) float, back frame [mm]: where each shear spring is unstretched from now on."""
    shear: FloatArray
    """(n, 3) float, back frame [kPa]: traction on the saddle."""
    slide: FloatArray
    """(n, 3) float, back frame [1]: direction of slip, 0 where the point sticks."""
    gap: FloatArray
    """(n,) float, true distance [mm]."""
    measured: NDArray[np.bool_]
    """(n,) whether the back was measured there."""


class Summary(NamedTuple):
    """What a step leaves besides."""

    numbers: FloatArray
    """(6,) float: slip share [1], friction work [N·mm], girth tension [N], load [N], softest with and without
    friction [N/mm]."""
    direction: FloatArray
    """(6,) float, back frame [mm, mm of lever]: the softest motion."""
