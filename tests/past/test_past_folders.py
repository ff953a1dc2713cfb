"""Folders and backups as earlier versions left them: brought to this version, restored into it, left with.

`make_folder.py` says how they were made. Each is opened by the program as a process, as its user would.
"""

import csv
import io
import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from saddlebench.practice.keeping.database import check_database, contents

FOLDERS = Path(__file__).parent / "folders"
VERSIONS = sorted(path.stem.removeprefix("folder-") for path in FOLDERS.glob("folder-*.zip"))
RUN = "from saddlebench.cli import main; main()"
LOOK = """
import os
os.environ["DJANGO_SETTINGS_MODULE"] = "saddlebench.web.settings"
from saddlebench.practice.start import start
print(len(start()))
from django.conf import settings
from django.test import Client
settings.ALLOWED_HOSTS.append("testserver")
browser = Client()
given = {"sign-in-email": "orla@tussock.example", "sign-in-password": "invented-pass-phrase"}
assert browser.post("/sign-in/", given).status_code == 302
print("Juniper" in browser.get("/horses/?q=9850001").content.decode())
print("Juniper" in browser.get("/").content.decode())
"""
FAILING = """
from saddlebench.practice.start import set_up, start
set_up()
from importlib import import_module
from django.db import migrations
def fail(*_all): raise RuntimeError("the step fails")
step = import_module("saddlebench.practice.migrations.{last}").Migration
step.operations = [*step.operations, migrations.RunPython(fail)]
start()
"""


def run(home: Path, code: str, *words: str) -> "subprocess.CompletedProcess[str]":
    kept = {k: v for k, v in os.environ.items() if not k.startswith("DJANGO_")}
    return subprocess.run(  # noqa: S603
        [sys.executable, "-c", code, *words],
        env={**kept, "SADDLEBENCH_HOME": str(home)},
        capture_output=True,
        text=True,
        check=False,
    )


def unpacked(version: str, home: Path) -> Path:
    with zipfile.ZipFile(FOLDERS / f"folder-{version}.zip") as archive:
        archive.extractall(home)
    return home


def last_step() -> str:
    steps = Path(__file__).parents[2] / "src" / "saddlebench" / "practice" / "migrations"
    return max(path.stem for path in steps.glob("0*.py"))


def test_there_are_folders_of_earlier_versions() -> None:
    assert "da2f5d9" in VERSIONS
    assert all((FOLDERS / f"backup-{version}.zip").is_file() for version in VERSIONS)


@pytest.mark.parametrize("version", VERSIONS)
def test_a_failed_step_leaves_the_folder_as_it_was_and_the_next_try_brings_it_up(
    version: str, tmp_path: Path
) -> None:
    home = unpacked(version, tmp_path / "home")
    database = home / "records.sqlite3"
    before = contents(database)
    failed = run(home, FAILING.format(last=last_step()))
    assert failed.returncode != 0
    assert "Nothing was changed" in failed.stderr
    assert "the step fails" in failed.stderr
    assert contents(database) == before
    check_database(database)
    assert list(home.glob("*.new*")) == []

    looked = run(home, LOOK)
    assert looked.returncode == 0, looked.stderr
    steps, found, on_home = looked.stdout.split()
    assert (int(steps) > 0, found, on_home) == (True, "True", "True")
    after = contents(database)
    # Steps add rows of their own (kinds of records, permissions), and signing in does; a person's all stay.
    assert all(after[name].rows >= content.rows for name, content in before.items())
    same = ("client", "horse", "saddle", "visit", "photo", "backversion", "saddleversion", "studyversion")
    assert all(after[f"practice_{one}"].rows == before[f"practice_{one}"].rows > 0 for one in same)
    # One from before the step that failed, one from before those that did not.
    assert len(list((home / "backups").glob("*upgrade*.zip"))) == 2


@pytest.mark.parametrize("version", VERSIONS)
def test_an_old_backup_restores_into_this_version_and_everything_can_be_taken_away(
    version: str, tmp_path: Path
) -> None:
    restored, elsewhere = tmp_path / "restored", tmp_path / "elsewhere"
    told = run(
        elsewhere, RUN, "keep", "restore", str(FOLDERS / f"backup-{version}.zip"), str(restored), "--json"
    )
    assert told.returncode == 0, told.stderr
    proof = json.loads(told.stdout)["result"]
    assert proof["files"] == 1
    assert proof["rows"] > 30
    left = run(restored, RUN, "keep", "leave", str(tmp_path / "everything.zip"))
    assert left.returncode == 0, left.stderr
    with zipfile.ZipFile(tmp_path / "everything.zip") as archive:
        names = set(archive.namelist())
        horses = list(csv.DictReader(io.StringIO(archive.read("tables/horse.csv").decode("utf-8-sig"))))
        assert json.loads(archive.read("json/job.json")) == []
    assert [row["label"] for row in horses] == ["Juniper"]
    assert sum(name.startswith("photos/") for name in names) == 1
    for folder in ("backs/", "saddles/", "fit-checks/"):
        assert any(name.startswith(folder) for name in names), folder
