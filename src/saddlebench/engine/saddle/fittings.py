"""Seat, stirrup bars, girth straps and mass from the numbers a tape gives."""

from dataclasses import dataclass, field

import numpy as np

from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.model import Seat, StrapPair

_SEAT_PLACES = 61
_TURN_MM = 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatNumbers:
    """The seat along the midline. Distances are behind the front edge of the panels (or bars)."""

    size_in: float = 17.5
    """Seat size as sold [inches]; recorded, not computed with."""
    lowest_behind_mm: float = 225.0
    """Where the seat is lowest when it is level as designed."""
    above_roof_mm: float = 35.0
    """Height of the lowest point above the roof of the channel at the waist."""
    front_behind_mm: float = 45.0
    rear_behind_mm: float = 440.0
    pommel_rise_mm: float = 60.0
    """Rise from the lowest point to the front end of the seat."""
    cantle_rise_mm: float = 75.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StirrupNumbers:
    """The stirrup bars (or slots): where the leathers hang."""

    behind_mm: float = 95.0
    apart_mm: float = 200.0
    above_roof_mm: float = 5.0
    """Height above the roof of the channel at the waist."""
    off_further_back_mm: float = 0.0
    """How much further back the off side's bar is than the near side's."""
    off_higher_mm: float = 0.0
    off_further_out_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StrapNumbers:
    """One pair of girth straps, or rigging, by its anchors on the tree."""

    name: str
    behind_mm: float
    apart_mm: float = 160.0
    above_roof_mm: float = 10.0


USUAL_STRAPS = (
    StrapNumbers(name="front strap", behind_mm=165.0),
    StrapNumbers(name="rear strap", behind_mm=245.0),
)
POINT_STRAP = StrapNumbers(name="point strap", behind_mm=60.0, apart_mm=230.0, above_roof_mm=-60.0)
"""A strap at the tree's points: it draws the front arch down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MassNumbers:
    """Mass with leathers, irons and girth, and its centre."""

    mass_kg: float = 7.5
    behind_mm: float = 205.0
    above_roof_mm: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fittings:
    """What is fixed to the tree, whatever the family."""

    seat: SeatNumbers = field(default_factory=SeatNumbers)
    stirrups: StirrupNumbers = field(default_factory=StirrupNumbers)
    straps: tuple[StrapNumbers, ...] = USUAL_STRAPS
    mass: MassNumbers = field(default_factory=MassNumbers)


def seat(fittings: Fittings, roof_z_mm: float) -> Seat:
    """Return the seat; its profile is two parabolas about the lowest point, merged smoothly over 40 mm.

    Parameters
    ----------
    fittings : as measured
    roof_z_mm : height of the channel's roof at the waist, saddle frame [mm]
    """
    numbers, stirrups = fittings.seat, fittings.stirrups
    behind = np.linspace(numbers.front_behind_mm, numbers.rear_behind_mm, _SEAT_PLACES)
    forward = numbers.lowest_behind_mm - behind
    front = numbers.pommel_rise_mm / forward[0] ** 2
    rear = numbers.cantle_rise_mm / forward[-1] ** 2
    bend = 0.5 * (front + rear) + 0.5 * (front - rear) * np.tanh(forward / _TURN_MM)
    height = roof_z_mm + numbers.above_roof_mm + bend * forward**2
    half, up = 0.5 * stirrups.apart_mm, roof_z_mm + stirrups.above_roof_mm
    left = np.array([-stirrups.behind_mm, half, up])
    shift = [-stirrups.off_further_back_mm, -stirrups.off_further_out_mm, stirrups.off_higher_mm]
    return Seat(
        x_mm=read_only(-behind),
        z_mm=read_only(height),
        stirrup_bar_left=read_only(left),
        stirrup_bar_right=read_only(left * np.array([1.0, -1.0, 1.0]) + shift),
    )


def strap_pairs(numbers: tuple[StrapNumbers, ...], roof_z_mm: float) -> tuple[StrapPair, ...]:
    """Return the strap anchors in the saddle frame."""
    return tuple(
        StrapPair(
            name=one.name,
            left_saddle=read_only(
                np.array([-one.behind_mm, 0.5 * one.apart_mm, roof_z_mm + one.above_roof_mm])
            ),
            right_saddle=read_only(
                np.array([-one.behind_mm, -0.5 * one.apart_mm, roof_z_mm + one.above_roof_mm])
            ),
        )
        for one in numbers
    )


def centre_of_mass(numbers: MassNumbers, roof_z_mm: float) -> FloatArray:
    """Return the centre of mass, (3,) float, saddle frame [mm]."""
    return read_only(np.array([-numbers.behind_mm, 0.0, roof_z_mm + numbers.above_roof_mm]))
