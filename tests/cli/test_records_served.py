"""The real command against a really served process, and against its folder: the same answers either way."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from saddlebench.cli.output_schema import output_schema
from support.served import RUN, served

HERE = Path(__file__).resolve().parent
PRACTICE = "Tussock Saddles (invented)"
OUTPUT = Draft202012Validator(output_schema())


@dataclass(frozen=True)
class Place:
    """A data folder, the server on it, and what is in it."""

    home: Path
    address: str
    told: dict[str, Any]

    def token_file(self, whose: str, folder: Path) -> Path:
        file = folder / f"{whose}.token"
        file.touch(mode=0o600)
        file.write_text(self.told[whose], encoding="utf-8")
        return file

    def run(self, *words: object, **more: str) -> "subprocess.CompletedProcess[str]":
        env = {name: value for name, value in os.environ.items() if not name.startswith("SADDLEBENCH_TOKEN")}
        return subprocess.run(  # noqa: S603
            [sys.executable, "-c", RUN, "records", *map(str, words)],
            env={**env, "SADDLEBENCH_HOME": str(self.home), "COLUMNS": "200", **more},
            capture_output=True,
            text=True,
            check=False,
        )

    def over(self, *words: object, whose: str = "owner") -> "subprocess.CompletedProcess[str]":
        """Run a command against the server."""
        return self.run(*words, "--at", self.address, SADDLEBENCH_TOKEN=self.told[whose])

    def inside(self, *words: object) -> "subprocess.CompletedProcess[str]":
        """Run a command against the folder."""
        return self.run(*words, "--at", self.home, "--practice", PRACTICE)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Place]:
    home = tmp_path_factory.mktemp("records") / "home"
    home.mkdir()
    filled = subprocess.run(  # noqa: S603
        [sys.executable, HERE / "records_home.py"],
        env={**os.environ, "SADDLEBENCH_HOME": str(home)},
        capture_output=True,
        text=True,
        check=True,
    )
    with served(home) as address:
        yield Place(home, address, json.loads(filled.stdout))


def test_folder_and_server_answer_the_same(place: Place) -> None:
    horse = place.told["uuids"]["horse"]
    for words in (("list", "horses"), ("show", "horses", horse, "--json"), ("find", "fernlea")):
        inside, over = place.inside(*words), place.over(*words)
        assert inside.returncode == over.returncode == 0, inside.stderr + over.stderr
        assert inside.stdout == over.stdout
        assert "Juniper" in inside.stdout
        assert "Thistle" not in inside.stdout


def test_a_back_is_brought_fetched_and_brought_again(place: Place, tmp_path: Path) -> None:
    horse, file = place.told["uuids"]["horse"], tmp_path / "back.json"
    file.write_text(place.told["back"], encoding="utf-8")
    first = place.over("put", "backs", file, "--horse", horse)
    assert first.returncode == 0, first.stderr
    uuid = first.stdout.strip()
    again = place.inside("put", "backs", file, "--horse", horse)
    assert again.stdout.strip() == uuid
    out = tmp_path / "again.json"
    assert place.over("get", "backs", uuid, "-o", out).returncode == 0
    assert out.read_bytes() == file.read_bytes()
    kept = place.over("get", "backs", uuid, "-o", out)
    assert kept.returncode == 1
    assert "already there" in kept.stderr
    listed = place.over("list", "backs", "--horse", horse, "--json")
    told = json.loads(listed.stdout)
    OUTPUT.validate(told)
    assert [row["uuid"] for row in told["result"]["rows"]].count(uuid) == 1


def test_values_are_fetched_changed_and_a_late_change_is_told_both(place: Place, tmp_path: Path) -> None:
    horse, file = place.told["uuids"]["horse"], tmp_path / "juniper.json"
    assert place.over("get", "horses", horse, "-o", file).returncode == 0
    held = json.loads(file.read_text(encoding="utf-8"))
    held["values"]["colour"] = "bay"
    file.write_text(json.dumps(held), encoding="utf-8")
    for _ in range(2):
        done = place.over("put", "horses", file)
        assert done.returncode == 0, done.stderr
    held["values"]["colour"] = "grey"
    file.write_text(json.dumps(held), encoding="utf-8")
    late = place.inside("put", "horses", file)
    assert late.returncode == 1
    assert "“grey”" in late.stderr
    assert "“bay”" in late.stderr
    assert "Orla Invented" in late.stderr


def test_what_a_server_refuses_is_said_in_sentences(place: Place, tmp_path: Path) -> None:
    new = tmp_path / "new.json"
    new.write_text('{"values": {"label": "Bracken", "born_in": 1492}}', encoding="utf-8")
    cases = (
        (
            place.over("list", "horses", whose="ended"),
            "does not take this token",
            "Tokens for other programs",
        ),
        (place.over("put", "horses", new, whose="reader"), "not allowed", "Edit horses"),
        (place.over("show", "horses", place.told["elsewhere"]), "is not there", "withdrawn"),
        (place.over("put", "horses", new), "Year of birth", "1960"),
        (place.run("list", "horses", "--at", place.address), "wants a token", "SADDLEBENCH_TOKEN_FILE"),
    )
    for done, *said in cases:
        assert done.returncode == 1, done.stdout
        assert done.stdout == ""
        assert "Traceback" not in done.stderr
        for words in said:
            assert words in " ".join(done.stderr.split()), done.stderr


def test_the_token_comes_from_a_file_of_ones_own(place: Place, tmp_path: Path) -> None:
    file = place.token_file("owner", tmp_path)
    done = place.run("list", "saddles", "--at", place.address, "--token-file", file)
    assert done.returncode == 0, done.stderr
    assert "Juniper's brown jumping" in done.stdout
    file.chmod(0o644)
    refused = place.run("list", "saddles", "--at", place.address, "--token-file", file)
    assert refused.returncode == 1
    assert "others can read the token" in refused.stderr
    assert place.told["owner"] not in refused.stderr
