"""Look at a scan of which nothing is known: what is the horse, which unit is likely, where marks may lie."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

from saddlebench.engine.back.scan import ON_TOP, ScanMark
from saddlebench.engine.back.scan_find import FoundBack, find_back
from saddlebench.engine.back.scan_sections import Faces
from saddlebench.engine.errors import Problem, Weight, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.level import LevelBy
from saddlebench.engine.scan.standing import Ground
from saddlebench.engine.units import Length
from saddlebench.exchange.scans.level_words import level_words
from saddlebench.exchange.scans.mesh import read_mesh
from saddlebench.exchange.scans.pieces import LaidPiece, ScanPiece, Tell, read_pieces
from saddlebench.exchange.scans.shown_skin import NO_SKIN, ShownSkin, shown_skin

LIKELY_HEIGHT_MM = (750.0, 1950.0)
"""At the withers, from the smallest ponies to the biggest horses (common practice)."""
FIELD_OF: dict[ScanMark, str] = {
    ScanMark.SHOULDER: "shoulder",
    ScanMark.WITHERS: "withers",
    ScanMark.LOWEST: "lowest",
    ScanMark.LAST_RIB: "last_rib",
}
WIDTH_PX, SIDE_PX, PLAN_PX = 1200, 900, 460
"""The picture of a scan: its width, and the heights of its two views."""
LETTERED = (
    (ScanMark.WITHERS, "A"),
    (ScanMark.SHOULDER, "B"),
    (ScanMark.LOWEST, "C"),
    (ScanMark.LAST_RIB, "D"),
)
"""The marks and the letters they have in the picture, from the head."""
_DRAWN_BY = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class LookedAt:
    """A scan that was looked at: in its own axes and unit, which is still to be stated by a person."""

    name: str
    n_points: int
    n_faces: int
    up: FloatArray
    """(3,) float, instrument frame [1]."""
    ground: Ground | None
    """None: no ground was seen."""
    level_by: LevelBy
    """What says which way is up."""
    to_trunk: FloatArray
    """(3, 3) rotation from the instrument frame to the trunk's: x to the head along the midline, z up."""
    shift: FloatArray
    """(3,) float, trunk frame, the scan's unit: added after the turn."""
    marks: Mapping[ScanMark, FloatArray]
    """(3,) float each, instrument frame, the scan's unit: proposed from the shape."""
    mm_per_unit: float
    """What one unit would be if this were a horse of 1.60 m: to judge stated units by, never used as one."""
    like_a_horse: bool
    head_clear: bool
    outline: FloatArray
    """(k, 3) float, instrument frame, the scan's unit: some of the horse's points, to draw it by."""
    mended: tuple[Problem, ...]
    """What was mended while reading."""
    skin: ShownSkin = NO_SKIN
    """The surface that people look at and set marks on."""
    pieces: tuple[LaidPiece, ...] = ()
    """The files it was merged from, in the first one's axes and unit; none for a single file."""
    piece_of: tuple[int, ...] = ()
    """Of which piece each point of `outline` is."""

    @property
    def forward(self) -> FloatArray:
        """(3,) float, instrument frame [1], along the midline to the head."""
        return self.to_trunk[0]

    @property
    def likely(self) -> tuple[Length, ...]:
        """Units in which the horse would have a horse's height; a person says which."""
        low, high = LIKELY_HEIGHT_MM
        return tuple(unit for unit in Length if low <= self.height_mm(unit) <= high)

    @property
    def remarks(self) -> tuple[Problem, ...]:
        """What was mended, and what is to be questioned."""
        return (*self.mended, *_questions(self))

    def height(self, mark: ScanMark) -> float | None:
        """Return how high a mark lies above the ground, the scan's unit; None without ground or mark."""
        return None if mark not in self.marks else self.height_of(self.marks[mark])

    def height_of(self, point: FloatArray) -> float | None:
        """Return how high a point (3,), instrument frame, lies above the ground straight below it."""
        return None if self.ground is None else self.ground.height(point, self.up)

    @property
    def falls_deg(self) -> tuple[float, float]:
        """How much the ground falls to the near side and to the tail, against what is level here [°]."""
        if self.ground is None:
            return 0.0, 0.0
        x, y, z = self.to_trunk @ self.ground.up
        return float(np.degrees(np.arctan2(y, z))), float(np.degrees(np.arctan2(-x, z)))

    def height_mm(self, unit: Length) -> float:
        """Return how high the withers would be in this unit [mm], from the proportions without ground."""
        height = self.height(ScanMark.WITHERS)
        return 1600.0 * unit.in_mm / self.mm_per_unit if height is None else height * unit.in_mm

    def placed(self, points: FloatArray) -> FloatArray:
        """Return points (n, 3), instrument frame, in the trunk frame (n, 3)."""
        return points @ self.to_trunk.T + self.shift

    def on_topline(self, x: float) -> FloatArray:
        """Return the topline's point (3,), instrument frame, at x of the trunk frame; the scan's unit."""
        near = self.placed(self.outline)
        width = 40.0 / self.mm_per_unit
        strip = near[np.abs(near[:, 1]) < 1.5 * width]
        apart = np.abs(strip[:, 0] - x)
        reach = max(width, float(np.partition(apart, min(12, len(apart) - 1))[min(12, len(apart) - 1)]))
        close = strip[apart <= reach]
        # The middle of what lies close below the highest: one stray point does not lift it.
        top = close[close[:, 2] > close[:, 2].max() - width, 2]
        return (np.array([x, 0.0, float(np.median(top))]) - self.shift) @ self.to_trunk


