"""The demo's practice from the invented yard's files, as `saddlebench serve --demo` fills it."""

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_program import Caller, Program, free_port

from saddlebench.demo.folder import fresh_home, is_complete
from saddlebench.demo.yard import YARD


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Stand-ins for the files that the demo's job writes: what they say is that job's tests' matter."""
    folder = tmp_path_factory.mktemp("yard")
    names = {"back": "back record", "saddle": "saddle record", "fit": "fit check"}
    for horse in YARD:
        (folder / horse.slug).mkdir()
        for file, name in names.items():
            record = {"format": f"saddlebench {name}", "version": 1, "label": horse.name}
            (folder / horse.slug / f"{file}.json").write_text(json.dumps(record), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def demo(yard: Path) -> Iterator[Program]:
    more = ("--demo", "--demo-folder", str(yard))
    running = Program(home=yard / "elsewhere", port=free_port(), more=more)
    running.start()
    yield running
    running.kill()


def test_the_demo_is_signed_in_to_with_the_printed_password(demo: Program) -> None:
    log = demo.log.read_text(encoding="utf-8")
    printed = re.search(r"Sign in as (\S+) with the throw-away password (\S+)", log)
    assert printed
    caller = Caller(demo.url)
    given = {"sign-in-email": printed[1], "sign-in-password": printed[2]}
    today = caller.post("/sign-in/", given, caller.token("/sign-in/"))
    assert "(invented)" in today
    assert today.count("today, ") == 3
    horses = caller.get("/horses/")
    assert all(horse.name in horses for horse in YARD)


def test_the_demo_folder_is_made_anew_and_nobody_elses_folder_is_touched(tmp_path: Path) -> None:
    home = fresh_home(tmp_path)
    (home / "left-over").touch()
    assert not (fresh_home(tmp_path) / "left-over").exists()
    shutil.rmtree(home)
    home.mkdir()
    (home / "somebody's").touch()
    with pytest.raises(FileExistsError):
        fresh_home(tmp_path)
    assert (home / "somebody's").exists()


def test_a_yard_that_lacks_a_file_is_run_again(yard: Path, tmp_path: Path) -> None:
    copy = tmp_path / "yard"
    shutil.copytree(yard, copy, ignore=shutil.ignore_patterns("practice"))
    assert is_complete(copy)
    (copy / YARD[0].slug / "fit.json").unlink()
    assert not is_complete(copy)
