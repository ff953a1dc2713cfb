"""Stock, shortlist and season by command: words, JSON, bad input, Ctrl-C."""

import datetime as dt
import json
import signal
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

from saddlebench.cli.app import app
from saddlebench.cli.choosing import stopped_by_ctrl_c
from saddlebench.cli.output_schema import output_schema
from saddlebench.demo.shapes import WIDE_COB
from saddlebench.demo.stock import FOR_THE_COB
from saddlebench.engine.back.backwards import readings_of, sections_of_surface
from saddlebench.engine.back.instruments import PinComb, Scale
from saddlebench.engine.back.record import BackRecord
from saddlebench.exchange.records import write_back

OUTPUT = Draft202012Validator(output_schema())
COMB = PinComb(
    name="invented comb",
    pitch_mm=15.0,
    n_pins=41,
    midline_pin=21.0,
    scale=Scale(lowest=0.0, highest=600.0, step=1.0),
)


def run(*words: object, status: int = 0) -> str:
    result = CliRunner().invoke(app, [str(word) for word in words])
    assert result.exit_code == status, result.output
    return result.stdout


def run_json(*words: object, status: int = 0) -> dict:
    told = json.loads(run(*words, "--json", status=status))
    OUTPUT.validate(told)
    return told


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("choosing")
    told = run_json("stock", "invent", folder / "shop", "-n", 30)
    assert told["result"]["saddles"] == 30
    record = BackRecord(
        label="Dumpling (invented)",
        measured_on=dt.date(2026, 5, 3),
        instrument=COMB,
        readings=readings_of(sections_of_surface(WIDE_COB.surface()), COMB, list(range(-120, 600, 70))),
        landmarks=WIDE_COB.landmarks,
    )
    write_back(record, folder / "dumpling.back.json")
    (folder / "horses.csv").write_text("label,back,rider_kg,build\nDumpling,dumpling.back.json,82,cob\n")
    return folder


def test_a_shortlist_finds_the_cobs_saddles(shop: Path) -> None:
    told = run_json(
        *("shortlist", shop / "dumpling.back.json", shop / "shop" / "stock.csv", "--rider", 82),
        *("--build", "cob", "--length", 2, "--tries", 4, "--workers", 1, "-o", shop / "list.json"),
        *("--picture", shop / "order.svg"),
    )
    result = told["result"]
    assert {one["first_saddle"] for one in result["order"]} <= {result["entries"][0]["saddle"]}
    assert (shop / "order.svg").is_file() == bool(result["order"])
    assert result["complete"]
    assert {one["saddle"] for one in result["entries"]} == set(FOR_THE_COB)
    first = result["entries"][0]
    assert first["looked_at"] == "in full"
    assert len(first["for"]) == 3
    assert len(first["against"]) == 3
    assert len(first["findings"]) > 20
    assert first["where"].startswith("rack ")
    assert json.loads((shop / "list.json").read_text()) == result
    assert any("not a diagnosis" in caution for caution in result["cautions"])


def test_the_season_and_the_horses_for_a_saddle(shop: Path) -> None:
    season = ("season", shop / "horses.csv", shop / "shop" / "stock.csv", "--workers", 1)
    told = run_json(*season, "--length", 1)["result"]
    assert (told["complete"], told["done"]) == (True, 1)
    (found,) = told["lists"]
    best = found["entries"][0]
    assert best["saddle"] in FOR_THE_COB
    one = run_json(*season, "--saddle", best["number"])["result"]
    assert [horse["horse"] for horse in one["horses"]] == ["Dumpling"]
    words = run(*season, "--length", 1)
    assert best["saddle"] in words.replace("\n", " ")


def test_own_weights_and_limits_are_named_in_the_result(shop: Path, tmp_path: Path) -> None:
    own = tmp_path / "our.choosing.toml"
    run_json("stock", "rules", "--practice", "Fernlea (invented)", "--version", "2026-03", "-o", own)
    asked = ("season", shop / "horses.csv", shop / "shop" / "stock.csv", "--workers", 1, "--choosing", own)
    (found,) = run_json(*asked)["result"]["lists"]
    assert found["hard_limits"]["source"] == "Fernlea (invented), version 2026-03"
    assert "Fernlea (invented), version 2026-03" in found["cost"]["words"][-1]
    text = own.read_text(encoding="utf-8")
    own.write_text(text.replace("width_mm = 30", "width_mm = 0"), encoding="utf-8")
    (narrower,) = run_json(*asked)["result"]["lists"]
    assert sum(narrower["ruled_out"].values()) > sum(found["ruled_out"].values())
    own.write_text(text.replace("width_mm = 30", "width_mm = -3"), encoding="utf-8")
    told = run_json(*asked, status=1)
    assert told["problems"][0]["where"]["field"].startswith("limits")


def test_stock_is_checked_and_labelled(shop: Path, tmp_path: Path) -> None:
    table = shop / "shop" / "stock.csv"
    assert run_json("stock", "check", table)["result"] == {"saddles": 30, "free": 30, "where": {"rack": 30}}
    number = table.read_text(encoding="utf-8").splitlines()[1].split(",")[0]
    run_json("stock", "label", table, number, "-o", tmp_path / "label.pdf")
    run_json("stock", "label", table, number, "-o", tmp_path / "code.png")
    assert (tmp_path / "label.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "code.png").read_bytes().startswith(b"\x89PNG")


def test_bad_input_is_told_and_never_a_traceback(shop: Path, tmp_path: Path) -> None:
    table = tmp_path / "stock.csv"
    table.write_text("number,label,record,where\n1,A,none.json,rack\n", encoding="utf-8")
    told = run_json("stock", "check", table, status=1)
    assert told["problems"][0]["where"] == {"file": str(table), "row": 2, "field": "record"}
    stock = shop / "shop" / "stock.csv"
    told = run_json("stock", "label", stock, "nothing", "-o", tmp_path / "a.pdf", status=1)
    assert "no saddle nothing" in told["problems"][0]["what"]
    told = run_json("stock", "invent", shop, status=1)
    assert told["problems"][0]["what"] == "is not empty"
    asked = ("shortlist", shop / "dumpling.back.json", shop / "shop" / "stock.csv", "--rider", 82)
    told = run_json(*asked, "--cluster", "tcp://127.0.0.1:9", status=1)
    assert told["problems"][0]["where"]["field"] == "cluster"


def test_the_first_ctrl_c_stops_softly_and_the_second_at_once() -> None:
    before = signal.getsignal(signal.SIGINT)
    with stopped_by_ctrl_c() as stop:
        assert not stop()
        signal.raise_signal(signal.SIGINT)
        assert stop()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is before


def test_stopped_by_ctrl_c_a_list_is_partial(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from saddlebench.exchange import shop as shops  # noqa: PLC0415

    read = shops.read_stock

    def read_and_interrupt(path: Path) -> shops.Stock:
        signal.raise_signal(signal.SIGINT)
        return read(path)

    monkeypatch.setattr(shops, "read_stock", read_and_interrupt)
    asked = ("shortlist", shop / "dumpling.back.json", shop / "shop" / "stock.csv", "--rider", 82)
    told = run_json(*asked, "--workers", 1)["result"]
    assert not told["complete"]
    assert "partial" in told["work_words"][0]
    assert all(one["looked_at"] == "quick pass only" for one in told["entries"])
    assert "(partial)" in run(*asked, "--workers", 1)
