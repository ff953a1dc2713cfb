"""Scans in pieces: how far off each is laid, by how much of its stated error, and what large ones cost.

Run as `python -m benchmarks.pieces --cases 4 --meshes FOLDER`: every mesh of a horse with a marks file under
`tests/data/marks` is cut both ways (30 % on both pieces), each piece turned, noised and holed alone, among
one and the same clutter. `--large 5000000` times two pieces of so many faces together, through files.
"""

import argparse
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import trimesh

from benchmarks.scans import MARKS, computing
from saddlebench.demo.scanned import Cut, PlayedScan, Playing, play_pieces
from saddlebench.demo.whole_horse import whole_horse
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.scan.merge import Merged, Piece, merge
from saddlebench.engine.scan.rigid import Rigid
from saddlebench.engine.scan.sample import even_points
from saddlebench.engine.units import Length
from saddlebench.exchange.scans import ScanPiece, look_at_pieces, read_scan

_POINTS = 500_000


def main() -> None:
    """Print every case."""
    asked = argparse.ArgumentParser(prog="benchmarks.pieces")
    asked.add_argument("--cases", type=int, default=2)
    asked.add_argument("--first", type=int, default=100)
    asked.add_argument("--meshes", type=Path, default=MARKS.parents[3] / "shared" / "data")
    asked.add_argument("--only", default="horse")
    asked.add_argument("--large", type=int, default=0, help="faces of both pieces together")
    wanted, _ = asked.parse_known_args()
    if wanted.large:
        large(wanted.large)
        return
    for marks in sorted(MARKS.glob(f"{wanted.only}*.toml")):
        for mesh in wanted.meshes.glob(f"{marks.stem}.*"):
            aligned = align_scan(read_scan(mesh, marks))
            for seed in range(wanted.first, wanted.first + wanted.cases):
                for cut in Cut:
                    faces = np.asarray(aligned.scan.faces)
                    played = play_pieces(aligned.vertices_back, faces, seed, Playing(scaled=False), cut=cut)
                    told = case(played, aligned.vertices_back)
                    print(f"{marks.stem} {cut} {seed}: {told}", flush=True)


def case(played: list[PlayedScan], shape: np.ndarray) -> str:
    """Return in words how far off the second piece's trunk is laid."""
    rng = np.random.default_rng(1)
    pieces = [
        Piece(name=str(k), points=even_points(one.vertices, one.faces, _POINTS, rng))
        for k, one in enumerate(played)
    ]
    started = computing()
    try:
        merged = merge(pieces)
    except InputProblemsError as error:
        return f"refused: {error}"
    seconds = computing() - started
    x, _, z = shape.T
    trunk = shape[(x < 100.0) & (x > -700.0) & (z > -400.0)]
    turn = played[0].rotation @ played[1].rotation.T
    true = Rigid(rotation=turn, shift=played[0].translation_mm - turn @ played[1].translation_mm)
    own = played[1].carried(trunk)
    off = np.linalg.norm(merged.moves[1].points(own) - true.points(own), axis=1)
    one = merged.overlap[1]
    return (
        f"off {off.mean():.2f} mm, worst {off.max():.2f}; stated {one.unsure_mm:.2f}; "
        f"{stretch(merged, true):.1f} of 6 in squares of the stated error; overlap {one.share:.2f}, "
        f"apart {one.apart_mm:.2f} mm; {seconds:.0f} s of computing"
    )


def stretch(merged: Merged, true: Rigid) -> float:
    """Return the error of the second piece's move in squares of its stated covariance: about 6 if honest."""
    error = merged.moves[1].after(true.inverse())
    shift = error.points(merged.about[None])[0] - merged.about
    skew = 0.5 * (error.rotation - error.rotation.T)
    both = np.concatenate([shift, [skew[2, 1], skew[0, 2], skew[1, 0]]])
    return float(both @ np.linalg.solve(merged.covariance, both))


def large(n_faces: int) -> None:
    """Time a look at two large pieces, with the memory here and in the readers' processes."""
    played = play_pieces(*whole_horse(), 1, Playing(scaled=False))
    with tempfile.TemporaryDirectory() as folder:
        paths, n, size = [], 0, 0
        for k, one in enumerate(played):
            mesh = trimesh.Trimesh(one.vertices / 1000.0, one.faces, process=False)
            while len(mesh.faces) < n_faces // 2:
                mesh = mesh.subdivide()
            rng = np.random.default_rng(k)
            mesh.update_faces(np.sort(rng.permutation(len(mesh.faces))[: n_faces // 2]))
            path = Path(folder) / f"piece-{k}.ply"
            mesh.export(path)
            n, size = n + len(mesh.faces), size + path.stat().st_size
            paths.append(path)
            del mesh
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        started, computed = time.perf_counter(), computing()
        looked = look_at_pieces([ScanPiece(path=path, unit=Length.M) for path in paths])
        seconds, computed = time.perf_counter() - started, computing() - computed
    child = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e6
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"{n:,} faces in two pieces, {size / 1e6:.0f} MB: {seconds:.0f} s ({computed:.0f} s of computing)")
    print(f"readers up to {child:.2f} GB each; this process up to {own:.2f} GB ({before:.2f} before)")
    for piece in looked.pieces:
        print(piece.said)


if __name__ == "__main__":
    sys.exit(main())
