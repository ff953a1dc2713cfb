"""Every number that is said of a back, in one row: what it is, where, and its value or why there is none."""

from collections.abc import Iterator
from dataclasses import dataclass

from saddlebench.engine.back.descriptors import BackDescription
from saddlebench.engine.back.levels import Answer, LevelDescription, Sides

SIDES = {"left": "near (left)", "right": "off (right)"}
SHOULDER_PLACE = "behind the shoulder"
TOPLINE_PLACE = "topline"
BETWEEN_SIDES = "near minus off (left minus right)"


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Quantity:
    """One number of a back: the same one at every visit and in every repeat."""

    where: str
    what: str
    unit: str

    @property
    def words(self) -> str:
        """Where and what, as one phrase."""
        return f"{self.where}: {self.what}"

    @property
    def shown_unit(self) -> str:
        """The unit as it is written behind a number; nothing for a ratio."""
        return "" if self.unit == "1" else self.unit


WITHERS_ANGLE = Quantity(where=SHOULDER_PLACE, what="withers angle", unit="°")
WITHERS_WIDTH = Quantity(where=SHOULDER_PLACE, what="withers width", unit="mm")
DEEPEST_PLACE = Quantity(where=TOPLINE_PLACE, what="deepest point, behind the shoulder mark", unit="mm")
DEEPEST_HEIGHT = Quantity(
    where=TOPLINE_PLACE, what="deepest point, height against the shoulder mark", unit="mm"
)
RISE_TO_WITHERS = Quantity(where=TOPLINE_PLACE, what="rise to the withers", unit="mm")
RISE_TO_LOIN = Quantity(where=TOPLINE_PLACE, what="rise to the loin", unit="mm")
LENGTH = Quantity(where=TOPLINE_PLACE, what="length, shoulder mark to last-rib mark", unit="mm")
VOLUME = Quantity(where=TOPLINE_PLACE, what="volume above the plane, shoulder to last rib", unit="cm³")


def quantities_of(description: BackDescription) -> dict[Quantity, Answer]:
    """Return every number of a description, in the order in which people read them."""
    return dict(_each(description))


def _each(description: BackDescription) -> Iterator[tuple[Quantity, Answer]]:
    for level in description.levels:
        yield from _of_level(level)
    topline = description.topline
    yield WITHERS_ANGLE, description.withers_angle
    yield WITHERS_WIDTH, description.withers_width
    yield DEEPEST_PLACE, topline.deepest_place
    yield DEEPEST_HEIGHT, topline.deepest_height
    yield RISE_TO_WITHERS, topline.rise_to_withers
    yield RISE_TO_LOIN, topline.rise_to_loin
    yield LENGTH, description.length
    yield VOLUME, description.volume
    for region in description.differences:
        where = f"{region.along}, {region.across}"
        yield Quantity(where=where, what=BETWEEN_SIDES, unit="mm"), region.left_minus_right


def _of_level(level: LevelDescription) -> Iterator[tuple[Quantity, Answer]]:
    where = str(level.level)
    if level.guttered is True:
        for half_width, sides in level.heights.items():
            yield from _heights(where, half_width, sides)
    else:
        for depth, sides in level.widths.items():
            what = f"width {depth:.0f} mm below the midline"
            yield Quantity(where=where, what=what, unit="mm"), sides.total
        yield Quantity(where=where, what="ratio of the two widths", unit="1"), level.width_ratio
    yield Quantity(where=where, what="area of the section's top", unit="cm²"), level.area


def _heights(where: str, half_width_mm: float, sides: Sides) -> Iterator[tuple[Quantity, Answer]]:
    for side, words in SIDES.items():
        what = f"height {half_width_mm:.0f} mm out, {words}"
        yield Quantity(where=where, what=what, unit="mm"), getattr(sides, side)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """How much one number of a back may move before a saddle that is fine now no longer is."""

    quantity: Quantity
    lower: float
    """Least change, 0 or below; minus infinity where it may shrink at will."""
    upper: float
    """Greatest change, 0 or above."""
    why: str
    """Which finding leaves "fine", in words."""
