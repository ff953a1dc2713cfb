"""The pages' core once more on a real PostgreSQL server, where the machine has its binaries."""

from pathlib import Path

from support.postgresql import passed_on, running_server

HERE = Path(__file__).parent
CORE = ("records", "queries", "errors", "crossing", "jobs")


def test_the_pages_tests_pass_on_postgresql() -> None:
    with running_server() as server:
        files = [HERE / f"test_web_{name}.py" for name in CORE]
        files.append(HERE / "visit" / "test_web_visit_steps.py")
        assert passed_on(server, files) >= 90
