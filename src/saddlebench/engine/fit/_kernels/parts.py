"""What the kernels are given, as named bundles of arrays; all float64, C-contiguous."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray


class Back(NamedTuple):
    flat: FloatArray  # coefficients of R [mm] and C [1], interleaved, cell corner by cell corner
    row: int  # their number in one row of φ
    n_s: int  # cells along
    n_phi: int  # cells across
    s0: float
    per_ds: float  # 1/ds
    phi0: float
    per_dphi: float  # 1/dφ
    axis_z: float
    margin_mm: float  # how far the last cell is continued; beyond it there is no back


class Panels(NamedTuple):
    points: FloatArray  # (n, 3) about the reference point, saddle axes [mm]
    area: FloatArray  # (n,) [N/kPa]
    law: NDArray[np.int64]  # (n,) row of the laws


class Laws(NamedTuple):
    end: FloatArray  # (m, 4): where the table ends: δ [mm], ψ [kPa·mm], p [kPa], p' [kPa/mm]; linear beyond
    table: FloatArray  # (m, k, 5): ψ at the interval's start, and p as a cubic of t in [0, 1)


class Friction(NamedTuple):
    stiffness: float  # [kPa/mm]; 0 switches friction off
    coefficient: float
    anchor: FloatArray  # (n, 3) back axes [mm]: where the spring of each point is unstretched
    cap: FloatArray  # (n,) lagged μp [kPa]; huge where stuck, 0 where there is none
    normal: FloatArray  # (n, 3) lagged unit normals
    first: FloatArray  # (n, 3) positions when the step began
    first_gap: FloatArray  # (n,) gaps when the step began


class Girth(NamedTuple):
    anchors: FloatArray  # (2k, 3) about the reference point, saddle axes [mm]
    wraps: FloatArray  # (2k, 3) back axes [mm]
    share: float  # of one strap pair
    tension: float  # [N] at the reference length
    stiffness: float  # [N/mm]; 0 is a girth being tightened to a set tension
    length: float  # reference length [mm]


class Loads(NamedTuple):
    points: FloatArray  # (k, 4) about the reference point, saddle axes [mm], and the force downwards [N]
    seat_n: float
    seat_x: float  # lowest point of the seat's curve, about the reference point [mm]
    seat_y: float
    seat_z: float
    seat_curvature: float  # [1/mm]
    seat_reach: float  # how far the rider may slide along the curve [mm]


class Work(NamedTuple):
    pressure: FloatArray  # (n,) [kPa]
    free_until: FloatArray  # (n,) motion [mm] up to which the point cannot touch
    normal: FloatArray  # (n, 3) unit normals where it touched
    misfit: FloatArray  # (n,) μp less the lagged cap, at the last pass [kPa]
    counts: NDArray[np.int64]  # iterations, evaluations, passes, points evaluated
    numbers: FloatArray  # motion, friction change, residual, energy
    tangent: FloatArray  # (6, 6) Hessian where it came to rest


class Straps(NamedTuple):
    """How the girth of a step is made from its straps."""

    anchors: FloatArray  # (2k, 3) about the reference point, saddle axes [mm]
    kind: int  # NO_GIRTH, TIGHTENED or ELASTIC
    tension: float  # [N]
    stiffness: float  # [N/mm]
    half_length: float  # [mm]
    leans: bool  # to a girth groove that was marked
    groove_x: float  # back axes [mm]


class Fields(NamedTuple):
    """What a step leaves at every point."""

    springs: FloatArray  # (n, 3) back axes [mm]: where each shear spring is unstretched
    shear: FloatArray  # (n, 3) back axes [kPa]: traction on the saddle
    slide: FloatArray  # (n, 3) back axes [1]: direction of slip, 0 where the point sticks
    gap: FloatArray  # (n,) [mm]: true distance
    measured: NDArray[np.bool_]  # (n,)


class Summary(NamedTuple):
    """What a step leaves besides."""

    numbers: FloatArray  # slip share, friction work, girth tension, load, softest, softest without friction
    direction: FloatArray  # (6,) of the softest [mm, mm of lever]
