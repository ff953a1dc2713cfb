"""An invented horse scanned in pieces, and real ones: cut, turned, noised, holed, written as files."""

from pathlib import Path

import numpy as np
import trimesh

from saddlebench.demo.scanned import Cut, PlayedScan, Playing, play_pieces
from saddlebench.demo.whole_horse import whole_horse
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.merge import Piece
from saddlebench.engine.scan.rigid import Rigid
from saddlebench.engine.scan.sample import even_points

QUICK = Playing(clutter=False, scaled=False, edge_mm=22.0)


def as_piece(played: PlayedScan, name: str, n: int = 40_000) -> Piece:
    """Return a played scan as a piece in mm, as even points."""
    points = even_points(played.vertices, played.faces, n, np.random.default_rng(1))
    return Piece(name=name, points=points / played.units_per_mm)


def true_move(first: PlayedScan, other: PlayedScan) -> Rigid:
    """Return the move from another piece's axes to the first one's [mm], as it was played."""
    turn = first.rotation @ other.rotation.T
    return Rigid(rotation=turn, shift=first.translation_mm - turn @ other.translation_mm)


def invented_pieces(
    seed: int, *, cut: Cut = Cut.SIDES, overlap: float = 0.3, pieces: int = 2, playing: Playing = QUICK
) -> list[PlayedScan]:
    """Return an invented horse, scanned in pieces."""
    return play_pieces(*whole_horse(), seed, playing, cut=cut, pieces=pieces, overlap=overlap)


def written(played: list[PlayedScan], folder: Path) -> list[Path]:
    """Write pieces as PLY files in metres, each in its own axes."""
    paths = []
    for k, one in enumerate(played):
        path = folder / f"piece-{k + 1}.ply"
        metres = one.vertices / one.units_per_mm / 1000.0
        trimesh.Trimesh(metres, one.faces, process=False).export(path)
        paths.append(path)
    return paths


def bent(points: FloatArray, by_mm: float) -> FloatArray:
    """Return points of a horse (x along it) that bent sideways by so much at its ends in between."""
    x = points[:, 0] - 0.5 * (points[:, 0].min() + points[:, 0].max())
    aside = by_mm * (np.cos(np.pi * x / 500.0))
    return points + np.stack([np.zeros_like(x), aside, np.zeros_like(x)], axis=1)
