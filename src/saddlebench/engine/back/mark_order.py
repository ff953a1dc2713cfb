"""Marks that cannot lie where they were said to lie: in the wrong order, or too far from the shoulder."""

from collections.abc import Iterator
from itertools import combinations

from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.errors import Problem, Where

IN_ORDER = {"withers": "the withers", "lowest": "the lowest point", "last_rib": "the last-rib mark"}
"""From the head back."""
EDGES = {"shoulder_left": "near shoulder edge", "shoulder_right": "off shoulder edge"}
FURTHEST_EDGE_MM = 150.0
"""The shoulder mark is taken off the shoulder's edge: neither edge lies further from it (common practice)."""


def mark_problems(landmarks: Landmarks, file: str = "") -> tuple[Problem, ...]:
    """Return what is impossible about the marks of one back; `file` is where they were written down."""
    return (*_order(landmarks, file), *_edges(landmarks, file))


def _order(landmarks: Landmarks, file: str) -> Iterator[Problem]:
    for before, behind in combinations(IN_ORDER, 2):
        first, second = getattr(landmarks, before), getattr(landmarks, behind)
        if isinstance(first, Mark) and isinstance(second, Mark) and first.value_mm >= second.value_mm:
            yield Problem(
                what=(
                    f"Of the marks, {IN_ORDER[before]} ({first.value_mm:.0f} mm) cannot lie behind "
                    f"{IN_ORDER[behind]} ({second.value_mm:.0f} mm)"
                ),
                cure="Correct one: marks count backwards from the shoulder mark, below 0 in front of it.",
                where=Where(file=file, field=f"marks.{before}"),
            )


def _edges(landmarks: Landmarks, file: str) -> Iterator[Problem]:
    for name, words in EDGES.items():
        mark = getattr(landmarks, name)
        if isinstance(mark, Mark) and abs(mark.value_mm) > FURTHEST_EDGE_MM:
            yield Problem(
                what=f"The {words} is said to lie {mark.value_mm:.0f} mm from the shoulder mark",
                cure=f"It lies within {FURTHEST_EDGE_MM:.0f} mm of it: correct it, and check its unit.",
                where=Where(file=file, field=f"marks.{name}"),
            )
