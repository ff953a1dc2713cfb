"""An instrument drawn to scale from its description, as it lies on an ordinary back."""

from itertools import pairwise

import numpy as np
from django.utils.safestring import SafeString

from saddlebench.engine.back.chain import arm_points
from saddlebench.engine.back.instruments import (
    ChainArm,
    Instrument,
    JointedChain,
    PinComb,
    TapeAndHand,
    TracedCurve,
)
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE
from saddlebench.web.capture.pictures import picture, said

_BEND_DEG = 85.0
"""How far round an arm is bent in the picture, in all."""
_CURVE_MM = 300.0


def instrument_drawing(instrument: Instrument) -> SafeString:
    """Return the instrument to scale, with a bar of 100 mm."""
    match instrument:
        case JointedChain():
            return _chain(instrument)
        case PinComb():
            return _comb(instrument)
        case TracedCurve():
            return _curve(instrument)
        case TapeAndHand():
            return _tape(instrument)
        case _:
            return SafeString("")


def _bar(left: float, y: float) -> list[str]:
    return [
        f'<path class="bar" d="M{left:.1f} {y:.1f}h100m0 -6v12m-100 0v-12"/>',
        said(left + 50, y - 10, "100 mm", "small"),
    ]


def _arm(arm: ChainArm) -> tuple[FloatArray, FloatArray]:
    """Return joints and pads of an arm bent evenly, (k + 1, 2) and (k, 2), out and down [mm]."""
    n = arm.n_links
    angles = np.full(n, _BEND_DEG * DEGREE / n)
    pads, _ = arm_points(arm, angles)
    below = np.cumsum(angles)
    steps = np.array(arm.link_mm)[:, None] * np.stack([np.cos(below), -np.sin(below)], axis=1)
    start = np.array([[arm.first_joint_out_mm, arm.first_joint_up_mm]])
    joints = np.concatenate([start, start + np.cumsum(steps, axis=0)])
    return joints * (1.0, -1.0), pads * (1.0, -1.0)


