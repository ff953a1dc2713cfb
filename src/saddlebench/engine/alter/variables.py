"""What a plan may choose: fill by zone and half, shims, the arch; each with its allowed ranges and price."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from saddlebench.engine.alter.alteration import Alteration, Shim, ShimPlace
from saddlebench.engine.alter.bounded import Ranges
from saddlebench.engine.alter.fields import Field, Shares, arch_field
from saddlebench.engine.alter.policy import Aim, Policy
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.alterable import Alterable, ArchRange, FillRange, NotAlterable, Shims
from saddlebench.engine.saddle.materials import FELT_PANEL, FOAM
from saddlebench.engine.saddle.model import Family, SaddleModel, Zone
from saddlebench.engine.saddle.zones import Filling

TAKING_OUT = 1.5
"""Taking wool out is harder than putting it in (common practice)."""
PANEL_OFF = 1.4
"""Waist and seat are reached with the panel off only (common practice)."""
OF_THE_ARCH = 1.0
OF_A_SHIM = 0.7


class Kind(StrEnum):
    """What a variable changes."""

    WOOL = "wool"
    SHIM = "shim"
    ARCH = "front arch"


class Half(StrEnum):
    """Which part of a panel's width."""

    BOTH = ""
    INNER = "inner half"
    OUTER = "outer half"


@dataclass(frozen=True, slots=True, kw_only=True)
class Variable:
    """One number that a plan may choose [mm]."""

    kind: Kind
    on_left: bool = True
    zone: Zone = Zone.FRONT
    half: Half = Half.BOTH
    ranges: Ranges
    """Thickness or millimetres moved; 0 is always among them."""
    price: float
    """Of one mm, over that of wool put in at the front."""
    place: ShimPlace = ShimPlace.UNDER_TREE
    stuff: str = "felt"

    @property
    def least(self) -> float:
        """The lowest allowed value [mm]."""
        return self.ranges[0][0]

    @property
    def most(self) -> float:
        """The highest allowed value [mm]."""
        return self.ranges[-1][1]

    def field(self, saddle: SaddleModel, shares: Shares) -> Field:
        """Return what 1 mm of it does."""
        if self.kind is Kind.ARCH:
            return arch_field(saddle)
        if self.kind is Kind.WOOL:
            return shares.wool(shares.height(self._filling(1.0), on_left=self.on_left))
        pressed = self.shim(1.0).pressed_mm
        return shares.shim(shares.height(self._filling(pressed), on_left=self.on_left))

    def shim(self, thickness_mm: float) -> Shim:
        """Return the shim of a thickness."""
        return Shim(
            on_left=self.on_left,
            zone=self.zone,
            thickness_mm=thickness_mm,
            stuff=self.stuff,
            place=self.place,
        )

    def _filling(self, mm: float) -> Filling:
        by = [0.0, 0.0, 0.0, 0.0]
        by[self.zone] = mm
        values = (by[0], by[1], by[2], by[3])
        none = (0.0, 0.0, 0.0, 0.0)
        return Filling(
            inner_mm=none if self.half is Half.OUTER else values,
            outer_mm=none if self.half is Half.INNER else values,
        )

    def words(self) -> str:
        """Say which part of the saddle it is."""
        if self.kind is Kind.ARCH:
            return "the front arch"
        side = "near" if self.on_left else "off"
        where = f"{side} {self.zone.name.lower()}" + (f", {self.half}" if self.half else "")
        return where if self.kind is Kind.WOOL else f"{where}, shim {self.place}"


def variables_of(
    saddle: SaddleModel, allowed: Alterable, policy: Policy, *, smaller_is_left: bool | None
) -> tuple[Variable, ...]:
    """Return what a plan may choose on this saddle.

    Parameters
    ----------
    saddle, allowed, policy
    smaller_is_left : which shoulder is the smaller, for `Aim.BIGGER_SHOULDER`; None where they are alike
    """
    small = smaller_is_left if policy.aim is Aim.BIGGER_SHOULDER else None
    return (
        *_wool(allowed.fill_left, on_left=True, but_front=small is True),
        *_wool(allowed.fill_right, on_left=False, but_front=small is False),
        *_shims(saddle, allowed, policy, smaller_is_left=small),
        *_arch(allowed.arch, policy),
    )


