"""How far apart two records' shoulder marks lie, as far as the marks themselves can say.

The shoulder edge moves with the foreleg: alone it ties two visits to a centimetre or two. The highest withers
spine, the lowest point and the last rib, felt on both days, each tie them once more.
"""

from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.back.landmarks import SHOULDER_SD_MM, Landmarks, Mark
from saddlebench.engine.errors import is_known

TYING = ("withers", "lowest", "last_rib")
SLIPPED_SD_MM = 60.0
"""How far apart along the back marks may lie that were set at other places altogether (assumption)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftAlong:
    """How far forward the later record's points must be taken back, as the marks say."""

    mean_mm: float
    sd_mm: float
    tied_by: tuple[str, ...]
    """Marks felt on both days, besides the shoulder's."""
    is_set_elsewhere: bool = False
    """Whether the marks proved to be of other places, so that the shape alone says how far apart they lie."""

    @property
    def set_elsewhere(self) -> "ShiftAlong":
        """The same marks, not trusted: their mean kept, their precision given up."""
        return replace(self, sd_mm=SLIPPED_SD_MM, is_set_elsewhere=True)


def shift_by_marks(earlier: Landmarks, later: Landmarks) -> ShiftAlong:
    """Return what the marks say, every mark weighted by its precision (JCGM 100:2008, 5.1).

    A later record whose shoulder mark lies further back counts every place at a smaller distance behind it:
    its points lie too far forward.
    """
    precision = 1.0 / (_shoulder_variance(earlier) + _shoulder_variance(later))
    total, weighted, tied = precision, 0.0, []
    for name in TYING:
        first, second = getattr(earlier, name), getattr(later, name)
        if is_known(first) and is_known(second) and isinstance(first, Mark) and isinstance(second, Mark):
            variance = first.sd_mm**2 + second.sd_mm**2
            if variance > 0.0:
                total += 1.0 / variance
                weighted += (first.value_mm - second.value_mm) / variance
                tied.append(name.replace("_", " "))
    return ShiftAlong(mean_mm=weighted / total, sd_mm=float(np.sqrt(1.0 / total)), tied_by=tuple(tied))


def _shoulder_variance(marks: Landmarks) -> float:
    edges = [mark.sd_mm for mark in (marks.shoulder_left, marks.shoulder_right) if isinstance(mark, Mark)]
    return float(np.mean(edges)) ** 2 if edges else SHOULDER_SD_MM**2
