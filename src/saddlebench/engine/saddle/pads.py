"""What lies between saddle and back: how thick it is under each bearing point, and over the spine."""

import numpy as np

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import bearing_length
from saddlebench.engine.saddle.materials import PadStuff
from saddlebench.engine.saddle.model import BearingSurface, Channel, PadCut, PadLayer
from saddlebench.engine.saddle.zones import ByZone, by_zone


def pad_layer(
    stuff: PadStuff, thickness_mm: ByZone, *, cut: PadCut = PadCut.FREE, name: str = ""
) -> PadLayer:
    """Return a layer whose stiffness follows from its mean thickness.

    Parameters
    ----------
    stuff : what it is made of
    thickness_mm : unpressed thickness by zone, front to rear; 0 where it does not reach
    cut : how it lies over the spine
    name : name, if not the stuff's own

    Raises
    ------
    ValueError
        If it is nowhere thicker than zero.
    """
    present = [value for value in thickness_mm if value > 0.0]
    if not present:
        msg = f"a pad must have some thickness, got {thickness_mm}"
        raise ValueError(msg)
    return PadLayer(
        name=name or stuff.name,
        thickness_mm=thickness_mm,
        material=stuff.layer(float(np.mean(present))),
        cut=cut,
    )


def pad_thickness(pads: tuple[PadLayer, ...], bearing: BearingSurface) -> FloatArray:
    """Return the unpressed thickness of all layers together under each bearing point, (n,) float [mm]."""
    behind, length = -bearing.points_saddle[:, 0], bearing_length(bearing)
    total = np.zeros(len(behind))
    for pad in pads:
        total += by_zone(pad.thickness_mm, behind, length)
    return total


def pad_over_spine(pads: tuple[PadLayer, ...], channel: Channel, bearing: BearingSurface) -> FloatArray:
    """Return the thickness of what is pulled down on the spine at the channel's places, (k,) float [mm].

    A pad cut free of the spine takes nothing of the channel's height.
    """
    total = np.zeros(len(channel.x_mm))
    for pad in pads:
        if pad.cut is PadCut.PULLED_DOWN:
            total += by_zone(pad.thickness_mm, -channel.x_mm, bearing_length(bearing))
    return total
