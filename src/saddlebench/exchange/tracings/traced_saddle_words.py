"""What tracings of a saddle say, in numbers and in words; every figure with how sure it is."""

import numpy as np

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.saddle.underside.across import SectionTold, TracedUnderside
from saddlebench.exchange.tracings.traced_saddle import TracedSaddle

NOT_KNOWN = (
    "Between the sections nothing is measured: a lump or a hollow there is not seen.",
    "Sections cannot tell whether a twist lies in the tree or in the flock, nor how firm the flock is.",
    "Tree, arch, depth of the channel and seat stay as measured by hand.",
)


def tracing_measures(traced: TracedSaddle) -> dict[str, object]:
    """Return what the tracings say in numbers, for machines and for a page."""
    underside = traced.underside
    twist = underside.twist
    return {
        "sections": [_section_measures(one) for one in underside.told],
        "twist_deg": round(float(np.degrees(twist.angle)), 2)
        if not isinstance(twist, Undetermined)
        else None,
        "twist_sd_deg": round(float(np.degrees(twist.sd)), 2)
        if not isinstance(twist, Undetermined)
        else None,
        "heights_measured": underside.heights_measured,
        "off_numbers_mm": round(underside.off_numbers_mm, 1),
        "narrowest_channel_mm": round(min(one.channel_mm for one in underside.told), 1),
    }


def _section_measures(one: SectionTold) -> dict[str, object]:
    out = one.near_stands_out_mm
    return {
        "behind_mm": one.behind_mm,
        "channel_mm": round(one.channel_mm, 1),
        "channel_sd_mm": round(one.channel_sd_mm, 1),
        "near_width_mm": round(one.near_width_mm, 1),
        "off_width_mm": round(one.off_width_mm, 1),
        "width_sd_mm": round(one.width_sd_mm, 1),
        "near_stands_out_mm": None if isinstance(out, Undetermined) else round(out, 1),
        "stands_out_sd_mm": None if isinstance(out, Undetermined) else round(one.stands_out_sd_mm, 1),
    }


def tracing_sentences(traced: TracedSaddle) -> list[str]:
    """Return what the tracings say in words; every figure with how sure it is, and what stays unknown."""
    told = traced.underside.told
    narrow = min(told, key=lambda one: one.channel_mm)
    widths = " / ".join(f"{one.channel_mm:.0f}" for one in told)
    places = " / ".join(f"{one.behind_mm:.0f}" for one in told)
    channel = (
        f"Channel {widths} mm wide (± {narrow.channel_sd_mm:.1f} mm) at {places} mm behind the front edge, "
        f"narrowest {narrow.channel_mm:.0f} mm at {narrow.behind_mm:.0f} mm."
    )
    sentences = [channel, _twist_words(traced.underside)]
    uneven = [one for one in told if one.is_uneven]
    sentences += [
        f"At {one.behind_mm:.0f} mm the {'near' if one.near_stands_out_mm > 0.0 else 'off'} panel stands out "
        f"{abs(one.near_stands_out_mm):.0f} mm (± {one.stands_out_sd_mm:.1f} mm) more than the other."
        for one in uneven
        if not isinstance(one.near_stands_out_mm, Undetermined)
    ]
    if not uneven and not isinstance(traced.underside.twist, Undetermined):
        worst = max(one.stands_out_sd_mm for one in told)
        sentences.append(
            f"In no section does one panel stand out more than the other beyond the error (± {worst:.1f} mm)."
        )
    sentences += NOT_KNOWN
    return sentences


def _twist_words(underside: TracedUnderside) -> str:
    twist = underside.twist
    if isinstance(twist, Undetermined):
        return "Neither twist nor which panel stands out more can be told: no rule’s lean was read."
    angle, sd = float(np.degrees(twist.angle)), float(np.degrees(twist.sd))
    if not twist.is_told:
        return f"No twist is told: {abs(angle):.1f}° ± {sd:.1f}°."
    side = "near" if angle > 0.0 else "off"
    return (
        f"The rear is turned by {abs(angle):.1f}° ± {sd:.1f}° against the front, {side} side up as it sits."
    )
