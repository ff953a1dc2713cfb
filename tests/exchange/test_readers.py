"""Numbers, lengths and days as a reader writes them; sentences told again."""

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saddlebench.engine.days import plain_day
from saddlebench.engine.units import Length
from saddlebench.exchange.readers import Language, Reader, read_by, reader
from saddlebench.exchange.retelling import noting_missed, retold
from saddlebench.exchange.vocabulary import AMERICAN, said, speaking

GERMAN = Reader(language=Language.GERMAN)
INCHES = Reader(length=Length.INCH)
BOTH = Reader(language=Language.GERMAN, length=Length.INCH)


@pytest.mark.parametrize(
    ("written", "german", "inches"),
    [
        # 25.4 mm to the inch, exactly.
        ("254 mm", "254 mm", "10.00″"),
        ("−13 mm", "−13 mm", "−0.51″"),
        ("±2.5 mm", "±2,5 mm", "±0.10″"),
        # A tenth of a millimetre is 0.004 in: a hundredth of an inch would hide it.
        ("0.3 mm", "0,3 mm", "0.012″"),
        ("0.0 mm", "0,0 mm", "0.00″"),
        ("30 to 40 mm", "30 bis 40 mm", "1.18 to 1.57″"),
        ("120–200 mm", "120–200 mm", "4.72–7.87″"),
        # Where along a back: as a mark is set, to a tenth.
        ("140 mm in front of the mark", "140 mm in front of the mark", "5.5″ in front of the mark"),
        ("120–200 mm behind the point", "120–200 mm behind the point", "4.7–7.9″ behind the point"),
        ("9.4 kPa", "9,4 kPa", "9.4 kPa"),
        ("62%", "62\u00a0%", "62%"),
        ("3°", "3°", "3°"),
        ("12.5 cm²", "12,5 cm²", "12.5 cm²"),
        ("5 mmHg", "5 mmHg", "5 mmHg"),
    ],
)
def test_numbers_with_units(written: str, german: str, inches: str) -> None:
    assert GERMAN.quantities(written) == german
    assert INCHES.quantities(written) == inches


@given(st.integers(-3000, 3000))
@settings(max_examples=50, derandomize=True, deadline=None)
def test_inches_read_back_as_the_millimetres_shown(millimetres: int) -> None:
    told = INCHES.quantities(f"{millimetres} mm".replace("-", "\u2212"))
    back = float(told.removesuffix("″").replace("\u2212", "-")) * 25.4
    assert round(back) == millimetres


def test_days() -> None:
    assert GERMAN.day(dt.date(2026, 3, 3)) == "3.\u00a0März 2026"
    assert Reader().day(dt.date(2026, 3, 3)) == "3\u00a0March 2026"
    assert retold("03 March 2026 to 29 August 2026", GERMAN) == "3.\u00a0März 2026 bis 29.\u00a0August 2026"


def test_short_days_and_months() -> None:
    """As Duden abbreviates months, with a dot, and ordinals with one (common practice)."""
    spring, autumn = dt.date(2024, 5, 6), dt.date(2025, 9, 22)
    assert [Reader().short_day(day) for day in (spring, autumn)] == ["6 May 2024", "22 Sep 2025"]
    assert [GERMAN.short_day(day) for day in (spring, autumn)] == ["6. Mai 2024", "22. Sept. 2025"]
    assert GERMAN.short_day(autumn, with_year=False) == "22. Sept."
    assert (GERMAN.month(autumn), Reader().month(autumn)) == ("Sept. 2025", "Sep 2025")
    assert retold(plain_day(autumn), GERMAN) == GERMAN.day(autumn)


def test_other_units_of_length_are_no_readers() -> None:
    with pytest.raises(ValueError, match="millimetres or inches"):
        Reader(length=Length.CM)


@pytest.mark.parametrize(
    ("sentence", "told"),
    [
        ("Room beside the withers, near (left)", "Platz neben dem Widerrist, links"),
        ("fine 40\u00a0mm to 75\u00a0mm", "in Ordnung 40\u00a0mm bis 75\u00a0mm"),
        (
            "It is known to ±6 mm only; most of it comes from thickness of felt, fine (2).",
            "Es ist nur auf ±6 mm bekannt; das meiste davon kommt von: Dicke: felt, fine (2).",
        ),
        ("The back was not measured 20 mm behind the shoulder mark, near side.", None),
        (
            "near (left) tight from 40\u00a0mm in front of the point to 12\u00a0mm behind it, else even.",
            "links fest von 40\u00a0mm vor der Ortspitze bis 12\u00a0mm dahinter, sonst gleichmäßig.",
        ),
        ("Measure stations 3, 4 again.", "Stationen 3, 4 noch einmal messen."),
    ],
)
def test_sentences_are_told_and_names_left(sentence: str, told: str | None) -> None:
    expected = told or "Der Rücken wurde nicht gemessen: 20 mm hinter der Schultermarke, linke Seite."
    with noting_missed() as missed:
        assert retold(sentence, GERMAN) == expected
    assert missed == []


def test_lengths_inside_sentences_change_with_their_unit() -> None:
    patch = (
        "5\u00a0mm less (95\u00a0% 4 to 6), 90\u00a0mm down the near (left) side, "
        "160\u00a0mm behind the shoulder mark, over about 150\u00a0mm"
    )
    told = retold(patch, BOTH)
    assert told.replace("\u00a0", " ") == (
        "0,20″ weniger (95 %: 0,16 bis 0,24), 3,54″ links abwärts, 6,3″ hinter der Schultermarke, "
        "über etwa 5,91″"
    )
    assert retold("-0.2\u00a0mm (-5.0 to +4.5)", INCHES) == "-0.008″ (-0.20 to +0.18)"
    assert retold("-111\u00a0cm³ (-324 to +102)", BOTH) == "-111\u00a0cm³ (-324 bis +102)"


@pytest.mark.parametrize(
    ("written", "inches"),
    [
        ("+12 mm (+2.9 to +21 mm)", "+0,47″ (+0,11 bis +0,83″)"),
        ("+12.0 mm (+2.9 to +21.0)", "+0,47″ (+0,11 bis +0,83)"),
        ("+0.1° (-0.5 to +0.7°)", "+0,1° (-0,5 bis +0,7°)"),
        ("+445 cm³ (-599 to +1488 cm³)", "+445 cm³ (-599 bis +1488 cm³)"),
    ],
)
def test_both_ends_of_an_interval_change_with_its_unit(written: str, inches: str) -> None:
    assert retold(written, BOTH) == inches


def test_what_the_catalogue_lacks_is_said_in_english_and_noted() -> None:
    with noting_missed() as missed:
        assert retold("Nobody ever said this, 25.4 mm wide.", BOTH) == "Nobody ever said this, 1,00″ wide."
    assert missed == ["Nobody ever said this, 25.4 mm wide."]


def test_the_reader_is_of_this_task_alone() -> None:
    assert said("withers") == "withers"
    with read_by(GERMAN):
        assert reader() is GERMAN
        assert said("withers") == "Widerrist"
        with speaking(AMERICAN):
            assert said("withers") == "Widerrist"
    assert said("withers") == "withers"


def test_american_words_go_with_inches() -> None:
    with read_by(INCHES), speaking(AMERICAN):
        assert said("girth straps ahead of the girth groove") == "billets ahead of the girth groove"


@given(st.text(max_size=60))
@settings(max_examples=150, derandomize=True, deadline=None)
def test_any_text_is_told_without_an_error(text: str) -> None:
    for one in (GERMAN, INCHES, BOTH):
        assert isinstance(retold(text, one), str)
