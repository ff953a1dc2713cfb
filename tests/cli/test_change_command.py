"""The change command: what it prints, for people and for machines, and what it refuses."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from saddlebench.cli.output_schema import output_schema
from saddlebench.exchange.records import write_back
from support.commands import Run
from support.visits import disc, visited

OUTPUT = Draft202012Validator(output_schema(), format_checker=Draft202012Validator.FORMAT_CHECKER)


@pytest.fixture(scope="module")
def backs(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Return two records of one horse, the later one fuller on the near side."""
    folder = tmp_path_factory.mktemp("backs")
    paths = (folder / "may.back.json", folder / "november.back.json")
    held = (visited(0, 1), visited(180, 3, change=disc(9.0, 150.0, 0.4, 140.0)))
    for path, back in zip(paths, held, strict=True):
        write_back(back.record, path)
    return paths


def test_the_change_is_told_in_words_with_its_cautions(backs: tuple[Path, Path], run: Run) -> None:
    done = run("change", *backs)
    assert done.exit_code == 0, done.output
    told = " ".join(done.stdout.split())
    assert "The back has changed" in told
    assert "fuller" in told
    assert "cannot be told" in told
    assert "veterinary surgeon" in told


def test_machines_get_the_same_and_pictures_and_file_are_written(
    backs: tuple[Path, Path], tmp_path: Path, run: Run
) -> None:
    out, pictures = tmp_path / "a.change.json", tmp_path / "pictures"
    done = run("change", *backs, "--json", "-o", out, "--pictures", pictures)
    assert done.exit_code == 0, done.output
    held = json.loads(done.stdout)
    assert list(OUTPUT.iter_errors(held)) == []
    result = held["result"]
    assert result["compared"]["patches"][0]["change"] > 3.0
    assert result["compared"]["strongest"] > result["compared"]["threshold"]
    assert [Path(path).exists() for path in result["written"]] == [True] * 4
    shown = run("show", out, "--json")
    assert json.loads(shown.stdout)["result"]["sentences"] == result["sentences"]
    assert list(OUTPUT.iter_errors(json.loads(shown.stdout))) == []
    again = run("change", *backs, "-o", out)
    assert again.exit_code == 1
    assert "already there" in again.output


def test_one_record_or_none_that_is_there_is_refused_in_words(
    backs: tuple[Path, Path], tmp_path: Path, run: Run
) -> None:
    alone = run("change", backs[0])
    assert alone.exit_code == 1
    assert "two back records" in alone.output
    missing = run("change", backs[0], tmp_path / "nothing.json")
    assert missing.exit_code == 1
    assert "nothing.json" in missing.output


def test_two_horses_are_an_answer_and_no_fault(backs: tuple[Path, Path], tmp_path: Path, run: Run) -> None:
    other = tmp_path / "other.back.json"
    write_back(visited(90, 2, label="Kestrel (invented)").record, other)
    done = run("change", backs[0], other)
    assert done.exit_code == 0
    assert "two horses" in " ".join(done.stdout.split())
    forced = run("change", backs[0], other, "--same-horse", "--json")
    assert json.loads(forced.stdout)["result"]["cannot_be_compared"] is None
