"""Decide whether a scan is cut as it is, or evened out first.

Over clouds and rough meshes a smooth skin is laid; of coarse ones the corners alone are moved.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.scan import STANDARD_CUTS, ScanMark
from saddlebench.engine.back.scan_sections import Faces
from saddlebench.engine.errors import Problem, Weight, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.corners import LaidCorners, lay_corners
from saddlebench.engine.scan.sample import even_points
from saddlebench.engine.scan.skin import AXIS_DEPTH_MM, HALF_WIDTH_MM, Skin, lay_skin
from saddlebench.engine.scan.trunk import topline
from saddlebench.exchange.scans.mesh import Mesh

ROUGH_MM = 1.4
"""Scatter about a smooth skin above which a mesh is not cut as it is: facets of a clean one reach 1.1."""
COARSE_MM = 28.0
"""Edges above which a skin finds too few corners to smooth by: its window is 70 mm wide."""
UNEVEN_MM = 2.4
"""Scatter of a coarse mesh's corners above which it is noise: on clean ones at hand roughness reaches 2.0."""
_POINTS = 250_000
_SEED = 20
_AHEAD_MM, _BEHIND_MM = 400.0, 250.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Smoothed:
    """What is cut."""

    vertices_mm: FloatArray
    """(n, 3) float, instrument frame [mm]."""
    faces: Faces
    noise_mm: float
    """Of the points about what is cut; zero where the mesh is cut as it is."""
    reading_sd_mm: float
    """What each reading of a section counts as off by, so that all tell no more than what was seen."""
    remarks: tuple[Problem, ...]


def skin_over(
    name: str,
    mesh: Mesh,
    mm_per_unit: float,
    marks: Mapping[ScanMark, FloatArray],
    up: FloatArray,
    forward: FloatArray,
) -> Smoothed:
    """Return a mesh as it is, or the skin laid over it, in mm.

    Parameters
    ----------
    name : the file's
    mesh : Mesh
    mm_per_unit : of its unit
    marks : (3,) float each, instrument frame [mm]
    up, forward : (3,) float, instrument frame [1]

    Raises
    ------
    InputProblemsError
        When it is a cloud, and no back lies between the marks.
    """
    vertices = mesh.vertices * mm_per_unit
    as_it_is = Smoothed(vertices_mm=vertices, faces=mesh.faces, noise_mm=0.0, reading_sd_mm=0.0, remarks=())
    skin = _skin(vertices, mesh.faces, marks, up, forward)
    if skin is None:
        if len(mesh.faces):
            return as_it_is
        raise input_problem(
            "between the marks there are too few points for a back",
            "Check the marks and the unit, or scan the back again.",
            Where(file=name),
        )
    edge_mm = _edge(vertices, mesh.faces, skin)
    if edge_mm > COARSE_MM:
        laid = _corners_laid(vertices, mesh.faces, skin)
        return (
            as_it_is
            if laid is None or laid.noise_mm < UNEVEN_MM
            else _by_corners(name, mesh, skin, laid, edge_mm)
        )
    if len(mesh.faces) and skin.noise_mm < ROUGH_MM:
        return as_it_is
    what = f"the scan is rough by {skin.noise_mm:.1f} mm: a smooth skin was laid over it, its holes left open"
    said = [(what, "Nothing to do.")]
    for patch in skin.foreign:
        side = "near" if patch.phi > 0.0 else "off"
        place = float((skin.turn @ marks[ScanMark.SHOULDER] + skin.shift)[0]) - patch.x_mm
        what = (
            f"something {patch.height_mm:.0f} mm thick, {patch.area_cm2:.0f} cm², lies on the {side} side, "
            f"{place:.0f} mm behind the shoulder mark: it was left out, nothing is measured there"
        )
        said.append((what, "A hand, a strap, a fold of a rug? Scan it again if a panel lies there."))
    where = Where(file=name)
    return Smoothed(
        vertices_mm=skin.vertices,
        faces=skin.faces,
        noise_mm=skin.noise_mm,
        reading_sd_mm=skin.noise_mm,
        remarks=tuple(Problem(what=w, cure=c, where=where, weight=Weight.WARNING) for w, c in said),
    )


