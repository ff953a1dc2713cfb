"""Body weight from girth and length: girth² × length / 11 900 (cm, kg).

Source: Carroll CL, Huntington PJ (1988) Body condition scoring and weight estimation of horses,
Equine Veterinary Journal 20:41-45 (281 horses). The imperial form printed by extension services,
girth² × length / 330 (inches, pounds), is the same formula: 330 lb·in³ is 11 922 kg·cm³.
Also: Henneke DR et al. (1983), Equine Veterinary Journal 15:371-372, the nine-point condition score.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice.estimates import AREAS, SCALE, carried_share, estimate_weight, firmness_kpa_mm
from saddlebench.practice.estimates.firmness import disc_pressure_kpa
from saddlebench.practice.estimates.weight import DIVISOR_CM3_KG

CM_PER_INCH = 2.54
KG_PER_LB = 0.45359237


@pytest.mark.parametrize(
    ("girth_cm", "length_cm", "mass_kg"),
    [
        (76 * CM_PER_INCH, 65 * CM_PER_INCH, 517.0),
        (180, 160, 435.6),
        (190, 170, 515.7),
    ],
)
def test_worked_examples(girth_cm: float, length_cm: float, mass_kg: float) -> None:
    # Half of the last printed digit.
    assert estimate_weight(girth_cm, length_cm).mass_kg == pytest.approx(mass_kg, abs=0.05)


def test_the_imperial_form_is_the_same_formula() -> None:
    imperial_kg = 76**2 * 65 / 330 * KG_PER_LB
    assert imperial_kg == pytest.approx(516.1, abs=0.05)  # the printed example, half its last digit
    metric_kg = estimate_weight(76 * CM_PER_INCH, 65 * CM_PER_INCH).mass_kg
    # 330 is printed as a round number: in kg·cm³ it is 11 922, 0.18 % above 11 900.
    assert metric_kg / imperial_kg == pytest.approx(11_922 / DIVISOR_CM3_KG, rel=1e-4)


@given(st.floats(50, 280), st.floats(40, 260), st.floats(1.01, 1.2))
def test_a_horse_that_is_larger_every_way_is_heavier_by_the_cube(
    girth: float, length: float, by: float
) -> None:
    if girth * by <= 280 and length * by <= 260:
        ratio = estimate_weight(girth * by, length * by).mass_kg / estimate_weight(girth, length).mass_kg
        assert ratio == pytest.approx(by**3, rel=1e-9)  # rounding of four multiplications


@pytest.mark.parametrize(
    ("girth", "length"), [(0, 160), (180, 0), (71, 1600), (float("nan"), 160), (1e9, 1e9)]
)
def test_measures_no_horse_has_are_refused(girth: float, length: float) -> None:
    with pytest.raises(InputProblemsError):
        estimate_weight(girth, length)


def test_inches_by_mistake_in_both_are_named_both() -> None:
    with pytest.raises(InputProblemsError) as caught:
        estimate_weight(30, 30)
    assert [problem.where.field for problem in caught.value.problems] == ["heart girth", "body length"]


def test_what_is_carried_is_a_share_of_the_horse() -> None:
    assert carried_share(75, 500) == 0.15
    with pytest.raises(InputProblemsError):
        carried_share(75, 0)


def test_the_condition_score_is_the_published_scale() -> None:
    assert [point.score for point in SCALE] == list(range(1, 10))
    assert (SCALE[0].word, SCALE[4].word, SCALE[-1].word) == ("poor", "moderate", "extremely fat")
    assert len(AREAS) == 6


def test_five_kilograms_on_a_fifty_millimetre_disc_are_25_kpa() -> None:
    # 49.05 N over 1963.5 mm² is 24.98 kPa, which the trade rounds to 25.
    assert disc_pressure_kpa() == pytest.approx(25, abs=0.05)
    assert firmness_kpa_mm(20) == pytest.approx(1.25, abs=0.0025)
    with pytest.raises(InputProblemsError):
        firmness_kpa_mm(0)
