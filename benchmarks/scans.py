"""Scans: how far what is found lies from what was played, over many scenes; and what a large scan costs.

Run as `python -m benchmarks.scans --cases 20 --meshes FOLDER`: every mesh of the folder that has a marks file
under `tests/data/marks` is turned, scaled, noised, holed and set among clutter. The proportions were tuned on
horse-b-pose0 and horse-c-reference; the others are held out. Times are of the machine as it is.
`--varied` makes other builds, postures and scenes of each mesh instead, and tells what went wrong in silence.
"""

import argparse
import resource
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import trimesh

from saddlebench.demo.scanned import PlayedScan, Playing, play_scan
from saddlebench.demo.varied import BUILDS, NO_GROUND, SCENES
from saddlebench.demo.whole_horse import whole_horse
from saddlebench.engine.back.scan import ON_TOP, AlignedScan, ScanMark, cut_scan
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.back.scan_find import find_back
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.level import AGREE_DEG
from saddlebench.engine.units import Length
from saddlebench.exchange.scans import LookedAt, look_at_scan, marks_text, read_scan

TUNED_ON = ("horse-b-pose0", "horse-c-reference")
MARKS = Path(__file__).resolve().parent.parent / "tests" / "data" / "marks"
CLEAN = Playing(noise_mm=0.0, holes=0.0, clutter=False, turned=False, scaled=False)
EDGES = (14.0, 8.0, 0.0)
"""How fine the played scanner is [mm]; 0: the mesh's own corners."""


def main() -> None:
    """Print every case, then the summary."""
    asked = argparse.ArgumentParser(prog="benchmarks.scans")
    asked.add_argument("--cases", type=int, default=6)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--meshes", type=Path, default=MARKS.parents[3] / "shared" / "data")
    asked.add_argument("--only", default="")
    asked.add_argument("--large", type=int, default=0, help="faces of a large scan to time")
    asked.add_argument("--varied", action="store_true", help="other builds, postures and scenes")
    wanted, _ = asked.parse_known_args()
    if wanted.large:
        large(wanted.large)
        return
    if wanted.varied:
        varied(wanted.meshes, wanted.only, wanted.first)
        return
    results: dict[str, list[dict[str, float]]] = {}
    for marks in sorted(MARKS.glob(f"{wanted.only}*.toml")):
        for mesh in wanted.meshes.glob(f"{marks.stem}.*"):
            results[marks.stem] = of_mesh(mesh, marks, range(wanted.first, wanted.first + wanted.cases))
    held_out = [r for name, rows in results.items() if name not in TUNED_ON for r in rows]
    summary("all", [row for rows in results.values() for row in rows if row])
    summary("held out", [row for row in held_out if row])


def of_mesh(mesh: Path, marks: Path, seeds: range) -> list[dict[str, float]]:
    """Return the results of a mesh's cases; an empty one where it was not taken for a horse."""
    aligned = align_scan(read_scan(mesh, marks))
    shape, faces = aligned.vertices_back, np.asarray(aligned.scan.faces)
    eye = {mark: aligned.scan_to_back.points(p[None])[0, 0] for mark, p in aligned.scan.marks.items()}
    clean = play_scan(shape, faces, 0, CLEAN)
    back = find_back(clean.vertices, clean.faces)
    if back is None or not back.like_a_horse:
        unlike = "none" if back is None else f"{back.suggestions.unlikeness:.2f}"
        print(f"{mesh.stem}: questioned, not taken for a horse (unlikeness {unlike})")
        return []
    still = {mark: point[0] for mark, point in back.suggestions.marks.items()}
    rows = []
    for seed in seeds:
        played = play_scan(shape, faces, seed, replace(Playing(), edge_mm=EDGES[seed % len(EDGES)]))
        row = case(played, shape, faces, still, eye)
        told = "  ".join(f"{name} {value:.2f}" for name, value in row.items()) or "NOT FOUND"
        print(f"{mesh.stem} {seed}: {told}", flush=True)
        rows.append(row)
    return rows


