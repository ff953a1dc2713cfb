"""One back, two practices that share nothing but a file: measured here, rebuilt and answered there."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from saddlebench.cli.output_schema import output_schema
from support.commands import Run
from support.packs import picture

HERE = Path(__file__).resolve().parent
OUTPUT = Draft202012Validator(output_schema())


def step(name: str, home: Path, shared: Path) -> Any:
    done = subprocess.run(  # noqa: S603
        [sys.executable, HERE / "pack_places.py", name, shared],
        env={**os.environ, "SADDLEBENCH_HOME": str(home)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout)


def fits_schema(command: str, result: Any) -> None:
    envelope = {"saddlebench": "x", "command": command, "done": True, "problems": [], "result": result}
    assert [error.message for error in OUTPUT.iter_errors(envelope)] == []


def test_a_back_is_measured_sent_rebuilt_proved_tried_and_answered(
    kept: Path, tmp_path: Path, run: Run
) -> None:
    shared, fitter, workshop = tmp_path / "shared", tmp_path / "fitter", tmp_path / "workshop"
    shutil.copytree(kept, shared)
    assert run("saddle", "file", shared / "saddle.json", "-o", shared / "bramble-saddle.json").exit_code == 0
    (shared / "photo.jpg").write_bytes(picture(1, 1200))
    sent = step("measure", fitter, shared)
    assert sent["pack"]["holds"]["backs"] == 1
    assert sent["pack"]["holds"]["enclosed"] > 5
    fits_schema("pack make", sent["pack"])
    fits_schema("pack key", sent["key"])

    back = step("rebuild", workshop, shared)
    assert back["check"]["key"] == "new"
    assert back["check"]["fingerprint"] == sent["key"]["fingerprint"] != back["key"]["fingerprint"]
    assert {one["fate"] for one in back["check"]["records"]} == {"new"}
    assert back["check"]["message"] == "Please build for this back."
    fits_schema("pack check", back["check"])
    spoken = " ".join(back["spoken"].split())
    for said in (
        "every byte is as Tussock Saddles (invented) signed it",
        sent["key"]["fingerprint"],
        "NOT KNOWN HERE YET",
        "Please build for this back.",
        "Nothing was written.",
    ):
        assert said in spoken
    wrongs = [" ".join(one.split()) for one in back["refusals"]]
    for wrong, said in zip(wrongs, ("no archive", "cannot be opened", "not known here yet"), strict=True):
        assert said in wrong
        assert "Traceback" not in wrong
    fits_schema("pack take", back["take"])
    assert {one["kind"] for one in back["take"]["records"]} == {"horse", "back", "saddle", "photo"}
    assert back["again"]["made"] == []
    assert back["same_bytes"]
    assert all(one["good"] for one in back["set"])
    assert back["proof"]["verdict"] == "good"
    assert back["proof"]["largest_mm"] < 2.0
    tried = back["tried"]
    assert len({one["number"] for one in (*tried["entries"], *tried["ruled_out_saddles"])}) == 3
    assert (shared / "answer.zip").is_file()

    answered = step("read", fitter, shared)
    assert answered["check"]["answers"] == sent["pack"]["pack"]
    assert answered["check"]["work_done"][0].endswith("Rebuilt on our own comb and proved: good")
    assert answered["check"]["questions"] == ["May we see her ridden in the second saddle?"]
    fits_schema("pack answer", back["answer"])
    fits_schema("pack take", answered["take"])


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["take", "junk.zip", "--same", "x=y"], 2, "no uuid"),
        (["make", "-o", "junk.zip"], 1, "already there"),
        (["make", "--back", "x", "-o", "new.zip"], 2, "no uuid"),
        (["answer", "x", "-o", "new.zip"], 2, "no uuid"),
        (["fetch", "https://yard.example/elsewhere", "-o", "new.zip"], 1, "no link to a pack"),
        (["check", "junk.zip", "--at", "no-such-folder"], 1, "there is no folder"),
    ],
)
def test_what_is_wrong_is_said_before_anything_is_looked_at(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], status: int, said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "junk.zip").write_bytes(b"junk")
    done = run("pack", *words)
    assert done.exit_code == status, done.output
    assert said in " ".join(done.output.replace("│", " ").split())
    assert [one.name for one in tmp_path.iterdir()] == ["junk.zip"]
