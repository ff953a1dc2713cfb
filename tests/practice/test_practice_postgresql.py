"""The record tests once more on a real PostgreSQL server, where the machine has its binaries."""

import os
import subprocess
import sys
from pathlib import Path

from support.postgresql import passed_on, running_server

HERE = Path(__file__).parent
RECORD_TESTS = (
    *("taking_on", "entering", "written_once", "records", "search", "search_same"),
    *("pages", "withdrawing", "erasing", "at_once"),
)


def test_the_record_tests_pass_on_postgresql() -> None:
    with running_server() as server:
        files = [HERE / f"test_practice_{name}.py" for name in RECORD_TESTS]
        assert passed_on(server, files) >= 90


# Another folder each, so that only the database itself can tell that somebody serves it already.
SERVES = """
import sys
from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice.start import set_up
set_up()
from saddlebench.practice.keeping.lock import hold_database
try:
    with hold_database():
        print("held", flush=True)
        sys.stdin.read()
except InputProblemsError as error:
    print(error.problems[0].what, flush=True)
"""


def serving(server: str, home: Path) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, "-c", SERVES],
        env={**os.environ, "SADDLEBENCH_HOME": str(home), "SADDLEBENCH_DATABASE_URL": server},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )


def test_a_second_process_on_the_same_server_is_refused_until_the_first_is_gone(tmp_path: Path) -> None:
    with running_server() as server:
        first = serving(server, tmp_path / "first")
        assert first.stdout is not None
        assert first.stdout.readline() == "held\n"
        second = serving(server, tmp_path / "second")
        assert second.communicate(timeout=60)[0] == "another saddlebench serves the same database\n"
        # However it ended: nobody has to tidy up after it.
        first.kill()
        first.communicate(timeout=60)
        third = serving(server, tmp_path / "third")
        assert third.communicate(timeout=60)[0] == "held\n"