def _wool(fill: FillRange | NotAlterable, *, on_left: bool, but_front: bool) -> Iterator[Variable]:
    if isinstance(fill, NotAlterable):
        return
    for zone in Zone:
        if but_front and zone is Zone.FRONT:
            continue
        halves = (Half.INNER, Half.OUTER) if fill.halves_apart[zone] else (Half.BOTH,)
        inside = PANEL_OFF if zone in (Zone.WAIST, Zone.SEAT) else 1.0
        for half in halves:
            yield Variable(
                kind=Kind.WOOL,
                on_left=on_left,
                zone=zone,
                half=half,
                ranges=_workable(fill.take_mm[zone], fill.add_mm[zone], fill.step_mm),
                price=inside / len(halves),
            )


def _workable(take_mm: float, add_mm: float, step_mm: float) -> Ranges:
    ranges: list[tuple[float, float]] = []
    if take_mm >= step_mm:
        ranges.append((-take_mm, -step_mm))
    ranges.append((0.0, 0.0))
    if add_mm >= step_mm:
        ranges.append((step_mm, add_mm))
    return tuple(ranges)


def _shims(
    saddle: SaddleModel, allowed: Alterable, policy: Policy, *, smaller_is_left: bool | None
) -> Iterator[Variable]:
    shims = allowed.shims
    if isinstance(shims, NotAlterable) or not policy.shims:
        return
    is_hard = saddle.family is Family.BARS
    if smaller_is_left is not None:
        for zone in (Zone.FRONT, Zone.WAIST):
            yield _shim(shims, on_left=smaller_is_left, zone=zone, place=ShimPlace.IN_PAD)
    elif is_hard or saddle.panel.name in (FOAM.name, FELT_PANEL.name):
        place = ShimPlace.IN_PAD if is_hard else ShimPlace.UNDER_TREE
        for on_left in (True, False):
            for zone in Zone:
                yield _shim(shims, on_left=on_left, zone=zone, place=place)


def _shim(shims: Shims, *, on_left: bool, zone: Zone, place: ShimPlace) -> Variable:
    sizes = [one for one in sorted(shims.thicknesses_mm) if one <= shims.thickest_mm]
    return Variable(
        kind=Kind.SHIM,
        on_left=on_left,
        zone=zone,
        ranges=((0.0, 0.0), *((one, one) for one in sizes)),
        price=OF_A_SHIM,
        place=place,
    )


def _arch(arch: ArchRange | NotAlterable, policy: Policy) -> Iterator[Variable]:
    if isinstance(arch, NotAlterable) or not policy.arch:
        return
    steps = [
        k * arch.step_mm
        for k in range(-int(arch.narrower_mm / arch.step_mm), int(arch.wider_mm / arch.step_mm) + 1)
    ]
    yield Variable(kind=Kind.ARCH, ranges=tuple((one, one) for one in steps), price=OF_THE_ARCH)


def alteration_of(variables: Sequence[Variable], x: FloatArray) -> Alteration:
    """Return the alteration that values x (k,) float, saddle frame [mm] of the variables stand for."""
    inner = {True: [0.0] * 4, False: [0.0] * 4}
    outer = {True: [0.0] * 4, False: [0.0] * 4}
    shims: list[Shim] = []
    arch = 0.0
    for variable, value in zip(variables, x, strict=True):
        mm = float(value)
        if variable.kind is Kind.ARCH:
            arch += mm
        elif variable.kind is Kind.SHIM:
            if mm > 0.0:
                shims.append(variable.shim(mm))
        else:
            if variable.half is not Half.OUTER:
                inner[variable.on_left][variable.zone] += mm
            if variable.half is not Half.INNER:
                outer[variable.on_left][variable.zone] += mm
    return Alteration(
        fill_left=_filling(inner[True], outer[True]),
        fill_right=_filling(inner[False], outer[False]),
        shims=tuple(shims),
        arch_mm=arch,
    )


def _filling(inner: Sequence[float], outer: Sequence[float]) -> Filling:
    return Filling(
        inner_mm=(inner[0], inner[1], inner[2], inner[3]), outer_mm=(outer[0], outer[1], outer[2], outer[3])
    )


def fields_of(variables: Sequence[Variable], saddle: SaddleModel) -> tuple[FloatArray, FloatArray]:
    """Return moves (n, k, 3), saddle frame [1], and firmness (n, k) [1/mm], of 1 mm of each variable."""
    n = len(saddle.bearing.area_mm2)
    if not variables:
        return np.zeros((n, 0, 3)), np.zeros((n, 0))
    shares = Shares.of(saddle.bearing)
    fields = [variable.field(saddle, shares) for variable in variables]
    return np.stack([one.moves for one in fields], axis=1), np.stack([one.firmer for one in fields], axis=1)
