"""Invented photos of trace sheets by the hundred, and how far what is read lies from what was drawn.

Each case is a sheet of some kind and paper, curves of a back's or a saddle's shape, a pen, a light, a camera.
Two cases in ten are hard (a bulge or a strong curl, a blurred, slanting or cut-off picture): there
nothing may come back that is wrong by more than 3 mm.
"""

import time
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from saddlebench.demo.photographed import PenLine, Scene, photographed
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.layout import SheetKind, SheetLayout, layout_of
from saddlebench.exchange.tracings.read import read_sheet
from saddlebench.exchange.tracings.sheet_read import ReadCurve

RMS_MM, WORST_MM, NEVER_MM = 0.5, 1.5, 3.0
PENS = ((25, 25, 30), (30, 40, 130), (20, 70, 40), (150, 25, 30))
SHEETS = (
    (SheetKind.SECTIONS, "a3", 2),
    (SheetKind.SECTIONS, "a4", 3),
    (SheetKind.SECTIONS, "letter", 3),
    (SheetKind.SECTIONS, "a3", 1),
    (SheetKind.SADDLE, "a3", 2),
    (SheetKind.TOPLINE, "a3", 2),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One photo and what was drawn."""

    layout: SheetLayout
    lines: tuple[PenLine, ...]
    scene: Scene
    is_hard: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """How a case was read."""

    said: str
    """The refusal; empty: it was read."""
    rms_mm: float
    worst_mm: float
    stated_mm: float
    """The error that the reading states, without the scale's."""
    lost: int
    """Curves that were drawn and not found, or found and not drawn."""
    kept: float
    """Least share of a drawn curve's length that was read [1]; where curves meet flatly, they end there."""
    seconds: float


def case_of(seed: int) -> Case:
    """Return a case; the same seed gives the same."""
    rng = np.random.default_rng(seed)
    kind, paper, tiles = SHEETS[seed % len(SHEETS)]
    layout = layout_of(kind, paper, tiles)
    is_hard = seed % 10 in {7, 9}
    n_lines = 1 if kind is SheetKind.TOPLINE else int(rng.integers(1, 4))
    lines = tuple(_line(kind, layout, rng, k) for k in range(n_lines))
    scene = Scene(
        tilt_deg=float(rng.uniform(0.0, 30.0)) if seed % 3 else 30.0,
        toward_deg=float(rng.uniform(0.0, 360.0)),
        rolled_deg=float(rng.uniform(-25.0, 25.0)),
        focal=float(rng.uniform(0.65, 1.1)),
        radial=float(rng.uniform(-0.05, 0.04)),
        curl=float(rng.uniform(-0.7, 0.7)) if rng.random() < 0.5 else 0.0,
        curl_deg=float(rng.uniform(0.0, 180.0)),
        fill=float(rng.uniform(0.82, 0.94)),
        blur_px=float(rng.uniform(0.4, 1.1)),
        noise=float(rng.uniform(1.0, 6.0)),
        light_fall=float(rng.uniform(0.0, 0.5)),
        shadow=float(rng.uniform(0.2, 0.55)) if rng.random() < 0.4 else 0.0,
        hand=bool(rng.random() < 0.3),
        quality=int(rng.integers(60, 95)),
        table=int(rng.integers(30, 130)),
        seed=seed,
    )
    if is_hard:
        hard = (
            {"bulge_mm": float(rng.uniform(2.0, 9.0))},
            {"blur_px": float(rng.uniform(2.5, 6.0))},
            {"tilt_deg": float(rng.uniform(45.0, 68.0))},
            {"fill": float(rng.uniform(1.2, 1.7))},
            {"curl": float(rng.uniform(1.2, 3.0))},
        )[int(rng.integers(0, 5))]
        scene = _changed(scene, hard)
    return Case(layout=layout, lines=lines, scene=scene, is_hard=is_hard)


def _changed(scene: Scene, fields: dict[str, float]) -> Scene:
    held = {name: getattr(scene, name) for name in Scene.__dataclass_fields__}
    return Scene(**{**held, **fields})


def _line(kind: SheetKind, layout: SheetLayout, rng: np.random.Generator, k: int) -> PenLine:
    left, low, right, top = layout.area
    if kind is SheetKind.TOPLINE:
        x = np.linspace(0.0, 0.85 * right, 300)
        u = x / x[-1]
        y = 18.0 * np.cos(2 * np.pi * (0.9 * u + rng.uniform(-0.1, 0.1))) + 8.0 * np.sin(7.0 * u) - 20.0 * u
    else:
        reach = float(rng.uniform(0.6, 0.92)) * min(right, -left)
        u = np.linspace(-1.0, 1.0, 500)
        steep = float(rng.uniform(0.35, 0.62)) * min(
            1.0, (0.9 * (top - low) - 20.0 - 32.0 * k) / (0.62 * reach)
        )
        lean = float(rng.uniform(-0.05, 0.05))
        peak = float(rng.uniform(0.0, 8.0)) * np.exp(-((u / 0.12) ** 2))
        fall = steep * (0.75 * np.abs(u) ** 1.7 + 0.25 * u**4) * (1.0 + lean * u)
        wave = 2.5 * np.sin(9.0 * u + rng.uniform(0.0, 6.0))
        x, y = reach * u, -reach * fall + peak + wave - 32.0 * k
    gap = float(rng.uniform(60.0, 200.0))
    return PenLine(
        points=np.column_stack([x, y]),
        width_mm=float(rng.uniform(0.4, 1.2)),
        colour=PENS[int(rng.integers(0, len(PENS)))],
        broken_mm=((gap, gap + float(rng.uniform(3.0, 9.0))),) if rng.random() < 0.4 else (),
        doubled_mm=float(rng.uniform(0.8, 1.5)) if rng.random() < 0.2 else 0.0,
    )


def answer_of(case: Case) -> Answer:
    """Photograph a case, read it, and compare."""
    photo = photographed(case.layout, case.lines, case.scene)
    start = time.perf_counter()
    try:
        read = read_sheet(photo)
    except InputProblemsError as error:
        took = time.perf_counter() - start
        return Answer(
            said=str(error),
            rms_mm=0.0,
            worst_mm=0.0,
            stated_mm=0.0,
            lost=len(case.lines),
            kept=0.0,
            seconds=took,
        )
    took = time.perf_counter() - start
    offs = [off_of(curve, line, case.layout) for curve, line in zip(read.curves, case.lines, strict=False)]
    every = np.concatenate(offs) if offs else np.zeros(1)
    return Answer(
        said="",
        rms_mm=float(np.sqrt((every**2).mean())),
        worst_mm=float(every.max()),
        stated_mm=max(curve.point_sd_mm for curve in read.curves),
        lost=abs(len(case.lines) - len(read.curves)),
        kept=min(
            (_share(curve, line) for curve, line in zip(read.curves, case.lines, strict=False)), default=0.0
        ),
        seconds=took,
    )


def off_of(curve: ReadCurve, line: PenLine, layout: SheetLayout) -> FloatArray:
    """Return how far each point that was read lies from the line that was drawn, (n,) float [mm]."""
    drawn = np.asarray(line.points, dtype=float)
    if layout.kind is not SheetKind.TOPLINE:
        drawn = drawn - (0.0, np.interp(0.0, drawn[:, 0], drawn[:, 1]))
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(drawn, axis=0), axis=1))])
    fine = np.arange(0.0, length[-1], 0.05)
    dense = np.column_stack([np.interp(fine, length, drawn[:, k]) for k in (0, 1)])
    off, _ = cKDTree(dense).query(curve.points[curve.seen])
    return np.asarray(off, dtype=float)


def _share(curve: ReadCurve, line: PenLine) -> float:
    long = [float(np.linalg.norm(np.diff(one, axis=0), axis=1).sum()) for one in (curve.points, line.points)]
    return long[0] / long[1]
