"""A traced curve's section, with the spring of a flexible curve that was lifted off the back."""

import numpy as np

from saddlebench.engine.back.frame_errors import FrameError
from saddlebench.engine.back.instruments import Scan, TracedCurve
from saddlebench.engine.back.readings import SectionPoints
from saddlebench.engine.back.sections import ElementaryError, LocalSection, side_of
from saddlebench.engine.frames import FloatArray

SHEET_SCALE = "scale of the sheets"


def outline(section: SectionPoints, mm_per_unit: float) -> FloatArray:
    """Return the points of both sides, left first, (n, 2) float, station plane (y, z) [mm]."""
    left = np.array(section.left, dtype=float).reshape(-1, 2)
    right = np.array(section.right, dtype=float).reshape(-1, 2) * (-1.0, 1.0)
    return np.concatenate([left, right]) * mm_per_unit


def spring_back(outward: FloatArray) -> FloatArray:
    """Return how each point moves when the curve springs open so far that its end moves by 1 mm.

    Parameters
    ----------
    outward : (k, 2) float, station plane, from the midline's mark outward (y, z) [mm]

    Returns
    -------
    (k, 2) float, station plane [mm per mm]

    Notes
    -----
    A curve that springs back changes its curvature by the same amount everywhere: the chain's kinematics with
    a joint at every place, `dP(l) = δκ ∫₀ˡ ⟂(P(l) − P(u)) du`, by the trapezoidal rule; δκ is set by the end.
    """
    path = np.vstack([np.zeros(2), outward])
    step = np.linalg.norm(np.diff(path, axis=0), axis=1)
    length = np.concatenate([[0.0], np.cumsum(step)])
    middle = 0.5 * (path[1:] + path[:-1])
    first_moment = np.vstack([np.zeros(2), np.cumsum(step[:, None] * middle, axis=0)])
    lever = length[:, None] * path - first_moment
    moved = np.stack([lever[:, 1], -lever[:, 0]], axis=1)[1:]
    end = float(np.linalg.norm(moved[-1])) if len(moved) else 0.0
    return moved / end if end > 0.0 else np.zeros_like(outward)


def traced_section(curve: TracedCurve, section: SectionPoints) -> LocalSection:
    """Return the section that a tracing describes."""
    points = outline(section, curve.mm_per_unit)
    n_left = len(section.left)
    errors = [ElementaryError(source=SHEET_SCALE, sd=curve.scale_sd, moves=points, of_whole_record=True)]
    for side, part in (("left", slice(0, n_left)), ("right", slice(n_left, None))):
        moves = np.zeros_like(points)
        moves[part] = spring_back(points[part])
        source = f"{section.words}, {side}, spring-back"
        errors.append(ElementaryError(source=source, sd=curve.spring_back_sd_mm, moves=moves))
    rounding = curve.step * curve.mm_per_unit / np.sqrt(12.0)
    own = float(np.linalg.norm([curve.point_sd_mm, rounding, curve.placing.contact_mm]))
    return LocalSection(
        points=points, side=side_of(points[:, 0]), errors=tuple(errors), noise_mm=np.full(len(points), own)
    )


def sheet_errors(curve: TracedCurve) -> tuple[FrameError, ...]:
    """Return the error of the sheets' scale: every section grows about its own midline alike."""
    if curve.scale_sd == 0.0:
        return ()
    across = np.diag([0.0, 1.0, 1.0])
    scale = FrameError(
        source=SHEET_SCALE, sd=curve.scale_sd, linear=across, shift=np.zeros(3), from_midline=True
    )
    return (scale,)


def scanned_section(scan: Scan, section: SectionPoints) -> LocalSection:
    """Return a section cut from a scan; the errors of the whole scan are added where it is placed."""
    points = outline(section, 1.0)
    own = float(np.hypot(scan.point_sd_mm, scan.placing.contact_mm))
    return LocalSection(
        points=points, side=side_of(points[:, 0]), errors=(), noise_mm=np.full(len(points), own)
    )
