"""The work order as the saddler gets it: a sheet to work from, and one for the replica and the back-check."""

from pathlib import Path
from typing import Any

from saddlebench.engine.alter import ReplicaGap
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.exchange.altering import SHORT_OF_IT, ZONE_WORDS, signed_mm
from saddlebench.exchange.drawings import PAGE_WIDTH_MM, as_svg, underside
from saddlebench.exchange.drawings.ink import drawable
from saddlebench.exchange.records.order import ArchPart, OrderDocument, WorkPart
from saddlebench.exchange.whole_file import write_whole
from saddlebench.report.typeset import typeset

TEMPLATE = "work_order.typ"
PICTURE_SHARE = 0.62
"""Width of the underside's picture over the page's."""


def write_order_document(order: OrderDocument, saddle: SaddleModel, path: Path) -> None:
    """Write the work order as PDF; whole, or not at all."""
    write_whole(path, order_as_pdf(order, saddle))


def order_as_pdf(order: OrderDocument, saddle: SaddleModel) -> bytes:
    """Return the work order as PDF; equal orders give equal bytes."""
    picture = underside(saddle, order.alteration, width_mm=PICTURE_SHARE * PAGE_WIDTH_MM)
    contents = order_contents(order)
    contents["picture"] = {
        "svg": as_svg(picture),
        "alt": drawable(f"{picture.title}. {picture.description}"),
    }
    return typeset(TEMPLATE, contents)


def order_contents(order: OrderDocument) -> dict[str, Any]:
    """Return everything the sheet says, as plain data."""
    low, high = order.recheck_weeks
    return {
        "title": f"Work order {order.number}: {order.saddle.label}",
        "number": order.number,
        "saddle": order.saddle.label,
        "facts": [
            {"name": name, "value": value}
            for name, value in (
                ("for", order.horse),
                ("serial", order.saddle.serial or "not given"),
                ("seat", order.saddle.seat or "not given"),
                ("colour", order.saddle.colour or "not given"),
                ("photos", ", ".join(order.saddle.photos) or "none"),
                ("from", order.practice or "not given"),
                ("to", order.workshop or "not given"),
                ("written on", order.written_on.isoformat()),
                ("due on", order.due_on.isoformat() if order.due_on else "not agreed"),
                ("price limit", order.price_limit or "not agreed: ask before starting"),
                ("loan saddle", order.loan_saddle or "none"),
                ("state", order.state),
            )
        ],
        "unsafe": list(order.unsafe_first),
        "work": [_line(line) for line in order.work],
        "others": list(order.others),
        "arch": _arch(order.arch),
        "panel": "Panel off." if order.panel_off else "Panel stays on: through the slits.",
        "fill": order.fill_to_match,
        "leave": list(order.do_not_touch),
        "replica": _replica(order),
        "return_check": order.return_check[:1].upper() + order.return_check[1:],
        "recheck": f"{low} to {high} weeks after it is ridden again",
        "notes": order.notes,
        "regulating": SHORT_OF_IT,
        "cautions": list(order.cautions),
        "footer": f"saddlebench, work order {order.number}",
    }


def _line(line: WorkPart) -> dict[str, str]:
    return {
        "place": line.place,
        "found": line.found,
        "bench": f"{signed_mm(line.bench_mm)} ±{line.tolerance_bench_mm:g}",
        "wanted": f"{signed_mm(line.wanted_mm)} ±{line.tolerance_bedded_mm:g}",
        "how": line.how,
        "done": "" if line.done_mm is None else signed_mm(line.done_mm),
    }


def _arch(arch: ArchPart | None) -> str:
    if arch is None:
        return ""
    return (
        f"Front arch, between the insides of the points, {arch.at_depth_mm:.0f} mm below the top's inside: "
        f"found {arch.found_mm:.0f} mm at {arch.found_angle_deg:.0f}°, target {arch.target_mm:.0f} mm at "
        f"{arch.target_angle_deg:.0f}° (±2 mm). Both points alike. Measure again when it is done."
    )


def _replica(order: OrderDocument) -> dict[str, Any]:
    check = order.on_replica
    if check is None:
        why = order.no_replica or Undetermined("not asked for")
        return {"why_not": why.reason, "rows": [], "words": ""}
    rows = [
        {
            "place": ZONE_WORDS[zone],
            "near": _gap(next(g for g in check.gaps if g.on_left and g.zone is zone)),
            "off": _gap(next(g for g in check.gaps if not g.on_left and g.zone is zone)),
        }
        for zone in ZONE_WORDS
    ]
    rock = check.rock_mm
    rocks = f"the cantle rises {rock:.0f} mm" if isinstance(rock, float) else f"not told: {rock.reason}"
    return {
        "why_not": "",
        "rows": rows,
        "words": (
            f"Without pad and girth, {check.weight_kg:g} kg on the lowest point of the seat, gaps under the "
            f"middle of each panel ±2 mm. Weight off, 100 N (10 kg) pressed on the pommel: {rocks}."
        ),
    }


def _gap(gap: ReplicaGap) -> str:
    bears = f"bears on {100 * gap.bears_share:.0f} %"
    return f"{gap.widest_mm:.0f} mm at most; {bears}" if gap.widest_mm else f"no gap; {bears}"
