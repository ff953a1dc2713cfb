"""Visits that do not belong, in words: as a whole, by places, by numbers, in both languages."""

import datetime as dt

import pytest

from saddlebench.engine.back.quantities import LENGTH
from saddlebench.engine.change.trend.belonging import OddVisit
from saddlebench.exchange.readers import Language, Reader, read_by
from saddlebench.exchange.trend_words import ODD_WHOLE, odd_visit_words, whole_days

DAY = dt.date(2026, 5, 6)


def _odd(*, whole=False, places=(), numbers=()):
    return OddVisit(day=DAY, chance=0.001, whole=whole, places=places, numbers=numbers)


def test_an_odd_visit_says_its_day_and_what_of_it():
    with read_by(Reader()):
        whole = odd_visit_words(_odd(whole=True)).replace("\u00a0", " ")
        part = odd_visit_words(_odd(places=("withers",), numbers=(LENGTH,))).replace("\u00a0", " ")
    assert whole == f"6 May 2026: {ODD_WHOLE}"
    assert part == (
        "6 May 2026: withers: several numbers together; topline: length, shoulder mark to last-rib mark"
    )


@pytest.mark.parametrize("odd", [_odd(whole=True), _odd(places=("lowest",), numbers=(LENGTH,))])
def test_an_odd_visit_is_told_in_german(odd):
    with read_by(Reader(language=Language.GERMAN)):
        told = odd_visit_words(odd).replace("\u00a0", " ")
    assert told.startswith("6. Mai 2026: ")
    assert not {"together", "whole", "lowest", "length"} & set(
        told.replace(",", " ").replace(":", " ").split()
    )


def test_only_what_is_odd_as_a_whole_need_not_be_said_again():
    assert whole_days((_odd(whole=True), _odd(places=("withers",)))) == (DAY,)