def case(
    played: PlayedScan,
    shape: FloatArray,
    faces: np.ndarray,
    still: dict[ScanMark, float],
    eye: dict[ScanMark, float],
) -> dict[str, float]:
    """Return how far off everything is, through a file, a marks file and the reader, as a person would go."""
    with tempfile.TemporaryDirectory() as folder:
        path, marks = Path(folder) / "scan.ply", Path(folder) / "marks.toml"
        metres = played.vertices / played.units_per_mm / 1000.0
        # The scan's scale is any; the file's is one that a person could state.
        trimesh.Trimesh(metres, played.faces, process=False).export(path)
        started = time.perf_counter()
        looked = look_at_scan(path)
        seconds = time.perf_counter() - started
        if not looked.like_a_horse:
            return {}
        marks.write_text(marks_text(looked, unit=Length.M))
        aligned = align_scan(read_scan(path, marks))
    turn = aligned.scan_to_back.rotation @ played.rotation
    same = turn_by_same_marks(aligned, played, shape, faces) @ turn.T
    off = sections_off(aligned, played, shape, faces)
    told = aligned.scan.instrument.point_sd_mm
    row = {
        "up": float(np.degrees(np.arccos(min(1.0, turn[2, 2])))),
        "head": abs(float(np.degrees(np.arctan2(turn[0, 1], turn[0, 0])))),
        "head-same": abs(float(np.degrees(np.arctan2(same[0, 1], same[0, 0])))),
        "rms": float(np.sqrt(np.mean(off**2))),
        "p95": float(np.percentile(np.abs(off), 95.0)),
        "worst": float(np.abs(off).max()),
        "over3": float((np.abs(off) > 3.0).mean()),
        "told": told,
        "in2sd": float((np.abs(off) < 2.0 * told).mean()),
        "unseen": float(sum(mark not in looked.marks for mark in ON_TOP)),
        "seconds": seconds,
    }
    marks_back = in_shape(played, looked)
    for mark, x in marks_back.items():
        row[f"{mark.name.lower()}"] = abs(x - still.get(mark, np.nan))
        row[f"{mark.name.lower()}-eye"] = abs(x - eye.get(mark, np.nan))
    return row


def turn_by_same_marks(
    aligned: AlignedScan, played: PlayedScan, shape: FloatArray, faces: np.ndarray
) -> FloatArray:
    """Return the rotation (3, 3) from the shape to the back that its clean mesh has by these marks."""
    marks = {
        mark: (point - played.translation_mm) @ played.rotation for mark, point in aligned.scan.marks.items()
    }
    clean = replace(
        aligned.scan,
        vertices_instrument=shape,
        faces=faces.astype(np.int32),
        up=np.array([0.0, 0.0, 1.0]),
        forward=np.array([1.0, 0.0, 0.0]),
        marks=marks,
    )
    return align_scan(clean).scan_to_back.rotation


def in_shape(played: PlayedScan, looked: LookedAt) -> dict[ScanMark, float]:
    """Return where the proposed marks of a scan in metres lie along the shape [mm]."""
    return {
        mark: float(((1000.0 * point - played.translation_mm) @ played.rotation)[0])
        for mark, point in looked.marks.items()
    }


def sections_off(
    aligned: AlignedScan, played: PlayedScan, shape: FloatArray, faces: np.ndarray
) -> FloatArray:
    """Return radii of the scan's sections less those of the clean shape in the same places (n,) [mm]."""
    true = aligned.scan_to_back.points(shape @ played.rotation.T + played.translation_mm)
    clean = replace(aligned, vertices_back=true, faces=faces.astype(np.int32))
    off = []
    for ours, its in zip(cut_scan(aligned), cut_scan(clean), strict=True):
        both = ours.outline.found & its.outline.found
        height = ours.outline.radius_mm * np.cos(ours.outline.phi)
        both &= height > 220.0 - 300.0
        off.append((ours.outline.radius_mm - its.outline.radius_mm)[both])
    return np.concatenate(off)


