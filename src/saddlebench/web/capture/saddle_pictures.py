"""A recorded saddle drawn from its numbers: the underside in plan, and across at three places."""

import numpy as np
from django.utils.safestring import SafeString

from saddlebench.engine.errors import InputProblemsError, NotMeasured, Undetermined
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.record import SaddleRecord, model_of
from saddlebench.web.capture.pictures import picture, said

_POINTS = 600
_ACROSS = (("front", 0.10), ("waist", 0.45), ("rear", 0.90))


def drawn_from_numbers(record: SaddleRecord) -> SafeString | str:
    """Return the saddle's underside as its numbers make it, or in words why there is no picture."""
    try:
        model = model_of(record, _POINTS)
    except InputProblemsError as error:
        return str(error.problems[0])
    if isinstance(model, NotMeasured | Undetermined):
        return f"Recorded, and not drawn: {model.reason}."
    return _picture(model, record.label)


def _lattice(model: SaddleModel, side: int) -> FloatArray:
    """Return one side's points, (rows, columns, 3) float, saddle frame [mm]."""
    bearing = model.bearing
    mine = bearing.side == side
    rows, row = np.unique(bearing.row[mine], return_inverse=True)
    columns, column = np.unique(bearing.column[mine], return_inverse=True)
    points = np.zeros((rows.size, columns.size, 3))
    points[row, column] = bearing.points_saddle[mine]
    return points


def _path(points: FloatArray, *, closed: bool = False) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + ("Z" if closed else "")


def _picture(model: SaddleModel, label: str) -> SafeString:
    sides = [_lattice(model, side) for side in (1, -1)]
    parts = [said(0, -22, "plan, seen from above, front up", "small")]
    length = float(-min(points[..., 0].min() for points in sides))
    for points, words, sign in zip(sides, ("NEAR", "OFF"), (-1.0, 1.0), strict=True):
        edge = np.concatenate([points[:, 0], points[-1, 1:], points[::-1, -1], points[0, ::-1]])
        parts.append(f'<path class="part" d="{_path(edge[:, [1, 0]] * (-1.0, -1.0), closed=True)}"/>')
        parts.append(said(sign * 110, length + 34, words, "side-word"))
    at = 300.0
    for name, share in _ACROSS:
        top = share * length
        cut = [points[min(int(share * len(points)), len(points) - 1)] for points in sides]
        crown = max(float(one[:, 2].max()) for one in cut)
        for one in cut:
            flat = np.stack([at - one[:, 1], top + crown - one[:, 2]], axis=1)
            parts.append(f'<path class="curve" d="{_path(flat)}"/>')
        parts.append(f'<path class="thin" d="M-170 {top:.0f}H170"/>')
        parts.append(said(at, top - 8, name, "small"))
    bar = length + 50
    parts += [
        f'<path class="bar" d="M250 {bar:.0f}h100m0 -6v12m-100 0v-12"/>',
        said(300, bar - 10, "100 mm", "small"),
    ]
    words = f"{label}: the underside as its numbers make it, in plan and across at front, waist and rear"
    return picture((-190.0, -50.0, 680.0, length + 130), words, parts, "saddle-picture")
