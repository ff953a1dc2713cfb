"""What a person sets by hand, in a few words each: “near front +5”, “off rear outer -4”, “arch +10”."""

import re
from collections.abc import Sequence

from saddlebench.engine.alter import Alteration, Shim, ShimPlace
from saddlebench.engine.alter.alteration import SHIM_STUFF
from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.saddle.model import Zone
from saddlebench.engine.saddle.zones import Filling

FURTHEST_MM = 40.0
CURE = (
    "Write side, zone, perhaps half, and millimetres: near front +5, off rear outer -4; or arch +10; or "
    "near front shim 5, near front shim 5 felt removable; or straps point strap, rear strap."
)
_WOOL = re.compile(
    r"^(near|off)\s+(front|waist|seat|rear)(?:\s+(inner|outer))?\s+([+\-\u2212]?\d+(?:[.,]\d+)?)(?:\s*mm)?$"
)
_SHIM = re.compile(
    r"^(near|off)\s+(front|waist|seat|rear)\s+shim\s+(\d+(?:[.,]\d+)?)(?:\s*mm)?(?:\s+(\w+))?(\s+removable)?$"
)
_ARCH = re.compile(r"^arch\s+([+\-\u2212]?\d+(?:[.,]\d+)?)(?:\s*mm)?$")
_STRAPS = re.compile(r"^straps\s+(.+)$")


def by_hand(words: Sequence[str]) -> Alteration:
    """Return the alteration that a person wrote.

    Raises
    ------
    InputProblemsError
        With every word that was not understood, or that asks for more than is possible.
    """
    problems: list[Problem] = []
    inner = {"near": [0.0] * 4, "off": [0.0] * 4}
    outer = {"near": [0.0] * 4, "off": [0.0] * 4}
    shims: list[Shim] = []
    arch, straps = 0.0, None
    for written in words:
        tidy = " ".join(written.lower().replace("=", " ").split())
        if wool := _WOOL.match(tidy):
            side, zone, half, mm = wool.groups()
            value = _number(mm)
            if abs(value) > FURTHEST_MM:
                problems.append(_problem(written, f"asks for {value:g} mm, more than {FURTHEST_MM:g}"))
            if half != "outer":
                inner[side][Zone[zone.upper()]] = value
            if half != "inner":
                outer[side][Zone[zone.upper()]] = value
        elif shim := _SHIM.match(tidy):
            made, problem = _shim(written, shim.groups())
            shims += made
            problems += problem
        elif set_arch := _ARCH.match(tidy):
            arch = _number(set_arch.group(1))
        elif named := _STRAPS.match(tidy):
            straps = tuple(name.strip() for name in named.group(1).split(","))
        else:
            problems.append(_problem(written, "was not understood"))
    if problems:
        raise InputProblemsError(problems)
    return Alteration(
        fill_left=_filling(inner["near"], outer["near"]),
        fill_right=_filling(inner["off"], outer["off"]),
        shims=tuple(shims),
        arch_mm=arch,
        straps=straps,
    )


def _shim(written: str, parts: tuple[str | None, ...]) -> tuple[list[Shim], list[Problem]]:
    side, zone, mm, stuff, removable = parts
    stuff, removable = ("felt", " removable") if stuff == "removable" else (stuff or "felt", removable)
    if stuff not in SHIM_STUFF:
        return [], [_problem(written, f"names “{stuff}”, which is none of {', '.join(SHIM_STUFF)}")]
    thickness = _number(mm or "0")
    if not 0.0 < thickness <= FURTHEST_MM:
        return [], [_problem(written, f"asks for a shim of {thickness:g} mm")]
    place = ShimPlace.IN_PAD if removable else ShimPlace.UNDER_TREE
    where = Zone[(zone or "front").upper()]
    return [Shim(on_left=side == "near", zone=where, thickness_mm=thickness, stuff=stuff, place=place)], []


def _number(text: str) -> float:
    return float(text.replace(",", ".").replace("\u2212", "-"))


def _problem(written: str, what: str) -> Problem:
    return Problem(what=f"“{written[:60]}” {what}", cure=CURE, where=Where(field="set"))


def _filling(inner: list[float], outer: list[float]) -> Filling:
    return Filling(
        inner_mm=(inner[0], inner[1], inner[2], inner[3]), outer_mm=(outer[0], outer[1], outer[2], outer[3])
    )
