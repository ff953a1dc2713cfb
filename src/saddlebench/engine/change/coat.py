"""How far the coat alone moves what was measured: clipping must not read as lost muscle.

Instruments touch hair. A winter coat is 5–15 mm deep (common practice); how much of it stays under a pad or a
pin that presses, nobody knows, so anything between none and all of it is allowed for. A scan sees all but the
loosest hair.
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.instruments import Scan
from saddlebench.engine.back.record import BackRecord, Coat
from saddlebench.engine.errors import is_known

USUAL_DEPTH_MM: dict[Coat, tuple[float, float]] = {
    Coat.WINTER: (10.0, 3.0),
    Coat.SUMMER: (3.0, 1.0),
    Coat.CLIPPED: (2.0, 1.0),
    Coat.NOT_NOTED: (5.0, 4.0),
}
"""Depth and deviation [mm] where it was not measured: winter by common practice, the others assumptions."""
MEASURED_SD_MM = 1.0
PRESSED = (0.5, 0.29)
"""Share of the coat that stays under a touching instrument: from none to all (JCGM 100:2008, 4.3.7)."""
SEEN = (0.85, 0.1)
"""Share of the coat that a scan sees as surface (assumption)."""
SAME_COAT_SD_MM = 1.0
"""Two coats in the same stated condition differ by this much (assumption)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoatOffset:
    """How far the later record stands out beyond the earlier one by its coat alone."""

    mean_mm: float
    sd_mm: float
    is_other: bool
    """Whether the coat is known to be another."""
    is_noted: bool
    """Whether the coat was noted on both days."""


def coat_offset(earlier: BackRecord, later: BackRecord) -> CoatOffset:
    """Return what is to be expected of the coats of two records."""
    depths = [_depth(record) for record in (earlier, later)]
    shares = [SEEN if isinstance(record.instrument, Scan) else PRESSED for record in (earlier, later)]
    is_noted = all(
        record.coat is not Coat.NOT_NOTED or is_known(record.coat_mm) for record in (earlier, later)
    )
    same_kind = shares[0] == shares[1]
    if earlier.coat is later.coat and is_noted and same_kind and not all(map(_is_measured, (earlier, later))):
        return CoatOffset(mean_mm=0.0, sd_mm=SAME_COAT_SD_MM, is_other=False, is_noted=True)
    (before, before_sd), (after, after_sd) = depths
    (share, share_sd), (later_share, later_share_sd) = shares
    if same_kind:
        # One kind of instrument presses either coat alike: the share's doubt falls on the difference only.
        spread = share_sd * abs(after - before)
    else:
        spread = float(np.hypot(share_sd * before, later_share_sd * after))
    own = float(np.hypot(share * before_sd, later_share * after_sd))
    return CoatOffset(
        mean_mm=later_share * after - share * before,
        sd_mm=float(np.hypot(spread, own)),
        is_other=is_noted and (earlier.coat is not later.coat or abs(after - before) > 2.0),
        is_noted=is_noted,
    )


def _is_measured(record: BackRecord) -> bool:
    return is_known(record.coat_mm)


def _depth(record: BackRecord) -> tuple[float, float]:
    if is_known(record.coat_mm):
        return float(record.coat_mm), MEASURED_SD_MM
    return USUAL_DEPTH_MM[record.coat]
