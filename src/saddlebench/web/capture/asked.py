"""What is asked while a back is measured, part by part, in the order in which it is read."""

import re

from saddlebench.engine.back.instruments import (
    Instrument,
    JointedChain,
    Scale,
)
from saddlebench.exchange.places import place_words
from saddlebench.web.capture.parts import Asked, Part, unit_of
from saddlebench.web.capture.planned import Values, planned_sections
from saddlebench.web.capture.section_asked import section_part

_HEIGHT = re.compile(r"top/(\d{1,3})/(?:distance|height)")


def parts_of(instrument: Instrument, values: Values) -> tuple[Part, ...]:
    """Return all parts in the order of the work on the horse."""
    sections = planned_sections(values)
    return (
        _marks(),
        _stance(),
        _topline(instrument, values),
        *(section_part(instrument, one, values) for one in sections),
        _after(),
    )


def _mark(name: str, words: str, low: float, high: float, hint: str = "") -> Asked:
    return Asked(name=f"mark/{name}", words=words, unit="mm", low=low, high=high, hint=hint)


def _marks() -> Part:
    behind = "Behind the shoulder mark; with a minus in front of it."
    return Part(
        key="marks",
        words="Marks",
        detail="Distances along the back, from the shoulder mark.",
        asked=(
            _mark("withers", "Highest spine of the withers", -400, 300, behind),
            _mark("lowest", "Lowest point of the topline", -100, 900, behind),
            _mark("last_rib", "Last-rib mark", 100, 1000, behind),
            _mark("shoulder_left", "Shoulder edge, near", -150, 150, behind),
            _mark("shoulder_right", "Shoulder edge, off", -150, 150, behind),
        ),
    )


def _tilt(name: str, words: str) -> Asked:
    hint = "Read off a level; 0 on level ground."
    return Asked(name=f"stance/{name}", words=words, unit="°", low=-45, high=45, hint=hint, step=0.5)


def _stance() -> Part:
    return Part(
        key="stance",
        words="Stance and coat",
        detail="Square, head in front, weight on all four.",
        asked=(
            _tilt("pitch", "Ground falls towards the head"),
            _tilt("roll", "Near side stands higher"),
            Asked(name="coat/mm", words="Depth of the coat", unit="mm", low=0, high=100),
            Asked(
                name="coat/state",
                words="Coat",
                kind="choice",
                choices=(("summer", "summer"), ("winter", "winter"), ("clipped", "clipped")),
                on_pad=False,
            ),
            Asked(name="notes", words="Notes", kind="text", on_pad=False),
        ),
    )


def _after() -> Part:
    return Part(
        key="after",
        words="Girth groove and spine strip",
        detail="After the sections.",
        asked=(
            _mark("girth_groove", "Girth groove", -100, 400, "Behind the shoulder mark."),
            _mark("spine_strip_width", "Width of the spine strip, as felt", 5, 200),
        ),
    )


def has_topline_chain(instrument: Instrument) -> bool:
    """Tell whether the instrument has links of its own for the topline."""
    return isinstance(instrument, JointedChain) and instrument.topline is not None


def _topline(instrument: Instrument, values: Values) -> Part:
    if values.get("top/how") == "chain" and isinstance(instrument, JointedChain) and instrument.topline:
        return _topline_chain(instrument.topline.arm.n_links, instrument.topline.arm.scale)
    rows = sorted({int(match[1]) for name in values if (match := _HEIGHT.fullmatch(name))})
    spare = (max(rows, default=0) + 1, max(rows, default=0) + 2)
    asked: list[Asked] = []
    for row in (*rows, *spare):
        place = values.get(f"top/{row}/distance")
        known = isinstance(place, int | float)
        where = place_words(float(place)) if isinstance(place, int | float) else "a further place"
        asked += [
            Asked(
                name=f"top/{row}/distance", words=f"Place {row}", unit="mm", low=-400, high=1200, on_pad=False
            ),
            Asked(
                name=f"top/{row}/height",
                words=f"Height {where}",
                unit="mm",
                low=-2500,
                high=2500,
                hint="Above the floor, or above any line parallel to it.",
                on_pad=known,
            ),
        ]
    return Part(
        key="topline", words="Topline", detail="Height of the midline at each place.", asked=tuple(asked)
    )


def _topline_chain(n_links: int, scale: Scale) -> Part:
    unit = unit_of(scale, "°")
    joints = [
        Asked(
            name=f"top/joint/{j}",
            words=f"Joint {j}",
            unit=unit,
            low=scale.lowest,
            high=scale.highest,
            step=scale.step,
        )
        for j in range(1, n_links)
    ]
    return Part(
        key="topline",
        words="Topline",
        detail="The chain laid back along the midline.",
        asked=(
            Asked(
                name="top/start",
                words="The chain starts at",
                unit="mm",
                low=-400,
                high=400,
                hint="Behind the shoulder mark; with a minus in front of it.",
            ),
            Asked(
                name="top/level",
                words="First link below level",
                unit="°",
                step=0.5,
                low=-60,
                high=60,
                hint="Towards the tail; with a minus where it rises.",
            ),
            *joints,
        ),
    )
