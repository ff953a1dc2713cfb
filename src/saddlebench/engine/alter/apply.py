"""The altered saddle: underside, tree points, channel, firmness; and the fit it stands in."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from saddlebench.engine.alter.alteration import Alteration, Shim
from saddlebench.engine.alter.fields import (
    NARROWS,
    POINT_ACROSS,
    Field,
    Shares,
    arched,
)
from saddlebench.engine.errors import input_problem
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.fittings import POINT_STRAP, strap_pairs
from saddlebench.engine.saddle.grid import LEFT, RIGHT, bearing_length, front_x, side_grid
from saddlebench.engine.saddle.model import BearingSurface, SaddleModel, StrapPair, TreePoint
from saddlebench.engine.saddle.panels import WAIST
from saddlebench.engine.saddle.zones import ByZone, Filling, by_zone, filling_height


def altered_problem(fit: FitProblem, alteration: Alteration) -> FitProblem:
    """Return the same fit with the saddle (and pads) altered.

    Raises
    ------
    InputProblemsError
        If the saddle has no strap of a name that is asked for.
    """
    pads = fit.pads if alteration.pad is None else (*fit.pads, alteration.pad)
    return replace(fit, saddle=altered(fit.saddle, alteration), pads=pads)


def altered(saddle: SaddleModel, alteration: Alteration) -> SaddleModel:
    """Return the saddle altered; rows and columns of its points stay.

    The underside moves along its normals; normals and areas are renewed from the rows and columns.

    Raises
    ------
    InputProblemsError
        If it has no strap of a name that is asked for.
    """
    if alteration.straps is not None:
        saddle = replace(saddle, straps=straps_named(saddle, alteration.straps))
    if alteration.arch_mm:
        saddle = arched(saddle, alteration.arch_mm)
    left, right = shim_filling(alteration.shims, on_left=True), shim_filling(alteration.shims, on_left=False)
    shares = Shares.of(saddle.bearing)
    wool = shares.height(alteration.fill_left, on_left=True)
    wool = wool + shares.height(alteration.fill_right, on_left=False)
    shims = shares.height(left, on_left=True) + shares.height(right, on_left=False)
    change = shares.wool(wool) + shares.shim(shims)
    if not np.any(change.moves):
        return saddle
    return replace(
        saddle,
        bearing=_moved(saddle.bearing, change),
        points=_covered(saddle, (alteration.fill_left, alteration.fill_right), (left, right)),
        channel=replace(
            saddle.channel,
            half_width_left_mm=_narrowed(saddle, saddle.channel.half_width_left_mm, alteration.fill_left),
            half_width_right_mm=_narrowed(saddle, saddle.channel.half_width_right_mm, alteration.fill_right),
        ),
    )


def shim_filling(shims: Sequence[Shim], *, on_left: bool) -> Filling:
    """Return the pressed thickness of one side's shims by zone."""
    by = [0.0, 0.0, 0.0, 0.0]
    for shim in shims:
        if shim.on_left == on_left:
            by[shim.zone] += shim.pressed_mm
    return Filling.even((by[0], by[1], by[2], by[3]))


def straps_named(saddle: SaddleModel, names: Sequence[str]) -> tuple[StrapPair, ...]:
    """Return strap pairs by name; the usual point strap is known even where it is not fitted yet.

    Raises
    ------
    InputProblemsError
        For a name that is not known.
    """
    known = {strap.name: strap for strap in saddle.straps}
    if POINT_STRAP.name not in known:
        channel = saddle.channel
        waist = -WAIST * bearing_length(saddle.bearing)
        roof = float(np.interp(waist, channel.x_mm[::-1], channel.roof_z_mm[::-1]))
        known[POINT_STRAP.name] = strap_pairs((POINT_STRAP,), roof)[0]
    missing = [name for name in names if name not in known]
    if missing:
        msg = f"the saddle has no girth strap called “{missing[0]}”"
        raise input_problem(msg, f"There are: {', '.join(known)}.")
    return tuple(known[name] for name in names)


def _moved(bearing: BearingSurface, change: Field) -> BearingSurface:
    points = bearing.points_saddle + change.moves
    before, after = _faces(bearing, bearing.points_saddle), _faces(bearing, points)
    size_before = np.linalg.norm(before, axis=1, keepdims=True)
    size_after = np.linalg.norm(after, axis=1, keepdims=True)
    # what the coarse rows and columns get wrong of a normal they get wrong before and after alike
    normals = bearing.normals_saddle + after / size_after - before / size_before
    return replace(
        bearing,
        points_saddle=read_only(points),
        normals_saddle=read_only(normals / np.linalg.norm(normals, axis=1, keepdims=True)),
        area_mm2=read_only(bearing.area_mm2 * (size_after / size_before)[:, 0]),
        firmness=read_only(bearing.firmness * np.exp(change.firmer)),
    )


def _faces(bearing: BearingSurface, points: FloatArray) -> FloatArray:
    """Return ∂S/∂row × ∂S/∂column (n, 3), saddle frame [mm²], by differences; the same way out everywhere."""
    out = np.zeros_like(points)
    for side in (LEFT, RIGHT):
        grid = side_grid(bearing, points, side)
        down, across = np.gradient(grid, axis=0), np.gradient(grid, axis=1)
        index = side_grid(bearing, np.arange(len(points)), side)
        out[index.ravel()] = side * np.cross(down, across).reshape(-1, 3)
    return out


def _covered(
    saddle: SaddleModel, fills: tuple[Filling, Filling], shims: tuple[Filling, Filling]
) -> tuple[TreePoint, TreePoint] | None:
    if saddle.points is None:
        return None
    length, at = bearing_length(saddle.bearing), np.array([POINT_ACROSS])
    start = front_x(saddle.bearing)
    left, right = (
        replace(
            point,
            cover_mm=point.cover_mm
            + sum(
                float(filling_height(one, start - point.end_saddle[:1], at, length)[0])
                for one in (fill, shim)
            ),
        )
        for point, fill, shim in zip(saddle.points, fills, shims, strict=True)
    )
    return left, right


def _narrowed(saddle: SaddleModel, half_mm: FloatArray, fill: Filling) -> FloatArray:
    inner: ByZone = fill.inner_mm
    behind = front_x(saddle.bearing) - saddle.channel.x_mm
    return read_only(half_mm - NARROWS * by_zone(inner, behind, bearing_length(saddle.bearing)))
