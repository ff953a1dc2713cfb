"""The record tests once more on a real PostgreSQL server, where the machine has its binaries."""

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
