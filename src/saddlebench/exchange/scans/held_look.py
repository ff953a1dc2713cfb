"""A scan that was looked at, as plain values: kept while a person looks at it and states its unit."""

from dataclasses import asdict
from typing import Any

import numpy as np

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.errors import Problem, Weight, Where
from saddlebench.engine.scan.level import LevelBy
from saddlebench.engine.scan.standing import Ground
from saddlebench.engine.units import Length
from saddlebench.exchange.scans.look import LookedAt
from saddlebench.exchange.scans.pieces import LaidPiece
from saddlebench.exchange.scans.shown_skin import ShownSkin


def plain_of_look(looked: LookedAt) -> dict[str, Any]:
    """Return what JSON can hold of it."""
    return {
        "name": looked.name,
        "n_points": looked.n_points,
        "n_faces": looked.n_faces,
        "up": looked.up.tolist(),
        "ground": None
        if looked.ground is None
        else {
            "up": looked.ground.up.tolist(),
            "offset": looked.ground.offset,
            "share": looked.ground.share,
        },
        "level_by": looked.level_by.value,
        "to_trunk": looked.to_trunk.tolist(),
        "shift": looked.shift.tolist(),
        "marks": {mark.name: point.tolist() for mark, point in looked.marks.items()},
        "mm_per_unit": looked.mm_per_unit,
        "like_a_horse": looked.like_a_horse,
        "head_clear": looked.head_clear,
        "outline": [[float(f"{x:.6g}") for x in point] for point in looked.outline],
        "mended": [[one.what, one.cure, one.where.file] for one in looked.mended],
        "skin": {
            "vertices": [[float(f"{x:.7g}") for x in point] for point in looked.skin.vertices],
            "faces": looked.skin.faces.tolist(),
        },
        "pieces": [asdict(piece) for piece in looked.pieces],
        "piece_of": list(looked.piece_of),
    }


def look_of_plain(plain: dict[str, Any]) -> LookedAt:
    """Return it again."""
    return LookedAt(
        name=plain["name"],
        n_points=plain["n_points"],
        n_faces=plain["n_faces"],
        up=np.array(plain["up"]),
        ground=None if plain["ground"] is None else _ground(plain["ground"]),
        level_by=LevelBy(plain["level_by"]),
        to_trunk=np.array(plain["to_trunk"]),
        shift=np.array(plain["shift"]),
        marks={ScanMark[name]: np.array(point) for name, point in plain["marks"].items()},
        mm_per_unit=plain["mm_per_unit"],
        like_a_horse=plain["like_a_horse"],
        head_clear=plain["head_clear"],
        outline=np.array(plain["outline"]),
        mended=tuple(
            # Looks of earlier versions do not say which of several pieces is meant.
            Problem(
                what=what,
                cure=cure,
                where=Where(file=file[0] if file else plain["name"]),
                weight=Weight.WARNING,
            )
            for what, cure, *file in plain["mended"]
        ),
        skin=ShownSkin(
            vertices=np.array(plain["skin"]["vertices"], dtype=float).reshape(-1, 3),
            faces=np.array(plain["skin"]["faces"], dtype=np.int32).reshape(-1, 3),
        ),
        pieces=tuple(_laid_piece(one) for one in plain.get("pieces", ())),
        piece_of=tuple(plain.get("piece_of", ())),
    )


def _ground(plain: dict[str, Any]) -> Ground:
    return Ground(up=np.array(plain["up"]), offset=plain["offset"], share=plain["share"])


def _laid_piece(plain: dict[str, Any]) -> LaidPiece:
    common = tuple(tuple(point) for point in plain["common"])
    return LaidPiece(**plain | {"unit": Length(plain["unit"]), "up": tuple(plain["up"]), "common": common})
