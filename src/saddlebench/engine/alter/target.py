"""What a plan aims at: how the load is to lie, and which side or hollow the policy spares."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.alter.policy import ROOM_SHARE, Aim, Place, Policy
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.lengthwise import smooth_step
from saddlebench.engine.saddle.model import BearingSurface, SaddleModel, Zone

HOLLOW_MM = 5.0
"""One side lying lower than the other by this much, over a zone, counts as a hollow (assumption)."""
ALIKE_MM = 2.0
"""Shoulders that differ by less are alike (assumption: no better is measured)."""
EDGE_TAPER_MM = 15.0
"""Towards the edges the load is to run out over this width; the edge itself is to bear half."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """How the load is to lie over the bearing points."""

    weight: FloatArray
    """(n,) float, saddle frame [1]: how much each point's misfit counts; sums to 1."""
    profile: FloatArray
    """(n,) float, saddle frame [1]: pressure aimed at over the even one."""


def target_of(bearing: BearingSurface, room_over: tuple[Place, ...]) -> Target:
    """Return the target: even under the tree's footprint, running out at the edges, less over hollows.

    The footprint is where the panel is firm: tails and front rolls without a tree above carry little.
    """
    foot = np.zeros(len(bearing.firmness))
    for side in (1, -1):
        for zone in Zone:
            # against its own zone: soft or hard fill is not to be mistaken for the tree's edge
            here = (bearing.side == side) & (bearing.zone == zone)
            if here.any():
                foot[here] = bearing.firmness[here] / np.quantile(bearing.firmness[here], 0.75)
    foot = np.clip(foot, 0.0, 1.0)
    taper = 0.5 + 0.5 * smooth_step(bearing.edge_mm / EDGE_TAPER_MM)
    profile = foot * taper
    for place in room_over:
        over = (bearing.zone == place.zone) & (bearing.side == (1 if place.on_left else -1))
        profile = np.where(over, ROOM_SHARE * profile, profile)
    weight = bearing.area_mm2 * foot
    return Target(weight=read_only(weight / weight.sum()), profile=read_only(profile))


def bigger_by_mm(surface: BackSurface, saddle: SaddleModel, points_back: FloatArray) -> FloatArray:
    """Return, by zone, how much further out the near side lies than the off side, (4,) float [mm].

    Compared are mirrored places under the panels, along the ray through each.

    Parameters
    ----------
    surface, saddle
    points_back : (n, 3) float, back frame [mm]: the bearing points where the saddle lies
    """
    bearing, grid = saddle.bearing, surface.grid
    s, phi, _ = grid.polar(points_back)
    near = surface.spline.radius(s, np.abs(phi))[:, 0]
    off = surface.spline.radius(s, -np.abs(phi))[:, 0]
    differs = near - off
    out = np.zeros(len(Zone))
    for zone in Zone:
        weight = bearing.area_mm2 * (bearing.zone == zone)
        out[zone] = float(weight @ differs / max(weight.sum(), 1e-9))
    return out


def smaller_is_left(bigger_mm: FloatArray) -> bool | None:
    """Return which shoulder is the smaller, from `bigger_by_mm` (4,) float, back frame [mm]; None: alike."""
    front = float(bigger_mm[Zone.FRONT])
    return None if abs(front) < ALIKE_MM else front < 0.0


def hollows(policy: Policy, bigger_mm: FloatArray) -> tuple[Place, ...]:
    """Return the places to leave room over: those named, or those where one side lies lower.

    Parameters
    ----------
    policy : Policy
    bigger_mm : (4,) float, back frame [mm], by zone, from `bigger_by_mm`
    """
    if policy.aim is not Aim.LEAVE_ROOM:
        return ()
    if policy.room_over:
        return policy.room_over
    return tuple(
        Place(on_left=bool(bigger_mm[zone] < 0.0), zone=zone)
        for zone in Zone
        if abs(bigger_mm[zone]) >= HOLLOW_MM
    )
