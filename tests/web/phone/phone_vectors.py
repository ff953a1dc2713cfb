"""Backs as they are keyed in at a horse, good ones and spoilt ones, for judging them twice. All invented."""

from collections.abc import Callable, Iterator

import numpy as np

from saddlebench.engine.back.instruments import Instrument, JointedChain, PinComb, TapeAndHand, TracedCurve
from saddlebench.exchange.instruments import example_instrument, example_names
from saddlebench.practice.catalogue import Value

Values = dict[str, Value]
PLACES = (-80.0, 0.0, 80.0, 160.0, 240.0, 320.0, 400.0)
MARKS = {
    "mark/withers": -40.0,
    "mark/lowest": 240.0,
    "mark/last_rib": 390.0,
    "mark/shoulder_left": 0.0,
    "mark/shoulder_right": 6.0,
}


def instruments() -> list[Instrument]:
    """The instruments that come with the program and are read off by hand."""
    found = [example_instrument(name) for name in example_names()]
    return [one for one in found if isinstance(one, JointedChain | PinComb | TracedCurve | TapeAndHand)]


def fall(out_mm: float, place_mm: float) -> float:
    """How far an invented back lies below its midline: steep at the withers, flat behind."""
    steep = 1.0 + 0.9 * np.exp(-(((place_mm + 40.0) / 120.0) ** 2))
    return float(steep * (0.14 * out_mm + 0.0021 * out_mm**2 / (1.0 + out_mm / 400.0)))


def good_values(tool: Instrument, rng: np.random.Generator) -> Values:
    """Return a back without fault, read with small errors, its first section twice."""
    values: Values = dict(MARKS)
    for i, place in enumerate(PLACES, start=1):
        values[f"s{i}r0/distance"] = place
        values |= _section(tool, f"s{i}r0", place, rng)
    values["s1r1/planned"] = True
    values |= _section(tool, "s1r1", PLACES[0], rng)
    values["top/how"] = "heights"
    for row, place in enumerate(sorted({*PLACES, 0.0}), start=1):
        values[f"top/{row}/distance"] = place
        values[f"top/{row}/height"] = round(1500.0 - 60.0 * np.sin((place + 80.0) / 190.0), 0)
    return values


def _section(tool: Instrument, key: str, place: float, rng: np.random.Generator) -> Values:
    def off(scale: float = 0.4) -> float:
        return float(rng.normal(0.0, scale))

    values: Values = {}
    if isinstance(tool, TracedCurve):
        for side in ("near", "off"):
            for i, out in enumerate(np.arange(20.0, 221.0, 20.0) / tool.mm_per_unit, start=1):
                down = fall(out * tool.mm_per_unit, place) / tool.mm_per_unit
                values[f"{key}/{side}/{i}/out"] = round(float(out), 3)
                values[f"{key}/{side}/{i}/down"] = round(down + off() / tool.mm_per_unit, 3)
    elif isinstance(tool, PinComb):
        for pin in range(1, tool.n_pins + 1):
            across = abs(tool.across_mm(pin))
            if across <= 220.0:
                depth = 100.0 + fall(across, place) - (tool.offset_mm or 0.0)
                values[f"{key}/pin/{pin}"] = round((depth + off(0.3)) / tool.scale.per_division, 1)
    elif isinstance(tool, TapeAndHand):
        values |= _by_tape(tool, key, place, off)
    else:
        values |= _by_chain(tool, key, place, off)
    return values


def _by_chain(tool: JointedChain, key: str, place: float, off: Callable[[float], float]) -> Values:
    values: Values = {}
    for side, arm in (("near", tool.left), ("off", tool.right)):
        out, before = arm.first_joint_out_mm, 0.0
        for j in range(1, min(arm.n_links, 9) + 1):
            slope = float(np.degrees(np.arctan2(fall(out + 15.0, place) - fall(out, place), 15.0)))
            read = (slope - before - arm.zero_deg[j - 1]) / arm.scale.per_division
            values[f"{key}/{side}/{j}"] = round(read + off(0.4), 1)
            out += float(arm.link_mm[j - 1] * np.cos(np.radians(slope)))
            before = slope
    return values