def _by_corners(name: str, mesh: Mesh, skin: Skin, laid: LaidCorners, edge_mm: float) -> Smoothed:
    what = (
        f"corners lie some {edge_mm:.0f} mm apart and scatter by {laid.noise_mm:.1f} mm: each was laid among "
        f"its neighbours, {laid.left_mm:.1f} mm of it stay; what lies between them was not seen"
    )
    cure = "Scan more finely, a corner at least every 20 mm, where more is to be told from it."
    return Smoothed(
        vertices_mm=(laid.vertices - skin.shift) @ skin.turn,
        faces=mesh.faces,
        noise_mm=laid.left_mm,
        reading_sd_mm=laid.noise_mm * _readings_per_corner(edge_mm) ** 0.5,
        remarks=(Problem(what=what, cure=cure, where=Where(file=name), weight=Weight.WARNING),),
    )


def _readings_per_corner(edge_mm: float) -> float:
    """Return how many readings of sections share one corner, and err with it: Kish's design effect.

    A corner stands for √3/2 of its edge squared (L. Kish, Survey Sampling, 1965, 5.4, has the effect).
    """
    each = STANDARD_CUTS.along_mm * STANDARD_CUTS.across_mm
    return float(max(1.0, 0.5 * np.sqrt(3.0) * edge_mm**2 / each))


def _edge(vertices: FloatArray, faces: Faces, skin: Skin) -> float:
    """Return the median edge of the faces round the skin [mm]; zero for a cloud."""
    if not len(faces):
        return 0.0
    low, high = skin.vertices.min(axis=0), skin.vertices.max(axis=0)
    near = faces[((vertices > low) & (vertices < high)).all(axis=1)[faces[:, 0]]]
    return (
        float(np.median(np.linalg.norm(vertices[near[:, 0]] - vertices[near[:, 1]], axis=1)))
        if len(near)
        else 0.0
    )


def _corners_laid(vertices: FloatArray, faces: Faces, skin: Skin) -> LaidCorners | None:
    placed = vertices @ skin.turn.T + skin.shift
    own = skin.vertices @ skin.turn.T + skin.shift
    x = np.arange(own[:, 0].min(), own[:, 0].max(), 20.0)
    top = topline(own, x, HALF_WIDTH_MM)
    if top is None:
        return None
    axis = np.interp(x, x[::4], top[::4]) - AXIS_DEPTH_MM
    near = (placed[:, 0] > x[0]) & (placed[:, 0] < x[-1]) & (placed[:, 2] > axis.min() - HALF_WIDTH_MM)
    return lay_corners(placed, faces[near[faces].any(axis=1)], (x, axis), (float(x[0]), float(x[-1])))


def _skin(
    vertices: FloatArray,
    faces: Faces,
    marks: Mapping[ScanMark, FloatArray],
    up: FloatArray,
    forward: FloatArray,
) -> Skin | None:
    level = forward - up * float(forward @ up)
    level /= np.linalg.norm(level)
    turn = np.stack([level, np.cross(up, level), up])
    shoulder, last_rib = marks[ScanMark.SHOULDER], marks[ScanMark.LAST_RIB]
    length = float((turn @ (shoulder - last_rib))[0])
    # Marks may lie on the horse's side: the skin looks for the midline from between all that lie on top.
    on_top = [marks[mark] for mark in (ScanMark.WITHERS, ScanMark.LOWEST) if mark in marks]
    origin = np.mean(on_top or [shoulder, last_rib], axis=0)
    ahead = float((turn @ (shoulder - origin))[0]) + _AHEAD_MM
    behind = float((turn @ (last_rib - origin))[0]) - _BEHIND_MM
    if length <= 0.0 or ahead - behind > 3000.0:
        return None
    placed = (vertices - origin) @ turn.T
    near = (placed[:, 0] < ahead + 80.0) & (placed[:, 0] > behind - 80.0) & (np.abs(placed[:, 1]) < 700.0)
    near &= placed[:, 2] > -700.0
    rng = np.random.default_rng(_SEED)
    if len(faces):
        held = faces[near[faces].all(axis=1)]
        if len(held) == 0:
            return None
        points = even_points(vertices, held, _POINTS, rng)
    else:
        points = even_points(vertices[near], faces, _POINTS, rng)
    return lay_skin(points, turn, origin, (behind, ahead))
