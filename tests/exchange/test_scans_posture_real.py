"""Horses that nobody here made, stood otherwise by a known amount: found there, and not found in others."""

import pytest

from saddlebench.engine.back.posture import posture_of
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.exchange.scans import read_scan
from support.standing import stood_otherwise

pytestmark = pytest.mark.real_data


@pytest.fixture(scope="module")
def horses(real_backs):
    held = {}

    def aligned(name):
        if name not in held:
            held[name] = align_scan(read_scan(*real_backs[name]))
        return held[name]

    return aligned


@pytest.mark.parametrize(
    "name", ["horse-a", "horse-b-pose0", "horse-b-pose6", "horse-b-pose14", "horse-c-reference"]
)
def test_a_horse_as_it_was_scanned_raises_no_alarm(horses, name):
    found = posture_of(horses(name))
    assert not found.is_twisted
    assert not found.is_bent


@pytest.mark.parametrize("name", ["horse-a", "horse-b-pose6", "horse-c-reference"])
def test_a_leg_rested_is_named_with_its_side_and_within_its_interval(horses, name):
    own = posture_of(horses(name)).twist_deg.value
    found = posture_of(align_scan(stood_otherwise(horses(name), twist_deg=4.5)))
    assert found.is_twisted
    # What the horse shows at rest is its own, and comes on top.
    assert found.twist_deg.value == pytest.approx(own + 4.5, abs=found.twist_deg.half_width)


@pytest.mark.parametrize(("name", "bend"), [("horse-b-pose0", 20.0), ("horse-b-pose14", -20.0)])
def test_a_turned_neck_is_named_with_its_side(horses, name, bend):
    found = posture_of(align_scan(stood_otherwise(horses(name), bend_mm=bend)))
    assert found.is_bent
    assert not found.is_twisted
    assert found.bend_mm.value == pytest.approx(bend, abs=found.bend_mm.half_width)