def _chain(chain: JointedChain) -> SafeString:
    parts: list[str] = []
    reach, low, high = 60.0, 40.0, -30.0
    for arm, sign, words in ((chain.left, -1.0, "NEAR"), (chain.right, 1.0, "OFF")):
        joints, pads = _arm(arm)
        joints, pads = joints * (sign, 1.0), pads * (sign, 1.0)
        for one, other in pairwise(joints):
            parts.append(
                f'<path class="curve" d="M{one[0]:.1f} {one[1]:.1f}L{other[0]:.1f} {other[1]:.1f}"/>'
            )
        for joint, pad in zip(joints, pads, strict=False):
            parts.append(f'<circle cx="{joint[0]:.1f}" cy="{joint[1]:.1f}" r="4.5" class="point"/>')
            parts.append(f'<circle cx="{pad[0]:.1f}" cy="{pad[1]:.1f}" r="2.5" class="touch"/>')
        for j in range(0, arm.n_links, max(1, arm.n_links // 6)):
            x, y = joints[j]
            parts.append(said(x + sign * 14, y - 10, str(j + 1), "small"))
        reach = max(reach, float(np.abs(joints[:, 0]).max()) + 40)
        low, high = max(low, float(joints[:, 1].max()) + 40), min(high, float(joints[:, 1].min()) - 40)
        parts.append(said(sign * (reach - 34), high + 24, words, "side-word"))
    parts += [f'<path class="midline" d="M0 {high:.1f}V{low:.1f}"/>', *_bar(-50, low - 12)]
    words = f"{chain.name}, to scale: {chain.left.n_links} links near, {chain.right.n_links} off"
    if chain.topline is not None:
        along, length = _along_topline(chain.topline.arm, low + 46)
        parts += along
        reach, low = max(reach, length / 2 + 40), low + 90
        words += f", {chain.topline.arm.n_links} along the topline"
    return picture((-reach, high, 2 * reach, low - high), words, parts, "instrument-picture")


def _along_topline(arm: ChainArm, y: float) -> tuple[list[str], float]:
    """Return the chain along the topline laid out straight from its start mark, and its length."""
    places = arm.first_joint_out_mm + np.concatenate([[0.0], np.cumsum(arm.link_mm)])
    length = float(places[-1])
    x = places - length / 2
    parts = [f'<path class="curve" d="M{x[0]:.1f} {y:.1f}H{x[-1]:.1f}"/>']
    parts += [f'<circle cx="{one:.1f}" cy="{y:.1f}" r="4.5" class="point"/>' for one in x]
    pads = x[:-1] + np.array(arm.pad_along_mm)
    below = y + np.array(arm.pad_below_mm)
    parts += [
        f'<circle cx="{a:.1f}" cy="{b:.1f}" r="2.5" class="touch"/>' for a, b in zip(pads, below, strict=True)
    ]
    return [*parts, said(0, y - 16, "TOPLINE, from the start mark back", "small")], length


def _comb(comb: PinComb) -> SafeString:
    pins = np.arange(1, comb.n_pins + 1)
    across = -np.array([comb.across_mm(float(pin)) for pin in pins])
    half = max(float(np.abs(across).max()), 1.0)
    depth = 0.62 * half * (across / half) ** 2
    bar = -(comb.offset_mm or 60.0)
    parts = [
        f'<path class="frame" d="M{across[0]:.1f} {bar:.1f}H{across[-1]:.1f}"/>',
        f'<path class="midline" d="M0 {bar - 20:.1f}V{depth.max() + 20:.1f}"/>',
    ]
    for pin, x, y in zip(pins, across, depth, strict=True):
        parts.append(f'<path class="curve" d="M{x:.1f} {bar - 20:.1f}V{y:.1f}"/>')
        if pin in (1, comb.n_pins) or pin % max(5, comb.n_pins // 6) == 0:
            parts.append(said(float(x), bar - 28, str(pin), "small"))
    low, reach = float(depth.max()) + 60, half + 40
    parts += [
        *_bar(-50, low - 12),
        said(-reach + 6, bar - 44, "NEAR", "side-word", "start"),
        said(reach - 6, bar - 44, "OFF", "side-word", "end"),
    ]
    words = f"{comb.name}, to scale: {comb.n_pins} pins, {comb.pitch_mm:g} mm apart"
    return picture((-reach, bar - 70, 2 * reach, low - bar + 70), words, parts, "instrument-picture")


def _curve(curve: TracedCurve) -> SafeString:
    x = np.linspace(-_CURVE_MM, _CURVE_MM, 61)
    y = 0.6 * _CURVE_MM * (x / _CURVE_MM) ** 2
    path = "M" + "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x, y, strict=True))
    sheet_wide, sheet_high = 2 * _CURVE_MM + 40, 0.6 * _CURVE_MM + 80
    parts = [
        f'<path class="frame" d="M{-_CURVE_MM - 20:g} -40h{sheet_wide:g}v{sheet_high:g}h{-sheet_wide:g}z"/>',
        f'<path class="midline" d="M0 -40v{sheet_high:g}"/>',
        f'<path class="curve" d="{path}"/>',
        *(
            f'<circle cx="{a:.1f}" cy="{b:.1f}" r="4" class="point"/>'
            for a, b in zip(x[::6], y[::6], strict=True)
        ),
        *_bar(-50, 0.6 * _CURVE_MM + 24),
    ]
    words = f"{curve.name}: one unit on the sheet is {curve.mm_per_unit:g} mm on the horse"
    box = (-_CURVE_MM - 30, -50.0, 2 * _CURVE_MM + 60, 0.6 * _CURVE_MM + 110)
    return picture(box, words, parts, "instrument-picture")


def _tape(tape: TapeAndHand) -> SafeString:
    """Draw an ordinary section with the tape's widths and the card on it; the shape is the picture's own."""
    lowest = max(tape.width_depths_mm)
    down = np.linspace(0.0, lowest + 40.0, 80)
    out = _half_width(down)
    left = "L".join(f"{-x:.1f} {z:.1f}" for x, z in zip(out[::-1], down[::-1], strict=True))
    right = "L".join(f"{x:.1f} {z:.1f}" for x, z in zip(out, down, strict=True))
    parts = [
        f'<path class="frame" d="M{left}L{right}"/>',
        f'<path class="midline" d="M0 -30V{lowest + 40:.1f}"/>',
    ]
    for depth in tape.width_depths_mm:
        half = float(_half_width(np.array([depth]))[0])
        parts.append(f'<path class="curve" d="M{-half:.1f} {depth:.1f}H{half:.1f}"/>')
        parts += [
            f'<circle cx="{sign * half:.1f}" cy="{depth:.1f}" r="4.5" class="touch"/>' for sign in (-1.0, 1.0)
        ]
        parts.append(said(0, depth + 20, f"{depth:g} mm down", "small"))
    first = tape.width_depths_mm[0]
    start = float(_half_width(np.array([first]))[0])
    along = float(_half_width(np.array([first + 0.5 * tape.card_mm]))[0]) - start
    fall = np.arctan2(0.5 * tape.card_mm, along)
    across, below = tape.card_mm * np.cos(fall), tape.card_mm * np.sin(fall)
    for sign in (-1.0, 1.0):
        x, y = sign * (start + 4), first - 4
        parts.append(f'<path class="curve" d="M{x:.1f} {y:.1f}l{sign * across:.1f} {below:.1f}"/>')
    reach, low = float(out.max()) + 50, lowest + 110
    parts += [
        *_bar(-50, low - 22),
        said(-reach + 6, -24, "NEAR", "side-word", "start"),
        said(reach - 6, -24, "OFF", "side-word", "end"),
    ]
    depths = " and ".join(f"{depth:g}" for depth in tape.width_depths_mm)
    words = f"{tape.name}: widths {depths} mm below the midline, a card of {tape.card_mm:g} mm"
    return picture((-reach, -50.0, 2 * reach, low + 50), words, parts, "instrument-picture")


def _half_width(down_mm: FloatArray) -> FloatArray:
    return np.asarray(12.5 * np.sqrt(np.maximum(down_mm, 0.0)) + 0.1 * down_mm)
