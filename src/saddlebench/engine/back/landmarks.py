"""Marks felt on the horse: positions along the back, each with its own error."""

from dataclasses import dataclass

from saddlebench.engine.errors import NotMeasured


@dataclass(frozen=True, slots=True)
class Mark:
    """A quantity felt or measured by hand, with its standard deviation."""

    value_mm: float
    sd_mm: float


NOT_MARKED = NotMeasured("not marked on the horse")

WITHERS_SD_MM = 8.0
LOWEST_SD_MM = 15.0
LAST_RIB_SD_MM = 20.0
SHOULDER_SD_MM = 10.0
GIRTH_GROOVE_SD_MM = 15.0
SPINE_STRIP_SD_MM = 4.0
"""Errors (one standard deviation) of marks felt by hand where none is stated: common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Landmarks:
    """Where the marks lie. All but the width are distances `s` behind the shoulder mark (negative: in front).

    Default errors are common practice (the shoulder edge moves with the foreleg, the last rib is ±20 mm).
    """

    withers: Mark | NotMeasured = NOT_MARKED
    """Highest spine of the withers."""
    lowest: Mark | NotMeasured = NOT_MARKED
    """Lowest point of the topline."""
    last_rib: Mark | NotMeasured = NOT_MARKED
    """The mark over the last rib (T18), behind which no saddle may bear."""
    shoulder_left: Mark | NotMeasured = NOT_MARKED
    """Rear edge of the shoulder blade, near side."""
    shoulder_right: Mark | NotMeasured = NOT_MARKED
    """Rear edge of the shoulder blade, off side."""
    girth_groove: Mark | NotMeasured = NOT_MARKED
    """Where the girth comes to lie."""
    spine_strip_width: Mark | NotMeasured = NOT_MARKED
    """Width over the spinous processes and their ligament, as felt [mm]."""
