"""Every paper of a rebuild, and the work order, in the language that is spoken; all names `NAMELESS`."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from functools import cache, partial

from saddlebench.engine.alter import Alteration, ReplicaCheck, ReplicaGap, ShimPlace
from saddlebench.engine.alter.alteration import Shim
from saddlebench.engine.back.readings import StationReadings
from saddlebench.engine.replica.proof import prove_rebuild
from saddlebench.engine.replica.settings import settings_for
from saddlebench.engine.replica.templates import Form, template_set
from saddlebench.engine.saddle.model import Zone
from saddlebench.engine.saddle.zones import Filling
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.records.order import ArchPart, OrderDocument, SaddlePart, order_parts
from saddlebench.exchange.sheets.layout import SheetKind, layout_of
from saddlebench.exchange.stock import StockItem, Whereabouts
from saddlebench.exchange.templates import (
    PAPERS,
    PrintScale,
    TemplateNames,
    print_scale_from,
    ticks_every_mm,
)
from saddlebench.report.replica.proof import ProofNames, proof_pdf
from saddlebench.report.replica.settings import settings_pdf
from saddlebench.report.replica.templates import template_pdf
from saddlebench.report.stock_label import label_pdf
from saddlebench.report.trace_sheet import trace_sheet_pdf
from saddlebench.report.work_order import order_as_pdf
from support.rebuilt import back_of, rebuilt
from support.reports import NAMELESS, fit_study

DAY = dt.date(2026, 5, 14)
WORK = Alteration(
    fill_left=Filling(inner_mm=(8.0, 0.0, -3.0, 0.0), outer_mm=(4.0, 0.0, -3.0, 12.0)),
    shims=(
        Shim(on_left=False, zone=Zone.FRONT, thickness_mm=6.0),
        Shim(on_left=False, zone=Zone.REAR, thickness_mm=4.0, stuff="gel", place=ShimPlace.IN_PAD),
    ),
    arch_mm=-5.0,
)
NAMES = TemplateNames(label=NAMELESS, measured_on=DAY)


@cache
def back() -> MeasuredBack:
    return measured(replace(back_of().record, label=NAMELESS))


def settings_paper(tool: str, coarse_mm: float = 2.0) -> bytes:
    settings = settings_for(back().estimated, replace(example_instrument(tool), name=NAMELESS))
    held = replace(settings, tolerance_mm=coarse_mm)
    return settings_pdf(held, back().estimated, NAMELESS, DAY)


def replica(raised_mm: float) -> MeasuredBack:
    """Return the back as another comb shows it, one station raised."""
    tool = example_instrument("comb-24x15-foot")
    readings = settings_for(back().estimated, tool).readings
    stations = tuple(
        replace(one, **{side: _raised(getattr(one, side), raised_mm) for side in ("left", "right")})
        if one.number == 4 and isinstance(one, StationReadings)
        else one
        for one in readings.stations
    )
    return rebuilt(replace(readings, stations=stations), tool)


def _raised(read: tuple[float | None, ...], mm: float) -> tuple[float | None, ...]:
    return tuple(None if one is None else one - mm for one in read)


def check_sheet(*, raised_mm: float) -> bytes:
    found = prove_rebuild(back().estimated, replica(raised_mm).estimated)
    names = ProofNames(
        original=NAMELESS, original_day=DAY, replica=NAMELESS, replica_day=DAY, instrument=NAMELESS
    )
    return proof_pdf(found, back().estimated, names)


def templates_paper(form: Form, scale: PrintScale) -> bytes:
    made = template_set(
        back().estimated, (0.0, 150.0), forms=(form,), thickness_mm=3.0, ticks_every_mm=ticks_every_mm()
    )
    return template_pdf(made, NAMES, PAPERS["a4"], scale)


def order(*, all_of_it: bool) -> bytes:
    work, others, panel_off = order_parts(WORK)
    gaps = tuple(
        ReplicaGap(on_left=on_left, zone=zone, widest_mm=3.0 * on_left, bears_share=0.4)
        for on_left in (True, False)
        for zone in Zone
    )
    held = OrderDocument(
        number=NAMELESS,
        written_on=DAY,
        due_on=DAY if all_of_it else None,
        horse=NAMELESS,
        saddle=SaddlePart(label=NAMELESS),
        panel_off=panel_off,
        work=work if all_of_it else (),
        others=others if all_of_it else (),
        unsafe_first=(NAMELESS,) if all_of_it else (),
        arch=ArchPart(
            at_depth_mm=50.0, found_mm=240.0, target_mm=235.0, found_angle_deg=84.0, target_angle_deg=83.0
        )
        if all_of_it
        else None,
        alteration=WORK,
        on_replica=ReplicaCheck(weight_kg=70.0, gaps=gaps, rock_mm=4.0) if all_of_it else None,
        inputs=fit_study().inputs,
        cautions=fit_study().cautions,
    )
    return order_as_pdf(held, fit_study().saddle)


def label() -> bytes:
    return label_pdf(
        StockItem(
            number=NAMELESS,
            label=NAMELESS,
            record_file="",
            where=Whereabouts.RACK,
            seat_in=17.5,
            flap=NAMELESS,
            flap_mm=380.0,
            price=1250.0,
            currency="EUR",
        )
    )


def trace_sheet(kind: SheetKind, paper: str) -> bytes:
    return trace_sheet_pdf(layout_of(kind, paper))


TRACE_SHEETS = {
    "a trace sheet of sections": (SheetKind.SECTIONS, "a4"),
    "a trace sheet of a topline": (SheetKind.TOPLINE, "letter"),
    "a trace sheet of a saddle": (SheetKind.SADDLE, "a3"),
}
UNDATED = ("a label", *TRACE_SHEETS)
"""To be written on, or stuck on: no day is printed."""
PAPERS_MADE: dict[str, Callable[[], bytes]] = {
    "settings of a chain": lambda: settings_paper("chain-12x30", 0.01),
    "settings of a comb": lambda: settings_paper("comb-24x15-foot"),
    "settings of a curve": lambda: settings_paper("curve-mm"),
    "a good rebuild": lambda: check_sheet(raised_mm=0.0),
    "a rebuild to move": lambda: check_sheet(raised_mm=9.0),
    "hollow templates, unchecked": lambda: templates_paper(Form.HOLLOW, PrintScale()),
    "full templates, checked": lambda: templates_paper(Form.FULL, print_scale_from(99.4, 100.2)),
    "a work order": lambda: order(all_of_it=True),
    "an empty work order": lambda: order(all_of_it=False),
    "a label": label,
    **{name: partial(trace_sheet, *given) for name, given in TRACE_SHEETS.items()},
}
