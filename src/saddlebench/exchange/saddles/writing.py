"""A saddle record as the object a saddle file holds: JSON-ready, lengths in mm."""

from math import isinf
from typing import Any

from saddlebench.engine.saddle.alterable import (
    ARCHES,
    COMMON_PRACTICE,
    ArchRange,
    FillRange,
    NotAlterable,
    PadChoice,
    usual_alterations,
)
from saddlebench.engine.saddle.bars import BarsNumbers
from saddlebench.engine.saddle.cut_back import CutBackNumbers
from saddlebench.engine.saddle.fittings import Fittings
from saddlebench.engine.saddle.materials import FILLS, Material
from saddlebench.engine.saddle.model import PadLayer
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.panels import Lump, PanelNumbers, TreeNumbers
from saddlebench.engine.saddle.record import SaddleRecord, UndersideMesh
from saddlebench.engine.saddle.side_saddle import SideNumbers, SideSaddleNumbers
from saddlebench.engine.saddle.unmodelled import FlexibleTreeNumbers, TreelessNumbers
from saddlebench.engine.saddle.zones import Filling
from saddlebench.exchange.saddles.quantities import without_unit

Table = dict[str, Any]
_THREE, _TWO, _BAR = ("front", "waist", "rear"), ("waist", "rear"), ("front", "middle", "rear")
_ENDS, _ZONES = ("front", "rear"), ("front", "waist", "seat", "rear")


def saddle_document(record: SaddleRecord) -> Table:
    """Return the object that `saddle_from_document` reads back as the same record.

    Parameters
    ----------
    record : any saddle

    Returns
    -------
    Tables, lists, numbers and text only
    """
    document: Table = {
        "family": record.family.value,
        "label": record.label,
        "lengths_in": "mm",
        "serial": record.serial,
        "notes": record.notes,
        "pads": [_pad(pad) for pad in record.pads],
        "alterable": _alterable(record),
    }
    match record.numbers:
        case PanelledNumbers():
            document |= _panelled(record.numbers)
        case CutBackNumbers():
            document |= {**_panelled(record.numbers.base), "cut": _flat(record.numbers.cut)}
        case BarsNumbers():
            document |= _bars(record.numbers)
        case SideSaddleNumbers():
            document |= _side_saddle(record.numbers)
        case TreelessNumbers() | FlexibleTreeNumbers():
            document |= _not_rigid(record.numbers)
    if record.underside is not None:
        document["underside"] = _underside(record)
    return _without(document, record.assumed)


def _without(document: Table, assumed: tuple[str, ...]) -> Table:
    """Leave out what was not stated, so that it is still known to be assumed when read back."""
    for path in assumed:
        *tables, key = path.split(".")
        held: Any = document
        for table in tables:
            held = held.get(table, {}) if isinstance(held, dict) else {}
        if isinstance(held, dict):
            held.pop(key, None)
    return document


def _flat(numbers: object, but: tuple[str, ...] = (), **several: tuple[str, ...]) -> Table:
    """Return a description's own numbers by the file's keys; `several` names a tuple's places."""
    out: Table = {}
    for name in type(numbers).__slots__:  # type: ignore[attr-defined]
        value = getattr(numbers, name)
        if name not in but:
            places = several.get(name)
            out[without_unit(name)] = value if places is None else dict(zip(places, value, strict=True))
    return out


def _panelled(numbers: PanelledNumbers) -> Table:
    return {
        "tree": _tree(numbers.tree),
        "panel": _panel(numbers.panel),
        **_fitted(numbers.fittings),
        "off_side": _flat(numbers.off_side),
        "filling": {"near": _filling(numbers.filling_left), "off": _filling(numbers.filling_right)},
        "lumps": [_lump(lump) for lump in numbers.lumps],
    }


def _tree(tree: TreeNumbers) -> Table:
    return {**_flat(tree, but=("footprint",)), "footprint": _flat(tree.footprint)}


def _panel(panel: PanelNumbers) -> Table:
    table = _flat(
        panel,
        but=("fill",),
        channel_mm=_THREE,
        channel_depth_mm=_TWO,
        width_mm=_THREE,
        angle_deg=_TWO,
        firmness=_ZONES,
        thickness_mm=_ZONES,
    )
    names = [name for name, fill in FILLS.items() if fill == panel.fill]
    return {**table, "fill": names[0] if names else _material(panel.fill)}


