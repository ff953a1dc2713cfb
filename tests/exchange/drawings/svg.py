"""Reading a drawing's SVG back as lengths on paper."""

import re
from xml.etree import ElementTree as ET

import numpy as np

from saddlebench.exchange.drawings import Drawing, as_svg

SVG = "{http://www.w3.org/2000/svg}"
MM_PER_POINT = 25.4 / 72.0


def root_of(drawing: Drawing) -> ET.Element:
    return ET.fromstring(as_svg(drawing))  # noqa: S314 — our own output


def paths_mm(root: ET.Element, gid: str) -> list[np.ndarray]:
    """Return the polylines (n, 2) [mm on paper, down is positive] of every group with this id."""
    found = []
    for group in root.iter(f"{SVG}g"):
        if group.get("id") == gid:
            for path in group.iter(f"{SVG}path"):
                numbers = re.findall(r"-?\d+(?:\.\d+)?(?:e-?\d+)?", path.get("d", ""))
                found.append(np.array(numbers, dtype=float).reshape(-1, 2) * MM_PER_POINT)
    return found


def size_mm(root: ET.Element) -> tuple[float, float]:
    """Return the stated width and height of the picture [mm]."""
    width, height = (float(root.get(name, "").removesuffix("pt")) for name in ("width", "height"))
    return width * MM_PER_POINT, height * MM_PER_POINT