def _by_tape(tool: TapeAndHand, key: str, place: float, off: Callable[[float], float]) -> Values:
    out = np.arange(0.0, 400.0, 0.5)
    falls = np.array([fall(one, place) for one in out])
    halves = [float(np.interp(depth, falls, out)) for depth in tool.width_depths_mm]
    values: Values = {
        f"{key}/width/{k}": round(2 * half / tool.width.per_division + off(3.0), 0)
        for k, half in enumerate(halves, start=1)
    }
    slope = np.degrees(np.arctan2(fall(halves[0] + 60.0, place) - tool.width_depths_mm[0], 60.0))
    for side in ("near", "off"):
        values[f"{key}/{side}/1"] = round(float(slope) / tool.angle.per_division + off(2.0), 0)
    return values


def spoilt(values: Values, rng: np.random.Generator) -> Values:
    """Return the same back with up to four things gone wrong."""
    made = dict(values)
    for _ in range(int(rng.integers(1, 5))):
        _WAYS[int(rng.integers(len(_WAYS)))](made, rng)
    return made


def _names(values: Values, *parts: str) -> list[str]:
    return [
        name
        for name in sorted(values)
        if any(part in name for part in parts) and isinstance(values[name], float)
    ]


def _pick(names: list[str], rng: np.random.Generator) -> str:
    return names[int(rng.integers(len(names)))] if names else "nothing"


def _lose(values: Values, rng: np.random.Generator) -> None:
    values.pop(_pick(sorted(values), rng), None)


def _lose_section(values: Values, rng: np.random.Generator) -> None:
    key = f"s{int(rng.integers(1, 8))}r0/"
    for name in [one for one in values if one.startswith(key) and not one.endswith("distance")]:
        del values[name]


def _lose_side(values: Values, rng: np.random.Generator) -> None:
    side = "/near/" if rng.random() < 0.5 else "/off/"
    for name in [one for one in values if side in one]:
        del values[name]


def _mistype(values: Values, rng: np.random.Generator) -> None:
    name = _pick(_names(values, "/near/", "/off/", "/pin/", "/width/"), rng)
    held = values.get(name)
    if isinstance(held, float):
        values[name] = held + float(rng.choice([-45.0, -12.0, 12.0, 45.0, 400.0]))


def _mistype_height(values: Values, rng: np.random.Generator) -> None:
    name = _pick(_names(values, "/height"), rng)
    held = values.get(name)
    if isinstance(held, float):
        values[name] = held + float(rng.choice([-900.0, -100.0, 60.0, 100.0]))


def _swap(values: Values, rng: np.random.Generator) -> None:
    i = int(rng.integers(1, 7))
    one, other = f"s{i}r0/", f"s{i + 1}r0/"
    mine = {name: values.pop(name) for name in list(values) if name.startswith(one) and "dist" not in name}
    theirs = {
        name: values.pop(name) for name in list(values) if name.startswith(other) and "dist" not in name
    }
    values |= {other + name[len(one) :]: value for name, value in mine.items()}
    values |= {one + name[len(other) :]: value for name, value in theirs.items()}


def _tilt(values: Values, rng: np.random.Generator) -> None:
    values[f"stance/{'pitch' if rng.random() < 0.5 else 'roll'}"] = float(rng.choice([1.0, 3.0, 11.0]))


def _move_section(values: Values, rng: np.random.Generator) -> None:
    values[f"s{int(rng.integers(1, 8))}r0/distance"] = float(rng.choice([2.0, 82.0, 240.0, 700.0, 1400.0]))


def _lean(values: Values, rng: np.random.Generator) -> None:
    for name in _names(values, f"s{int(rng.integers(1, 8))}r0/near"):
        values[name] = float(values[name]) + 2.0  # type: ignore[arg-type]


def _chain_topline(values: Values, rng: np.random.Generator) -> None:
    values |= {"top/how": "chain", "top/start": -100.0, "top/level": float(rng.choice([4.0, 12.0, 70.0]))}
    values |= {f"top/joint/{j}": float(rng.choice([-2.0, 0.0, 1.0, 50.0])) for j in range(1, 12)}


_WAYS = (
    *(_lose, _lose_section, _lose_side, _mistype, _mistype, _mistype_height, _swap, _tilt, _move_section),
    *(_lean, _chain_topline),
)


def vectors(n_spoilt: int, seed: int = 7) -> Iterator[tuple[Instrument, Values]]:
    """Yield backs of every instrument: one without fault, then spoilt ones."""
    rng = np.random.default_rng(seed)
    for tool in instruments():
        good = good_values(tool, rng)
        yield tool, good
        yield tool, {}
        for _ in range(n_spoilt):
            yield tool, spoilt(good, rng)
