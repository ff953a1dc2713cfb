"""How the rider's load is asked about in the form of a fit check reaches the engine as it was said."""

import pytest

from saddlebench.engine.fit.loads import USUAL_LOAD_HEIGHT_MM, Rider
from saddlebench.practice.catalogue import Value
from saddlebench.web.base.checks.request import FIELDS, request_of


@pytest.mark.parametrize(
    ("given", "rider"),
    [
        ({}, Rider(mass_kg=70.0, load_height_mm=USUAL_LOAD_HEIGHT_MM)),
        ({"near_stirrup": 60.0}, Rider(mass_kg=70.0, left_stirrup_share=0.6)),
        (
            {"load_height": 55.0, "off_centre": -12.0},
            Rider(mass_kg=70.0, off_centre_mm=-12.0, load_height_mm=55.0),
        ),
        ({"load_height": 0.0}, Rider(mass_kg=70.0, load_height_mm=0.0)),
    ],
)
def test_the_load_is_asked_as_it_was_said(given: dict[str, Value], rider: Rider) -> None:
    assert {*given} <= set(FIELDS)
    assert request_of({"rider_mass": 70.0, **given}, draws=0).rider == rider