def varied(meshes: Path, only: str, seed: int) -> None:
    """Print for every build and scene of every mesh what was found, and what was wrong without a word."""
    pairs = [(build, "whole") for build in BUILDS] + [("as it is", scene) for scene in SCENES]
    for marks in sorted(MARKS.glob(f"{only or 'horse'}*.toml")):
        aligned = align_scan(read_scan(next(meshes.glob(f"{marks.stem}.*")), marks))
        for build, scene in pairs:
            seed += 1
            shape, faces = SCENES[scene](BUILDS[build](aligned.vertices_back), np.asarray(aligned.scan.faces))
            there = scene not in NO_GROUND
            played = play_scan(shape, faces, seed, Playing(edge_mm=20.0, ground=there, clutter=there))
            told = told_of(played)
            print(f"{marks.stem}, {build}, {scene} ({seed}): {told}", flush=True)


def told_of(played: PlayedScan) -> str:
    """Return in words what is found in a scan, how far off it is, and whether that is said."""
    back = find_back(played.vertices, played.faces)
    if back is None:
        return "refused: no animal"
    standing = back.standing
    up, ahead = played.rotation.T @ standing.up, played.rotation.T @ standing.forward
    tilt = float(np.degrees(np.arccos(np.clip(up[2], -1.0, 1.0))))
    turn = float(np.degrees(np.arctan2(ahead[1], ahead[0])))
    falls = standing.ground is not None and float(standing.ground.up @ standing.up) < np.cos(
        np.deg2rad(AGREE_DEG)
    )
    questioned = falls or not (back.like_a_horse and back.head_clear)
    wrong = tilt > 1.5 or abs(turn) > 1.5
    verdict = ("wrong, and said so" if questioned else "WRONG IN SILENCE") if wrong else "right"
    places = {
        mark.name.lower(): round(
            float(((point / played.units_per_mm - played.translation_mm) @ played.rotation)[0])
        )
        for mark, point in back.suggestions.marks.items()
    }
    return (
        f"{verdict}{', questioned' if questioned and not wrong else ''}; "
        f"up {tilt:.2f}°, heading {turn:.2f}°, "
        f"unlikeness {back.suggestions.unlikeness:.2f} (other way {back.suggestions.other_way:.2f}), {places}"
    )


def summary(words: str, rows: list[dict[str, float]]) -> None:
    """Print 95 % and worst of everything."""
    print(f"\n{words}: {len(rows)} cases")
    for name in rows[0] if rows else ():
        values = np.array([row.get(name, np.nan) for row in rows])
        values = values[np.isfinite(values)]
        if len(values):
            print(
                f"  {name:14s} median {np.median(values):7.2f}  95 % {np.percentile(values, 95):7.2f}"
                f"  worst {values.max():7.2f}"
            )


def computing() -> float:
    """Return the seconds of processor time of this process and the readers it started."""
    child = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + child.ru_utime + child.ru_stime


def large(n_faces: int) -> None:
    """Time a look at a scan of many faces, and its memory here and in the reader's process."""
    vertices, faces = whole_horse()
    played = play_scan(vertices, faces, 1, Playing(scaled=False))
    mesh = trimesh.Trimesh(played.vertices / 1000.0, played.faces, process=False)
    while len(mesh.faces) < n_faces:
        mesh = mesh.subdivide()
    mesh.update_faces(np.arange(len(mesh.faces)) < n_faces)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "large.ply"
        mesh.export(path)
        n, size = len(mesh.faces), path.stat().st_size
        del mesh, played
        started, computed = time.perf_counter(), computing()
        looked = look_at_scan(path)
        seconds, computed = time.perf_counter() - started, computing() - computed
        marks = Path(folder) / "marks.toml"
        marks.write_text(marks_text(looked, unit=Length.M))
        started = time.perf_counter()
        align_scan(read_scan(path, marks))
        again = time.perf_counter() - started
    child = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e6
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"{n:,} faces, {size / 1e6:.0f} MB: looked at in {seconds:.0f} s ({computed:.0f} s of computing)")
    print(f"read with its marks and aligned in {again:.0f} s; reader up to {child:.2f} GB")
    print(f"this process, the making of the scan included, up to {own:.2f} GB")


if __name__ == "__main__":
    sys.exit(main())
