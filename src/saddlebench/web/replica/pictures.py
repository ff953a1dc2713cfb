"""Small pictures of a rebuild inside its pages, with attributes and classes only."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import quoteattr

import numpy as np
from django.utils.safestring import SafeString

from saddlebench.engine.back.readings import BackReadings
from saddlebench.engine.frames import FloatArray

if TYPE_CHECKING:
    from saddlebench.engine.back.surface import EstimatedBack
    from saddlebench.engine.replica.settings import InstrumentSettings


def _drawn(box: tuple[float, float, float, float], words: str, parts: Iterable[str]) -> SafeString:
    view = " ".join(f"{one:g}" for one in box)
    # Everything between the tags is numbers and fixed words.
    return SafeString(
        f'<svg class="drawn" viewBox="{view}" role="img" aria-label={quoteattr(words)} '
        f'xmlns="http://www.w3.org/2000/svg">{"".join(parts)}</svg>'
    )  # fmt: skip


def _line(points: FloatArray, style: str) -> str:
    """Return a line through points (n, 2) float, picture's plane [mm]."""
    return f'<path class="{style}" d="M{"L".join(f"{x:.1f} {y:.1f}" for x, y in points)}"/>'


def station_picture(
    estimated: "EstimatedBack", settings: "InstrumentSettings", number: int, entered: BackReadings
) -> SafeString:
    """Return a station from behind: the back's outline, the points to set, and those set so far."""
    from saddlebench.engine.back.record import section_of  # noqa: PLC0415
    from saddlebench.engine.replica.curves import sections_of  # noqa: PLC0415
    from saddlebench.engine.replica.settings import outline_at  # noqa: PLC0415

    wanted = next(one for one in settings.stations if one.number == number)
    outline = outline_at(sections_of(estimated, 4), wanted.readings.distance_mm)
    flip = np.array([-1.0, -1.0])
    asked = section_of(settings.instrument, wanted.readings).points * flip
    line = outline * flip
    held = next((one for one in entered.stations if one.number == number), None)
    shown = section_of(settings.instrument, held).points * flip if held is not None else np.zeros((0, 2))
    low, high = line.min(axis=0) - np.array([20.0, 46.0]), line.max(axis=0) + np.array([20.0, 16.0])
    parts = [
        f'<path class="midline" d="M0 {low[1]:.1f}V{high[1]:.1f}"/>',
        f'<text class="side-word" x="{low[0] + 4:.0f}" y="{low[1] + 24:.0f}">NEAR</text>',
        f'<text class="side-word" x="{high[0] - 4:.0f}" y="{low[1] + 24:.0f}" text-anchor="end">OFF</text>',
        _line(line, "curve"),
        *(f'<circle class="asked" cx="{x:.1f}" cy="{y:.1f}" r="5"/>' for x, y in asked),
        *(f'<path class="shown" d="M{x - 5:.1f} {y:.1f}h10m-5 -5v10"/>' for x, y in shown),
    ]
    words = f"Station {number} from behind: {len(asked)} points to set, {len(shown)} set so far"
    box = (float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1]))
    return _drawn(box, words, parts)


def proof_picture(plan: dict[str, Any]) -> SafeString:
    """Return the places compared from above, head up, near side left; `plan` as the check sheet has it."""
    width, height = float(plan["width"]), float(plan["height"])
    parts = [
        f'<path class="midline" d="M{width / 2:g} 0V{height:g}"/>',
        f'<text class="small" x="{width / 2:g}" y="-2.5" text-anchor="middle">HEAD</text>',
        f'<text class="small" x="1" y="{height + 5:g}">NEAR</text>',
        f'<text class="small" x="{width - 1:g}" y="{height + 5:g}" text-anchor="end">OFF</text>',
    ]
    counts = {"within": 0, "proud": 0, "deep": 0}
    for dot in plan["dots"]:
        x, y, kind = float(dot["x"]), float(dot["y"]), str(dot["kind"])
        counts[kind] += 1
        sure = "sure" if dot["sure"] else "unsure"
        if kind == "within":
            parts.append(f'<circle class="within" cx="{x:.1f}" cy="{y:.1f}" r="0.9"/>')
            continue
        way = -1.0 if kind == "proud" else 1.0
        parts.append(
            f'<path class="{kind} {sure}" d="M{x - 1.5:.1f} {y - way:.1f}h3l-1.5 {2.4 * way:.1f}z"/>'
            f'<text class="small" x="{x:.1f}" y="{y + 4.6:.1f}" text-anchor="middle">{dot["off"]}</text>'
        )
    words = (
        f"The rebuild from above: {counts['within']} places within tolerance, {counts['proud']} too high, "
        f"{counts['deep']} too low"
    )
    return _drawn((-4.0, -7.0, width + 8.0, height + 14.0), words, parts)
