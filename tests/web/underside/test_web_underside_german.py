"""What is said of scanned and traced undersides is said in German, too."""

import pytest
from django.utils.translation import override

from saddlebench.demo.saddles import BARS, FLEXIBLE, SIDE_SADDLE, TREELESS
from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.saddle.model import Zone
from saddlebench.engine.saddle.numbers import SaddleNumbers
from saddlebench.engine.saddle.underside.become import panelled_of
from saddlebench.engine.saddle.underside.bulges import Bulge
from saddlebench.engine.saddle.underside.evenness import Unevenness
from saddlebench.engine.saddle.underside.told import bulge_words
from saddlebench.exchange.retelling import noting_missed
from saddlebench.exchange.saddles.scanned import NOT_SEEN, unevenness_words
from saddlebench.exchange.tracings.traced_saddle_words import NOT_KNOWN
from saddlebench.web.base.spoken import told

SIDES = (1, -1)
LUMPS = [
    unevenness_words(
        Unevenness(side=side, zone=zone, mean_mm=1.0, most_mm=most, behind_mm=150.0, across=across, sd_mm=0.4)
    )
    for side in SIDES
    for zone in Zone
    for most in (4.0, -3.0)
    for across in (0.1, 0.5, 0.9)
]
BULGES = [
    str(
        Problem(
            what=bulge_words(Bulge(side=side, is_outer=is_outer, begin_mm=258.0, end_mm=312.0, out_mm=33.0)),
            cure="Look whether it is the panel; else take it away, and scan again.",
            where=Where(file="rowan.ply"),
        )
    )
    for side in SIDES
    for is_outer in (True, False)
]
MEASURED = [
    (
        "Channel 72 / 68 / 74 mm wide at front, waist and rear (± 1.9 mm), narrowest 66 mm at 210 mm "
        "behind the front edge."
    ),
    "Panels 430 mm long (± 4 mm).",
    "No twist is told: 0.3° ± 0.4°.",
    (
        "Channel 72 / 68 / 74 mm wide (± 2.1 mm) at 20 / 120 / 240 mm behind the front edge, narrowest 68 mm "
        "at 120 mm."
    ),
    "Neither twist nor which panel stands out more can be told: no rule’s lean was read.",
    "In no section does one panel stand out more than the other beyond the error (± 2.3 mm).",
    *(f"The rear is turned by 2.1° ± 0.4° against the front, {one} side up." for one in ("near", "off")),
    *(
        f"At 120 mm the {one} panel stands out 6 mm (± 2.1 mm) more than the other."
        for one in ("near", "off")
    ),
]


@pytest.mark.parametrize("said", [*LUMPS, *BULGES, *MEASURED, NOT_SEEN, *NOT_KNOWN])
def test_a_sentence_has_its_german(said: str) -> None:
    with override("de"), noting_missed() as missed:
        german = told(said)
    assert german != said
    assert missed == []


@pytest.mark.parametrize(
    "numbers", [BARS, SIDE_SADDLE, TREELESS, FLEXIBLE], ids=["bars", "side-saddle", "treeless", "flexible"]
)
def test_a_refused_family_is_told_in_german_what_to_do(numbers: SaddleNumbers) -> None:
    with pytest.raises(InputProblemsError) as refused:
        panelled_of(numbers)
    (problem,) = refused.value.problems
    with override("de"), noting_missed() as missed:
        assert told(problem.what) != problem.what
        assert told(problem.cure) != problem.cure
    assert missed == []