def _material(material: Material) -> Table:
    table: Table = {
        "name": material.name,
        "stiffness_kpa_per_mm": material.stiffness_kpa_mm,
        "ln_sd": material.ln_sd,
        "source": material.source,
    }
    return table if isinf(material.hardening_mm) else {**table, "hardening_mm": material.hardening_mm}


def _filling(filling: Filling) -> Table:
    return _flat(filling, inner_mm=_ZONES, outer_mm=_ZONES)


def _lump(lump: Lump) -> Table:
    return {"side": "near" if lump.on_left else "off", **_flat(lump, but=("on_left",))}


def _fitted(fittings: Fittings) -> Table:
    return {
        "seat": _flat(fittings.seat),
        "stirrups": _flat(fittings.stirrups),
        "straps": [_flat(strap) for strap in fittings.straps],
        "mass": _flat(fittings.mass),
    }


def _bars(numbers: BarsNumbers) -> Table:
    bar = _flat(
        numbers.bar,
        but=("lining",),
        width_mm=_BAR,
        spread_mm=_BAR,
        angle_deg=_BAR,
        rocker_mm=_ENDS,
        flare_mm=_ENDS,
    )
    return {
        "bar": {**bar, "lining": _material(numbers.bar.lining)},
        "fork": _flat(numbers.fork, roof_mm=_TWO),
        "off_bar": _flat(numbers.off_bar),
        "skirts": dict(zip(_ENDS, numbers.skirts_mm, strict=True)),
        **_fitted(numbers.fittings),
    }


def _side_saddle(numbers: SideSaddleNumbers) -> Table:
    tables = ("label", "near", "off", "footprint", "balance_strap", "fittings")
    strap = numbers.balance_strap
    return {
        **_flat(numbers, but=tables),
        "near": _side(numbers.near),
        "off": _side(numbers.off),
        "footprint": _flat(numbers.footprint),
        "balance_strap": "none" if strap is None else _flat(strap),
        **_fitted(numbers.fittings),
    }


def _side(side: SideNumbers) -> Table:
    return {
        **_flat(side, but=("panel", "filling")),
        "panel": _panel(side.panel),
        "filling": _filling(side.filling),
    }


def _not_rigid(numbers: TreelessNumbers | FlexibleTreeNumbers) -> Table:
    table = {
        **_flat(numbers, but=("label", "seat", "inserts", "girth_straps")),
        "seat": _flat(numbers.seat),
    }
    if isinstance(numbers, TreelessNumbers):
        table["inserts"] = [_flat(one) for one in numbers.inserts]
        table["straps"] = [_flat(one) for one in numbers.girth_straps]
    return table


def _pad(pad: PadLayer) -> Table:
    return {
        "made_of": _material(pad.material),
        "name": pad.name,
        "thickness": dict(zip(_ZONES, pad.thickness_mm, strict=True)),
        "cut": pad.cut.value,
    }


def _alterable(record: SaddleRecord) -> Table:
    held, usual = record.alterable, usual_alterations(record.numbers)
    parts = (held.fill_left, held.fill_right, held.arch, held.shims, held.straps, held.pad)
    if all(isinstance(part, NotAlterable) for part in parts) and len(held.reasons) == 1:
        return {"nothing_because": held.reasons[0]}
    table: Table = {}
    words = [word for word, arch in ARCHES.items() if arch == held.arch]
    if words:
        table["arch"] = words[0]
    elif isinstance(held.arch, ArchRange):
        table["arch"] = _flat(held.arch, but=("source",))
    for key, fill in (("fill_near", held.fill_left), ("fill_off", held.fill_right)):
        if isinstance(fill, FillRange) and fill.source != COMMON_PRACTICE:
            table[key] = {
                "add": dict(zip(_ZONES, fill.add_mm, strict=True)),
                "take": dict(zip(_ZONES, fill.take_mm, strict=True)),
            }
    if isinstance(held.pad, PadChoice) and held.pad != usual.pad:
        table["thickest_pad"] = held.pad.thickest_mm
    return table


def _underside(record: SaddleRecord) -> Table:
    if isinstance(record.underside, UndersideMesh):
        mesh = record.underside
        return {
            "mesh": {
                "unit": mesh.unit.value,
                "vertices": mesh.vertices_saddle.tolist(),
                "faces": mesh.faces.tolist(),
            }
        }
    return {
        "sections": [
            {"behind": one.behind_mm, "near": one.left.tolist(), "off": one.right.tolist()}
            for one in record.underside or ()
        ]
    }
