"""What a fit check is asked with: the fields of the question, and the engine's request that they make.

The values are plain, so that they can wait in the queue.
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from saddlebench.practice.catalogue import Field, Kind, Value

if TYPE_CHECKING:
    from saddlebench.engine.saddle.model import PadLayer
    from saddlebench.exchange.job import StudyRequest

Given = Mapping[str, Value]
AS_RECORDED, NO_PAD, ANOTHER_PAD = "as_the_saddle_is_recorded", "no_pad", "another_pad"
# By the names that the engine's load cases have, in the order of `MORE_CASES`.
CASES: Mapping[str, str] = {
    "rising": "rising, stride mean",
    "light_seat": "light seat, stride mean",
    "walk": "walk, peak",
    "canter": "canter, peak",
    "sitting_trot": "sitting trot, peak",
    "rising_trot_sitting": "rising trot, peak while sitting",
    "rising_trot_standing": "rising trot, peak while standing",
}
FIELDS: Mapping[str, Field] = {
    one.name: one
    for one in (
        Field(
            name="rider_mass",
            words="Rider, dressed",
            kind=Kind.NUMBER,
            unit="kg",
            low=15.0,
            high=200.0,
            required=True,
        ),
        Field(name="pads", words="Pads", kind=Kind.CHOICE, choices=(AS_RECORDED, NO_PAD, ANOTHER_PAD)),
        Field(
            name="pad_stuff",
            words="Another pad: made of",
            kind=Kind.CHOICE,
            choices=("felt", "fleece", "gel", "foam", "cotton"),
        ),
        Field(
            name="pad_thickness",
            words="Another pad: thickness, unpressed",
            kind=Kind.NUMBER,
            unit="mm",
            low=1.0,
            high=60.0,
        ),
        Field(
            name="off_centre",
            words="Rider sits off centre, towards the near side (minus: off side)",
            kind=Kind.NUMBER,
            unit="mm",
            low=-100.0,
            high=100.0,
        ),
        Field(
            name="near_stirrup",
            words="Share of the stirrups' load on the near one",
            kind=Kind.NUMBER,
            unit="%",
            low=0.0,
            high=100.0,
        ),
        Field(
            name="load_height",
            words="Rider's load acts above the panels by (usual 30; 0 to 60 for one who balances)",
            kind=Kind.NUMBER,
            unit="mm",
            low=0.0,
            high=500.0,
        ),
        Field(name="horse_mass", words="Horse", kind=Kind.NUMBER, unit="kg", low=60.0, high=1500.0),
        Field(
            name="build", words="Build of the horse", kind=Kind.CHOICE, choices=("ordinary", "pony", "cob")
        ),
        Field(name="flat_withered", words="Flat-withered", kind=Kind.YES_NO),
        Field(
            name="more_cases", words="Load cases to look at besides", kind=Kind.CHOICES, choices=tuple(CASES)
        ),
    )
}


def request_of(held: Given, *, draws: int) -> "StudyRequest":
    """Return what the engine is asked."""
    # The engine loads numba: seconds that only running a check should cost.
    from saddlebench.engine.errors import NotMeasured  # noqa: PLC0415
    from saddlebench.engine.fit.horse import Build, Horse  # noqa: PLC0415
    from saddlebench.engine.fit.loads import MORE_CASES, USUAL_LOAD_HEIGHT_MM, Rider  # noqa: PLC0415
    from saddlebench.exchange.job import StudyRequest  # noqa: PLC0415

    mass = held.get("horse_mass")
    near, height = held.get("near_stirrup"), held.get("load_height")
    names = {CASES[str(one)] for one in _listed(held.get("more_cases"))}
    return StudyRequest(
        rider=Rider(
            mass_kg=_number(held["rider_mass"]),
            off_centre_mm=_number(held.get("off_centre")),
            left_stirrup_share=0.5 if near is None else _number(near) / 100.0,
            load_height_mm=USUAL_LOAD_HEIGHT_MM if height is None else _number(height),
        ),
        horse=Horse(
            mass_kg=NotMeasured("the horse's mass was not given") if mass is None else _number(mass),
            build=Build(str(held.get("build") or "ordinary")),
            is_flat_withered=held.get("flat_withered") is True,
        ),
        pads=_pads(held),
        draws=draws,
        more_cases=tuple(case for case in MORE_CASES if case.name in names),
    )


def _number(value: Value) -> float:
    return float(value) if isinstance(value, int | float) else 0.0


def _listed(value: Value) -> list[Value]:
    return value if isinstance(value, list) else []


def _pads(held: Mapping[str, Value]) -> "tuple[PadLayer, ...] | None":
    from saddlebench.engine.saddle.materials import PADS  # noqa: PLC0415
    from saddlebench.engine.saddle.pads import pad_layer  # noqa: PLC0415

    if held.get("pads") == NO_PAD:
        return ()
    if held.get("pads") != ANOTHER_PAD:
        return None
    thickness = _number(held["pad_thickness"])
    return (pad_layer(PADS[str(held["pad_stuff"])], (thickness, thickness, thickness, thickness)),)
