"""The work order as the saddler gets it: a sheet to work from, and one for the replica and the back-check."""

from pathlib import Path
from typing import Any

from saddlebench.engine.alter import ReplicaGap
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.exchange.altering import SHORT_OF_IT, ZONE_WORDS, signed_mm
from saddlebench.exchange.drawings import PAGE_WIDTH_MM, as_svg, underside
from saddlebench.exchange.drawings.ink import drawable
from saddlebench.exchange.readers import reader
from saddlebench.exchange.records.order import ArchPart, OrderDocument, WorkPart
from saddlebench.exchange.vocabulary import said
from saddlebench.exchange.whole_file import write_whole
from saddlebench.report.setting import Paper, region_of
from saddlebench.report.typeset import typeset_for_all

TEMPLATE = "work_order.typ"
PICTURE_SHARE = 0.62
"""Width of the underside's picture over the page's."""


def write_order_document(order: OrderDocument, saddle: SaddleModel, path: Path) -> None:
    """Write the work order as PDF; whole, or not at all."""
    write_whole(path, order_as_pdf(order, saddle))


def order_as_pdf(order: OrderDocument, saddle: SaddleModel, paper: Paper = Paper.A4) -> bytes:
    """Return the work order as PDF/UA-1, in its reader's language and lengths; equal orders, equal bytes."""
    picture = underside(saddle, order.alteration, width_mm=PICTURE_SHARE * PAGE_WIDTH_MM)
    contents = order_contents(order, paper)
    contents["picture"] = {
        "svg": as_svg(picture),
        "alt": drawable(f"{picture.title}. {picture.description}"),
    }
    return typeset_for_all(TEMPLATE, [contents], shared=False)


def order_contents(order: OrderDocument, paper: Paper = Paper.A4) -> dict[str, Any]:
    """Return everything the sheet says, as plain data; to be called while speaking to the reader."""
    low, high = order.recheck_weeks
    day = reader().day
    return {
        "title": f"{said('Work order')} {order.number}: {order.saddle.label}",
        "language": reader().language,
        "region": region_of(reader()),
        "paper": paper,
        "unit": reader().length_sign,
        "words": {name: said(name) for name in WORDS},
        "number": order.number,
        "saddle": order.saddle.label,
        "facts": [
            {"name": said(name), "value": value}
            for name, value in (
                ("for", order.horse),
                ("serial", order.saddle.serial or said("not given")),
                ("seat", order.saddle.seat or said("not given")),
                ("colour", order.saddle.colour or said("not given")),
                ("photos", ", ".join(order.saddle.photos) or said("none")),
                ("from practice", order.practice or said("not given")),
                ("to workshop", order.workshop or said("not given")),
                ("written on", day(order.written_on)),
                ("due on", day(order.due_on) if order.due_on else said("not agreed")),
                ("price limit", order.price_limit or said("not agreed: ask before starting")),
                ("loan saddle", order.loan_saddle or said("none")),
                ("state", said(order.state)),
            )
        ],
        "unsafe": list(order.unsafe_first),
        "work": [_line(line) for line in order.work],
        "others": [said(one) for one in order.others],
        "arch": said(_arch(order.arch)) if order.arch else "",
        "panel": said("Panel off." if order.panel_off else "Panel stays on: through the slits."),
        "fill": said(order.fill_to_match),
        "leave": list(order.do_not_touch),
        "replica": _replica(order),
        "return_check": said(_capital(order.return_check)),
        "recheck": said(f"{low} to {high} weeks after it is ridden again"),
        "notes": order.notes,
        "regulating": said(SHORT_OF_IT),
        "cautions": [said(one) for one in order.cautions],
        "footer": f"saddlebench, {said('work order')} {order.number}",
    }


_HARD = (
    "The replica is hard, the horse is not. A saddle that lies right on the horse shows gaps here: do not "
    "fill them."
)
_ANEW = (
    "Girthed and ridden, the four states are looked at anew; the fit check is made again with what was done."
)
WORDS = (
    *("Work order", "Unsafe: mend first. The saddle is not ridden until this is done.", "page", "of"),
    *("Unsafe things first:", "none were found by the fitter. Look again with the panel off."),
    *("What to do", "Nothing is to be altered.", "on the bench", "after bedding in", "found:", "done:"),
    *("Fill:", "Leave alone", "Everything that is not named here.", "When it comes back", "Looked at again"),
    *("On the hard replica", "Not stated:", "zone", "near", "off", "Back-check at refitting", "place"),
    *("asked on the bench", "done", "measured", "Cautions"),
    *(_HARD, _ANEW),
)
"""What the sheet says besides the order."""


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _line(line: WorkPart) -> dict[str, str]:
    return {
        "place": said(line.place),
        "found": line.found,
        "bench": f"{said(signed_mm(line.bench_mm))} ±{_plain(line.tolerance_bench_mm)}",
        "wanted": f"{said(signed_mm(line.wanted_mm))} ±{_plain(line.tolerance_bedded_mm)}",
        "how": said(line.how),
        "done": "" if line.done_mm is None else said(signed_mm(line.done_mm)),
    }


def _plain(mm: float) -> str:
    return reader().millimetres(f"{mm:g}")


def _arch(arch: ArchPart) -> str:
    return (
        f"Front arch, between the insides of the points, {arch.at_depth_mm:.0f} mm below the top's inside: "
        f"found {arch.found_mm:.0f} mm at {arch.found_angle_deg:.0f}°, target {arch.target_mm:.0f} mm at "
        f"{arch.target_angle_deg:.0f}° (±2 mm). Both points alike. Measure again when it is done."
    )


def _replica(order: OrderDocument) -> dict[str, Any]:
    check = order.on_replica
    if check is None:
        why = order.no_replica or Undetermined("not asked for")
        return {"why_not": said(why.reason), "rows": [], "words": ""}
    rows = [
        {
            "place": said(ZONE_WORDS[zone]),
            "near": _gap(next(g for g in check.gaps if g.on_left and g.zone is zone)),
            "off": _gap(next(g for g in check.gaps if not g.on_left and g.zone is zone)),
        }
        for zone in ZONE_WORDS
    ]
    rock = check.rock_mm
    rocks = f"the cantle rises {rock:.0f} mm" if isinstance(rock, float) else f"not told: {rock.reason}"
    without = (
        f"Without pad and girth, {check.weight_kg:g} kg on the lowest point of the seat, gaps under the "
        "middle of each panel ±2 mm."
    )
    pressed = f"Weight off, 100 N (10 kg) pressed on the pommel: {rocks}."
    return {"why_not": "", "rows": rows, "words": f"{said(without)} {said(pressed)}"}


def _gap(gap: ReplicaGap) -> str:
    bears = said(f"bears on {100 * gap.bears_share:.0f} %")
    return (
        f"{said(f'{gap.widest_mm:.0f} mm at most')}; {bears}"
        if gap.widest_mm
        else f"{said('no gap')}; {bears}"
    )
