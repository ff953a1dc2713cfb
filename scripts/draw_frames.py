"""Make docs/reference/frames.md and its drawings from the frames' own definitions.

Run without arguments to write; with --check to fail if the page or a drawing is out of date.
"""

import sys
from pathlib import Path

from saddlebench.engine.frames import Frame

REFERENCE = Path(__file__).resolve().parent.parent / "docs" / "reference"

ABOUT = {
    Frame.INSTRUMENT: (
        "As the instrument reads it. A gauge held out of level, or a horse on a slope, tilts this frame against gravity.",
        -8.0,
    ),
    Frame.GRAVITY: (
        "The instrument's frame turned by the recorded pitch and roll: z is against gravity.",
        0.0,
    ),
    Frame.BACK: (
        (
            "The gravity frame moved so that its origin lies on the dorsal midline at the shoulder mark. A station at "
            "distance s behind the mark lies at x = −s. Polar coordinates: s = −x, φ = atan2(y, z − axis), positive to "
            "the horse's left, r = distance from a line parallel to x some 200 mm below the topline."
        ),
        0.0,
    ),
    Frame.SADDLE: (
        (
            "Origin on the saddle's midline at the front edge of the panels; z is up when the seat is level as designed, "
            "so the saddle reaches to negative x."
        ),
        0.0,
    ),
}

CURVE = {
    Frame.INSTRUMENT: "M 40 150 C 90 95, 120 90, 150 118 S 260 150, 330 122",
    Frame.GRAVITY: "M 40 150 C 90 95, 120 90, 150 118 S 260 150, 330 122",
    Frame.BACK: "M 40 150 C 90 95, 120 90, 150 118 S 260 150, 330 122",
    Frame.SADDLE: "M 110 120 C 125 70, 150 80, 175 105 S 250 120, 290 85 L 292 128 C 240 150, 170 150, 118 134 Z",
}
ORIGIN = {
    Frame.INSTRUMENT: (185, 60),
    Frame.GRAVITY: (185, 60),
    Frame.BACK: (130, 104),
    Frame.SADDLE: (110, 134),
}


def drawing(frame: Frame) -> str:
    """Return the side view of one frame: head to the left, so x points left and y towards the reader."""
    tilt = ABOUT[frame][1]
    x, y = ORIGIN[frame]
    name = f"{frame.value} frame"
    return f"""<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 370 190" role="img" font-family="sans-serif" font-size="13">
<title>The {name}, seen from the horse's left</title>
<desc>Side view, head to the left: x points forward (left), z up, y to the horse's left, towards the reader.</desc>
<rect width="370" height="190" fill="#ffffff"/>
<path d="{CURVE[frame]}" fill="none" stroke="#5b6470" stroke-width="2.5"/>
<text x="12" y="180" fill="#5b6470">head</text><text x="330" y="180" fill="#5b6470">tail</text>
<g transform="translate({x} {y}) rotate({tilt})" stroke="#12496b" stroke-width="2" fill="#12496b">
<line x1="0" y1="0" x2="-58" y2="0"/><path d="M -58 0 l 9 -4 v 8 z"/><text x="-74" y="5" stroke="none">x</text>
<line x1="0" y1="0" x2="0" y2="-46"/><path d="M 0 -46 l -4 9 h 8 z"/><text x="6" y="-38" stroke="none">z</text>
<circle r="6" fill="#ffffff"/><circle r="2"/><text x="-46" y="30" stroke="none">y, towards you</text>
</g>
</svg>
"""


def page() -> str:
    """Return the page's text."""
    parts = [
        "# Frames",
        "",
        (
            "All frames are right-handed: x forward, y to the horse's left, z up (the axis order of ISO 8855). Left (near) "
            "and right (off) are the horse's. This page and its drawings are made by `scripts/draw_frames.py`."
        ),
    ]
    for frame in Frame:
        parts += [
            "",
            f"## The {frame.value} frame",
            "",
            ABOUT[frame][0],
            "",
            f"![The {frame.value} frame](frame-{frame.value}.svg)",
        ]
    return "\n".join(parts) + "\n"


def main(arguments: list[str]) -> int:
    """Write the page and drawings, or check them."""
    wanted = {REFERENCE / "frames.md": page()}
    wanted |= {REFERENCE / f"frame-{frame.value}.svg": drawing(frame) for frame in Frame}
    if arguments == ["--check"]:
        stale = [
            p.name for p, text in wanted.items() if not p.is_file() or p.read_text(encoding="utf-8") != text
        ]
        print(
            "out of date, run scripts/draw_frames.py: " + ", ".join(stale)
            if stale
            else "frames page is current"
        )
        return 1 if stale else 0
    for path, text in wanted.items():
        path.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
