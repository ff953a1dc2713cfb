"""A stock table in and out; problems by row and field; nothing half-read."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saddlebench.demo.stock_files import write_invented_stock
from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.shop import read_horses, read_stock
from saddlebench.exchange.stock import COLUMNS, StockItem, Whereabouts, read_items, stock_table

HEAD = "number,label,record,where,seat_in,price,currency,on_trial_with,on_trial_until\n"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shop")
    return write_invented_stock(folder, 25, seed=7)


def test_an_invented_shop_reads_back(shop: Path) -> None:
    stock = read_stock(shop)
    assert len(stock.items) == len(stock.records) == 25
    free = stock.candidates()
    assert [one.key for one in free] == [item.number for item in stock.items]
    assert all(one.label == item.label for one, item in zip(free, stock.items, strict=True))
    jumping = stock.candidates(discipline="JUMPING")
    assert 0 < len(jumping) < 25


def test_a_table_written_and_read_again_is_the_same(shop: Path) -> None:
    items = [item for _, item in read_items(shop.read_bytes(), "stock.csv")]
    more = replace(
        items[0],
        where=Whereabouts.ON_TRIAL,
        on_trial_with="=Ida, “Invented”",
        on_trial_until=dt.date(2026, 6, 1),
        price=None,
        currency="",
    )
    again = read_items(stock_table([more, *items[1:]]).encode(), "again")
    assert [item for _, item in again] == [more, *items[1:]]


TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), max_size=20)


@settings(max_examples=60, derandomize=True)
@given(number=TEXTS.filter(bool), place=TEXTS, seat=st.none() | st.floats(8.0, 24.0), condition=TEXTS)
def test_any_words_come_back(number: str, place: str, seat: float | None, condition: str) -> None:
    item = StockItem(
        number=number,
        label="x",
        record_file="a.json",
        where=Whereabouts.VAN,
        place=place,
        seat_in=None if seat is None else float(f"{seat:g}"),
        condition=condition,
    )
    ((_, read),) = read_items(stock_table([item]).encode(), "t")
    assert read == item


def test_every_problem_has_its_row_and_field(tmp_path: Path, shop: Path) -> None:
    record = next((shop.parent / "saddles").iterdir())
    (tmp_path / "good.json").write_bytes(record.read_bytes())
    (tmp_path / "bad.json").write_text("{}", encoding="utf-8")
    table = tmp_path / "stock.csv"
    rows = (
        "1,A,good.json,rack,17,,,,\n"
        "2,B,good.json,attic,seventeen,10,,,\n"
        "2,,good.json,on trial,40,,,,tomorrow\n"
        "4,D,../good.json,van,,,,,\n"
    )
    table.write_text(HEAD + rows, encoding="utf-8")
    with pytest.raises(InputProblemsError) as caught:
        read_stock(table)
    places = {(problem.where.row, problem.where.field) for problem in caught.value.problems}
    assert places == {
        *((3, "where"), (3, "seat_in"), (3, "currency"), (3, "number")),
        *((4, "label"), (4, "seat_in"), (4, "on_trial_until"), (4, "on_trial_with"), (4, "number")),
        (5, "record"),
    }
    table.write_text(HEAD + "1,A,bad.json,rack,17,,,,\n2,B,none.json,rack,17,,,,\n", encoding="utf-8")
    with pytest.raises(InputProblemsError) as caught:
        read_stock(table)
    assert {(problem.where.row, problem.where.field) for problem in caught.value.problems} == {
        (2, "record"),
        (3, "record"),
    }


def test_what_is_reserved_or_away_is_not_offered() -> None:
    here = StockItem(number="1", label="a", record_file="", where=Whereabouts.RACK)
    assert here.is_free
    assert not replace(here, reserved_for="Ida").is_free
    assert not replace(here, where=Whereabouts.ON_TRIAL, on_trial_with="Ida").is_free
    assert not replace(here, where=Whereabouts.OUT).is_free
    assert replace(here, reserved_for="Ida", place="3").where_words == "rack, 3; reserved for Ida"


def test_every_column_is_described() -> None:
    page = Path(__file__).parents[2] / "docs" / "reference" / "stock-table.md"
    text = page.read_text(encoding="utf-8")
    for name, column in COLUMNS.items():
        assert f"| `{name}` | {column.words} | {column.meaning} |" in text


def test_horses_with_faults_are_told_by_row(tmp_path: Path) -> None:
    table = tmp_path / "horses.csv"
    table.write_text("label,back,rider_kg,build\n,a.json,70,ordinary\nB,,heavy,giraffe\n", encoding="utf-8")
    with pytest.raises(InputProblemsError) as caught:
        read_horses(table)
    places = {(problem.where.row, problem.where.field) for problem in caught.value.problems}
    assert places == {(2, "label"), (2, "back"), (3, "back"), (3, "rider_kg"), (3, "build")}
