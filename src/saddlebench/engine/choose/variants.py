"""The ways one saddle can be offered: as it stands, or with its arch set as far as its record allows."""

from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.choose.candidates import Candidate
from saddlebench.engine.saddle.alterable import ArchRange
from saddlebench.engine.saddle.model import PadLayer
from saddlebench.engine.saddle.numbers import CutBackNumbers, PanelledNumbers, RigidNumbers
from saddlebench.engine.saddle.record import SaddleRecord

TRIED_STEP_MM = 15.0
"""Arches are tried in steps no finer than this: no setting is then further than 7.5 mm from one that is
tried, and 10 mm off is still fine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One saddle in one setting of its arch."""

    candidate: Candidate
    arch_by_mm: float
    """Set wider by so much; below 0: narrower; 0: as it stands."""
    shape: int
    """Number of its shape among those that are settled; saddles of one shape share it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One geometry with its pads, settled once however many saddles have it."""

    record: SaddleRecord
    """Of the first saddle that has it, with the arch as tried; its label means nothing."""
    pads: tuple[PadLayer, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sorted:
    """All variants of a stock, and the shapes among them."""

    variants: tuple[Variant, ...]
    shapes: tuple[Shape, ...]


def variants_of(
    candidates: Sequence[Candidate],
    pads: tuple[PadLayer, ...] | None,
    may_be: Callable[[SaddleRecord, tuple[PadLayer, ...]], bool],
) -> Sorted:
    """Return every way that saddles can be offered, and the shapes that have to be settled.

    Saddles of one model range in one size have the same numbers: they are settled once. Only saddles whose
    numbers, underside and pads are equal in every digit share.

    Parameters
    ----------
    candidates : the saddles
    pads : under every saddle; None: those of each saddle's record
    may_be : whether a saddle, with its arch as set, is worth settling at all
    """
    numbers_of: dict[Hashable, int] = {}
    shapes: list[Shape] = []
    variants: list[Variant] = []
    for candidate in candidates:
        under = candidate.record.pads if pads is None else pads
        for by_mm, record in _settings(candidate.record):
            if not may_be(record, under):
                continue
            key = _key(record, under)
            if key not in numbers_of:
                numbers_of[key] = len(shapes)
                shapes.append(Shape(record=record, pads=under))
            variants.append(Variant(candidate=candidate, arch_by_mm=by_mm, shape=numbers_of[key]))
    return Sorted(variants=tuple(variants), shapes=tuple(shapes))


def _settings(record: SaddleRecord) -> Iterator[tuple[float, SaddleRecord]]:
    yield 0.0, record
    arch = record.alterable.arch
    if not isinstance(arch, ArchRange) or record.underside is not None:
        return
    if not isinstance(record.numbers, PanelledNumbers | CutBackNumbers):
        return
    for sign, reach in ((-1.0, arch.narrower_mm), (1.0, arch.wider_mm)):
        for by_mm in _steps(reach, arch.step_mm):
            yield sign * by_mm, replace(record, numbers=with_arch(record.numbers, sign * by_mm))


def _steps(reach_mm: float, step_mm: float) -> list[float]:
    """Return the settings tried up to a reach: workable steps, none finer than needed, and the last one."""
    coarser = step_mm * max(1.0, np.ceil(TRIED_STEP_MM / step_mm))
    last = step_mm * int(reach_mm / step_mm + 1e-9)
    steps = [coarser * k for k in range(1, int(reach_mm / coarser + 1e-9) + 1)]
    return steps if not last or last in steps else [*steps, last]


def with_arch(numbers: PanelledNumbers | CutBackNumbers, by_mm: float) -> PanelledNumbers | CutBackNumbers:
    """Return the numbers with the arch wider at the point ends; top, depth and angle stay."""
    if isinstance(numbers, CutBackNumbers):
        base = with_arch(numbers.base, by_mm)
        return replace(numbers, base=base) if isinstance(base, PanelledNumbers) else numbers
    return replace(numbers, tree=replace(numbers.tree, width_mm=numbers.tree.width_mm + by_mm))


def _key(record: SaddleRecord, pads: tuple[PadLayer, ...]) -> Hashable:
    measured = None if record.underside is None else id(record.underside)
    numbers = record.numbers
    return (unnamed(numbers) if isinstance(numbers, RigidNumbers) else numbers, measured, pads)


def unnamed(numbers: RigidNumbers) -> RigidNumbers:
    """Return numbers without the saddle's name."""
    if isinstance(numbers, CutBackNumbers):
        return replace(numbers, base=replace(numbers.base, label=""))
    return replace(numbers, label="")
