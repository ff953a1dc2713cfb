"""A scan that was looked at, as plain values: kept while a person looks at it and states its unit."""

from typing import Any

import numpy as np

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.errors import Problem, Weight, Where
from saddlebench.exchange.scans.look import LookedAt


def plain_of_look(looked: LookedAt) -> dict[str, Any]:
    """Return what JSON can hold of it."""
    return {
        "name": looked.name,
        "n_points": looked.n_points,
        "n_faces": looked.n_faces,
        "up": looked.up.tolist(),
        "ground_offset": looked.ground_offset,
        "to_trunk": looked.to_trunk.tolist(),
        "shift": looked.shift.tolist(),
        "marks": {mark.name: point.tolist() for mark, point in looked.marks.items()},
        "mm_per_unit": looked.mm_per_unit,
        "like_a_horse": looked.like_a_horse,
        "head_clear": looked.head_clear,
        "outline": [[float(f"{x:.6g}") for x in point] for point in looked.outline],
        "mended": [[one.what, one.cure] for one in looked.mended],
    }


def look_of_plain(plain: dict[str, Any]) -> LookedAt:
    """Return it again."""
    where = Where(file=plain["name"])
    return LookedAt(
        name=plain["name"],
        n_points=plain["n_points"],
        n_faces=plain["n_faces"],
        up=np.array(plain["up"]),
        ground_offset=plain["ground_offset"],
        to_trunk=np.array(plain["to_trunk"]),
        shift=np.array(plain["shift"]),
        marks={ScanMark[name]: np.array(point) for name, point in plain["marks"].items()},
        mm_per_unit=plain["mm_per_unit"],
        like_a_horse=plain["like_a_horse"],
        head_clear=plain["head_clear"],
        outline=np.array(plain["outline"]),
        mended=tuple(
            Problem(what=what, cure=cure, where=where, weight=Weight.WARNING)
            for what, cure in plain["mended"]
        ),
    )
