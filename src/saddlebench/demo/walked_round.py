"""An invented horse scanned by walking round it: near side and off side apart, merged, recorded."""

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from trimesh import Trimesh

from saddlebench.demo.scanned import Playing, play_pieces
from saddlebench.demo.whole_horse import whole_horse
from saddlebench.engine.units import Length
from saddlebench.exchange.back_job import scan_record
from saddlebench.exchange.drawings.scan_look import scan_picture
from saddlebench.exchange.records import write_back
from saddlebench.exchange.scans import ScanPiece, look_at_pieces, marks_text
from saddlebench.exchange.scans.pieces import Tell

NAMES = ("near.ply", "off.ply")
_SEED = 11
_DAY = dt.date(2026, 5, 14)
_LABEL = "Walked round (invented)"


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkedRound:
    """What came of it."""

    folder: Path
    sentences: tuple[str, ...]
    """How each piece lies on the other."""
    back: Path
    picture: Path


def walk_round(folder: Path, tell: Tell | None = None) -> WalkedRound:
    """Write two scans of one invented horse, lay them on each other, draw them, and record the back."""
    folder.mkdir(parents=True, exist_ok=True)
    played = play_pieces(*whole_horse(), _SEED, Playing(scaled=False))
    paths = [folder / name for name in NAMES]
    for path, one in zip(paths, played, strict=True):
        Trimesh(one.vertices / 1000.0, one.faces, process=False).export(path)
    looked = look_at_pieces([ScanPiece(path=path, unit=Length.M) for path in paths], tell=tell)
    picture, marks, back = folder / "pieces.png", folder / "marks.toml", folder / "back.json"
    picture.write_bytes(scan_picture(looked))
    marks.write_text(marks_text(looked, label=_LABEL, measured_on=_DAY), encoding="utf-8")
    made = scan_record(paths[0], marks, more=paths[1:])
    write_back(made.record, back, scan_file=made.scan_file)
    return WalkedRound(
        folder=folder, sentences=tuple(piece.said for piece in looked.pieces), back=back, picture=picture
    )