def frame_of(looked: LookedAt) -> tuple[float, float, float]:
    """Return x at the picture's left edge, x at its right edge, and the height at the top of the side view.

    Trunk frame, the scan's unit; the head is on the left.
    """
    placed = looked.placed(looked.outline)
    low, high = placed.min(axis=0), placed.max(axis=0)
    span = 1.08 * max(float(high[0] - low[0]), float(high[2] - low[2]) * WIDTH_PX / SIDE_PX)
    middle = 0.5 * float(high[0] + low[0])
    top = 0.5 * float(high[2] + low[2]) + 0.5 * span * SIDE_PX / WIDTH_PX
    return middle + 0.5 * span, middle - 0.5 * span, top


def look_at_scan(
    path: Path,
    *,
    up: FloatArray | None = None,
    forward: FloatArray | None = None,
    level_by: LevelBy | None = None,
    tell: Tell | None = None,
) -> LookedAt:
    """Read a scan and find the horse in it.

    Parameters
    ----------
    path : mesh or cloud
    up, forward : (3,) float, instrument frame, where a person states them
    level_by : AXIS or LEVEL_GROUND, where a person states what is level
    tell : called before the file is read, and before the horse is looked for in it

    Raises
    ------
    InputProblemsError
        When it cannot be read, or nothing in it stands like an animal.
    """
    if tell is not None:
        tell(0, 2, f"reading {path.name}")
    mesh = read_mesh(path, clouds=True)
    if tell is not None:
        tell(1, 2, f"finding the horse among {len(mesh.vertices):,} points")
    found = _found(path.name, (mesh.vertices, mesh.faces), up, forward, level_by)
    return _looked(path.name, found, (len(mesh.vertices), len(mesh.faces)), mesh.remarks)


def look_at_pieces(
    pieces: Sequence[ScanPiece],
    *,
    forward: FloatArray | None = None,
    level_by: LevelBy | None = None,
    tell: Tell | None = None,
) -> LookedAt:
    """Read several files of one horse, merge them, and find the horse in what comes out.

    Parameters
    ----------
    pieces : two to six; the first one's axes and unit are the scan's
    forward : (3,) float, instrument frame of the first, where a person states it
    level_by : AXIS (of the first) or LEVEL_GROUND, where a person states what is level
    tell : called before each file is read, and while they are laid on each other

    Raises
    ------
    InputProblemsError
        When a file cannot be read, the pieces do not go together, or nothing stands there like an animal.
    """
    scan = read_pieces(pieces, tell)
    no_faces = np.zeros((0, 3), dtype=np.int32)
    found = _found(scan.name, (scan.points, no_faces), pieces[0].up, forward, level_by)
    n_points = sum(one.n_points for one in scan.laid)
    looked = _looked(scan.name, found, (n_points, 0), scan.remarks)
    _, nearest = cKDTree(scan.points).query(looked.outline)
    return replace(looked, pieces=scan.laid, piece_of=tuple(scan.piece[nearest].tolist()))


def _found(
    name: str,
    shape: tuple[FloatArray, Faces],
    up: FloatArray | None,
    forward: FloatArray | None,
    level_by: LevelBy | None,
) -> FoundBack:
    found = find_back(*shape, up=up, forward=forward, level_by=level_by)
    if found is None:
        raise input_problem(
            "no animal’s trunk is found in the scan",
            "Scan the whole horse with the ground it stands on, or state which way is up.",
            Where(file=name),
        )
    return found


def _looked(name: str, found: FoundBack, size: tuple[int, int], remarks: tuple[Problem, ...]) -> LookedAt:
    standing = found.standing
    return LookedAt(
        name=name,
        n_points=size[0],
        n_faces=size[1],
        up=standing.up,
        ground=standing.ground,
        level_by=standing.level_by,
        to_trunk=standing.to_trunk,
        shift=standing.trunk.shift,
        marks=found.suggestions.marks,
        mm_per_unit=found.suggestions.mm_per_unit,
        like_a_horse=found.like_a_horse,
        head_clear=found.head_clear,
        outline=found.points[:: max(1, len(found.points) // _DRAWN_BY)],
        mended=remarks,
        skin=shown_skin(found),
    )


def _questions(looked: LookedAt) -> list[Problem]:
    said = []
    if not looked.like_a_horse:
        said.append(
            (
                "the proportions are not a horse’s: the marks proposed may be far off",
                "Check what was scanned, and set every mark by hand.",
            )
        )
    if not looked.head_clear:
        said.append(
            ("which end is the head’s is not clear", "Look at the picture, and state it if it is wrong.")
        )
    said += level_words(looked.level_by, looked.up, looked.ground, looked.falls_deg)
    if not looked.likely:
        said.append(
            (
                "in no usual unit would this horse be between 75 and 195 cm high",
                "State its height at the withers, or one length that you measured.",
            )
        )
    for mark in ON_TOP:
        if mark not in looked.marks:
            what = f"the {mark} is not seen: the scan has a hole there, or the topline does not show it"
            said.append((what, "Feel for it on the horse, and tap it on the picture; none is proposed."))
    where = Where(file=looked.name)
    return [Problem(what=what, cure=cure, where=where, weight=Weight.WARNING) for what, cure in said]
