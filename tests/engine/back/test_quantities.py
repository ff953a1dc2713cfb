"""The row of numbers that repeats, trends and lists share."""

from saddlebench.demo import shapes
from saddlebench.engine.back.descriptors import describe
from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.levels import DescriptionSettings
from saddlebench.engine.back.quantities import (
    BETWEEN_SIDES,
    DEEPEST_HEIGHT,
    DEEPEST_PLACE,
    LENGTH,
    RISE_TO_LOIN,
    RISE_TO_WITHERS,
    VOLUME,
    WITHERS_ANGLE,
    WITHERS_WIDTH,
    Quantity,
    quantities_of,
)
from saddlebench.engine.back.surface import estimate_back
from support.measured import points_of

QUICK = DescriptionSettings(draws=8)


def test_every_number_is_named_once_and_in_its_own_unit():
    shape = shapes.PLAIN
    description = describe(estimate_back(points_of(shape), shape.landmarks), shape.landmarks, QUICK)
    named = quantities_of(description)
    for quantity, answer in (
        (WITHERS_ANGLE, description.withers_angle),
        (WITHERS_WIDTH, description.withers_width),
        (DEEPEST_PLACE, description.topline.deepest_place),
        (DEEPEST_HEIGHT, description.topline.deepest_height),
        (RISE_TO_WITHERS, description.topline.rise_to_withers),
        (RISE_TO_LOIN, description.topline.rise_to_loin),
        (LENGTH, description.length),
        (VOLUME, description.volume),
    ):
        assert named[quantity] is answer
    lowest = description.levels[2]
    width = Quantity(where="lowest", what="width 150 mm below the midline", unit="mm")
    assert named[width] is lowest.widths[150.0].total
    assert sum(quantity.what == BETWEEN_SIDES for quantity in named) == len(description.differences)
    assert all(q.unit == a.unit for q, a in named.items() if isinstance(a, Estimate))


def test_a_guttered_back_is_told_by_heights_not_widths():
    shape = shapes.GUTTERED_NATIVE
    named = quantities_of(describe(estimate_back(points_of(shape), shape.landmarks), shape.landmarks, QUICK))
    told = {quantity.what for quantity in named if quantity.where == "lowest"}
    assert "height 100 mm out, near (left)" in told
    assert not any(what.startswith("width") for what in told)
