"""Plans and work orders by command: from a back, from a fit check, by hand; and what is refused."""

import json
from pathlib import Path
from typing import Any

import pypdf
import pytest
from click.testing import Result
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

from saddlebench.cli.app import app
from saddlebench.cli.output_schema import output_schema
from saddlebench.demo.files import write_saddle_file
from saddlebench.demo.saddles import saddle
from saddlebench.exchange.records import read_order, read_plan, read_study
from support.commands import Run

OUTPUT = Draft202012Validator(output_schema(), format_checker=Draft202012Validator.FORMAT_CHECKER)


def told(done: Result) -> dict[str, Any]:
    assert done.exit_code == 0, done.output
    held: dict[str, Any] = json.loads(done.stdout)
    assert list(OUTPUT.iter_errors(held)) == []
    result: dict[str, Any] = held["result"]
    return result


@pytest.fixture(scope="module")
def folder(kept: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a back, a badly flocked saddle, its fit check and its plan."""
    made = tmp_path_factory.mktemp("altering")
    runner = CliRunner()
    write_saddle_file(saddle("invented saddle, flat in front"), made / "saddle-file.json")
    write_saddle_file(saddle("invented treeless saddle"), made / "treeless-file.json")
    for words in (
        ["back", "table", kept / "readings.csv", "-s", kept / "sheet.toml", "-o", made / "back.json"],
        ["saddle", "file", made / "saddle-file.json", "-o", made / "saddle.json"],
        ["saddle", "file", made / "treeless-file.json", "-o", made / "treeless.json"],
        ["fit", made / "back.json", made / "saddle.json", "--rider", 70, "--tries", 0,
         "-o", made / "fit.json"],
        ["alter", made / "back.json", made / "saddle.json", "--rider", 70, "--tries", 16, "-o",
         made / "plan.json", "--after", made / "after.json", "--picture", made / "both.svg"],
    ):  # fmt: skip
        done = runner.invoke(app, [str(word) for word in words])
        assert done.exit_code == 0, done.output
    return made


def test_a_saddle_flat_in_front_is_raised_there_and_lowered_behind(folder: Path) -> None:
    plan = read_plan(folder / "plan.json")
    for fill in (plan.alteration.fill_left, plan.alteration.fill_right):
        assert min(fill.inner_mm[0], fill.outer_mm[0]) >= 3.0
        assert max(fill.inner_mm[3], fill.outer_mm[3]) <= 0.0
    assert plan.misfit_after < 0.5 * plan.misfit_before
    assert plan.tries == 16
    drawn = (folder / "both.svg").read_text(encoding="utf-8")
    assert "Pressure before and after" in drawn
    assert "Before: Seen from above" in drawn
    assert any("veterinary" in caution for caution in plan.cautions)
    altered = read_study(folder / "after.json")
    after = {part.after.name: part.after.as_computed for part in plan.changes}
    assert {
        finding.name: finding.as_computed for finding in altered.findings if finding.name in after
    } == after


def test_the_same_plan_from_the_fit_check_by_machine(folder: Path, run: Run) -> None:
    result = told(run("alter", folder / "fit.json", folder / "saddle.json", "--json"))
    stored = read_plan(folder / "plan.json")
    # a file keeps its surface rounded
    assert result["misfit"]["before"] == pytest.approx(stored.misfit_before, rel=1e-3)
    assert result["misfit"]["after"] == pytest.approx(stored.misfit_after, rel=1e-3)
    assert result["tries"] == 0
    assert all(line["tolerance_bench_mm"] == 3.0 for line in result["work"])
    assert all(one["after"]["agreeing"] is None for one in result["findings"])


def test_what_is_set_by_hand_is_what_is_looked_at(folder: Path, run: Run) -> None:
    words = ["alter", folder / "fit.json", folder / "saddle.json", "--json"]
    result = told(run(*words, "--set", "near front +6", "--set", "off front 6 mm", "--set", "arch -5"))
    assert result["by_hand"] is True
    assert [line["place"] for line in result["work"]] == ["near front", "off front"]
    assert [line["bench_mm"] for line in result["work"]] == [7.0, 7.0]
    assert result["others"] == ["front arch 5 mm narrower between the point ends"]
    withers = next(one for one in result["findings"] if one["finding"] == "withers, top, rider up")
    assert withers["after"]["number"]["value"] > withers["before"]["number"]["value"] + 4.0


def test_an_order_says_what_where_by_when_and_the_sheet_prints_it(
    folder: Path, tmp_path: Path, run: Run
) -> None:
    done = run(
        "order", folder / "plan.json", folder / "saddle.json", "--number", "17",
        "--back", folder / "fit.json", "-o", tmp_path / "order.json",
        "--pdf", tmp_path / "order.pdf", "--drawing", tmp_path / "under.svg",
        "--due", "2026-12-18", "--today", "2026-11-28", "--unsafe", "off strap: stitching",
        "--leave", "the lacing", "--price-limit", "180", "--json",
    )  # fmt: skip
    result = told(done)
    order = read_order(tmp_path / "order.json")
    assert result["number"] == order.number == "17"
    assert order.due_on is not None
    assert order.due_on.isoformat() == "2026-12-18"
    assert order.unsafe_first == ("off strap: stitching",)
    assert order.on_replica is not None
    assert not order.is_done
    pages = pypdf.PdfReader(tmp_path / "order.pdf").pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert text.index("stitching") < text.index("What to do")
    for words in (
        "Work order 17",
        "near front",
        "the lacing",
        "18 December 2026",
        "On the hard replica",
        "Cautions",
    ):
        assert words in text.replace("\u00a0", " ")
    for line in order.work:
        assert f"{line.bench_mm:+.0f} mm ±3".replace("-", "\u2212") in text.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["--set", "nearr front +3"], 1, "was not understood"),
        (["--set", "near front +99"], 1, "more than 40"),
        (["--set", "straps wither strap"], 1, "no girth strap called"),
        (["--aim", "odd"], 2, "bigger-shoulder"),
    ],
)
def test_what_is_not_understood_is_refused_in_words(
    folder: Path, run: Run, words: list[str], status: int, said: str
) -> None:
    done = run("alter", folder / "fit.json", folder / "saddle.json", *words)
    assert done.exit_code == status
    assert said in " ".join(done.output.split())
    assert "Traceback" not in done.output


def test_a_back_needs_a_rider_and_a_treeless_saddle_gets_an_answer(folder: Path, run: Run) -> None:
    assert run("alter", folder / "back.json", folder / "saddle.json").exit_code == 2
    result = told(run("alter", folder / "back.json", folder / "treeless.json", "--rider", 70, "--json"))
    assert "cannot be judged" in result["cannot_be_planned"]


def test_a_plan_is_no_saddle_and_an_order_needs_a_plan(folder: Path, run: Run) -> None:
    done = run("order", folder / "saddle.json", folder / "saddle.json", "--number", "1")
    assert done.exit_code == 1
    assert "alteration plan" in done.output
