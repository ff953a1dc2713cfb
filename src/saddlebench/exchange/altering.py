"""An alteration as lines a saddler works from: zone by zone, in mm, with tolerance and how it is reached."""

from collections.abc import Iterator
from dataclasses import dataclass

from saddlebench.engine.alter import Alteration, FindingChange, ShimPlace, Turn
from saddlebench.engine.alter.bedding import BEDDED_TOLERANCE_MM, BENCH_TOLERANCE_MM, on_bench_mm
from saddlebench.engine.saddle.model import Zone
from saddlebench.engine.saddle.zones import Filling
from saddlebench.exchange.phrases import number_of, title_of
from saddlebench.exchange.readers import NO_BREAK

ZONE_WORDS = {Zone.FRONT: "front", Zone.WAIST: "waist", Zone.SEAT: "seat", Zone.REAR: "rear"}
YARD_MOST_MM = 10.0
"""More wool than this in one zone is a full reflock (common practice)."""
TURN_SYMBOLS = {Turn.BETTER: "▲", Turn.SAME: "=", Turn.WORSE: "▼", Turn.CANNOT_TELL: "?"}
"""Told apart by shape; the word always stands beside it."""

SHORT_OF_IT = (
    "A plan is a starting point for hands and eyes: regulating is part of every job, lumps are combed out "
    "whatever the plan says, and the saddle is looked at again on the horse before it is ridden."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkLine:
    """One thing to do in one place."""

    place: str
    """“near front, inner half”."""
    wanted_mm: float
    """On the horse, after bedding in."""
    bench_mm: float
    """On the bench."""
    tolerance_bench_mm: float
    tolerance_bedded_mm: float
    how: str


def side_word(*, on_left: bool) -> str:
    """Return near or off."""
    return "near" if on_left else "off"


def work_lines(alteration: Alteration) -> tuple[WorkLine, ...]:
    """Return what is done by zones, near before off, front to rear, then shims; `others_of` has the rest."""
    return (
        *_wool(alteration.fill_left, on_left=True),
        *_wool(alteration.fill_right, on_left=False),
        *_shims(alteration),
    )


def _wool(filling: Filling, *, on_left: bool) -> Iterator[WorkLine]:
    for zone in Zone:
        inner, outer = filling.inner_mm[zone], filling.outer_mm[zone]
        side = f"{side_word(on_left=on_left)} {ZONE_WORDS[zone]}"
        if inner == outer:
            parts = [(side, inner)]
        else:
            parts = [(f"{side}, inner half", inner), (f"{side}, outer half", outer)]
        for place, mm in parts:
            if mm:
                yield WorkLine(
                    place=place,
                    wanted_mm=mm,
                    bench_mm=round(on_bench_mm(mm)),
                    tolerance_bench_mm=BENCH_TOLERANCE_MM,
                    tolerance_bedded_mm=BEDDED_TOLERANCE_MM,
                    how=_how(zone, mm),
                )


def _how(zone: Zone, mm: float) -> str:
    if on_bench_mm(mm) > YARD_MOST_MM:
        return "full reflock"
    if mm < 0.0:
        return "take wool out"
    return "through the slits" if zone in (Zone.FRONT, Zone.REAR) else "panel off"


def _shims(alteration: Alteration) -> Iterator[WorkLine]:
    for shim in alteration.shims:
        removable = shim.place is ShimPlace.IN_PAD
        yield WorkLine(
            place=f"{side_word(on_left=shim.on_left)} {ZONE_WORDS[shim.zone]}, {shim.stuff} shim",
            wanted_mm=shim.thickness_mm,
            bench_mm=shim.thickness_mm,
            tolerance_bench_mm=1.0,
            tolerance_bedded_mm=1.0,
            how=f"{shim.place}; bevel its edges over 40 mm" + ("; comes out again" if removable else ""),
        )


def others_of(alteration: Alteration) -> tuple[str, ...]:
    """Return what is not done by zones, in words: arch, pad, straps."""
    told = []
    if alteration.arch_mm:
        way = "wider" if alteration.arch_mm > 0.0 else "narrower"
        told.append(f"front arch {abs(alteration.arch_mm):g} mm {way} between the point ends")
    if alteration.pad is not None:
        thickest = max(alteration.pad.thickness_mm)
        told.append(f"{alteration.pad.name}, {thickest:g} mm, beneath what lies there")
    if alteration.straps is not None:
        told.append(f"girth straps to use: {' and '.join(alteration.straps)}")
    return tuple(told)


def signed_mm(mm: float) -> str:
    """Return millimetres with their sign as people write it."""
    return f"{mm:+.0f}{NO_BREAK}mm".replace("-", "\u2212")


def needs_panel_off(alteration: Alteration) -> bool:
    """Tell whether waist or seat is reached, or wool is taken out, or a shim lies under the tree."""
    fills = (alteration.fill_left, alteration.fill_right)
    middle = any(mm for fill in fills for mm in (*fill.inner_mm[1:3], *fill.outer_mm[1:3]))
    taken = any(mm < 0.0 for fill in fills for mm in (*fill.inner_mm, *fill.outer_mm))
    under_tree = any(shim.place is ShimPlace.UNDER_TREE for shim in alteration.shims)
    return middle or taken or under_tree


def change_words(change: FindingChange) -> str:
    """Return one finding before and after in a sentence."""
    before, after = change.before, change.after
    return (
        f"{title_of(after)}: {before.as_computed}, {number_of(before.decided_by.measure)} → "
        f"{after.as_computed}, {number_of(after.decided_by.measure)}"
    )
