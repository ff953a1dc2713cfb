"""Twenty people at once for a minute on one process: errors, times, and whether every write was kept.

The load comes from locust in a process of its own; each person reads pages and writes one field of the same
horse, so that they meet. Every write that a page acknowledged is looked for in the records afterwards.
"""

import csv
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

PEOPLE, SECONDS = 20, 60
_HERE = Path(__file__).resolve().parent
_BROWSER_TESTS = _HERE.parent / "tests" / "browser"


def main() -> None:
    """Serve an invented practice, let the crowd in, count."""
    sys.path[:0] = [str(_BROWSER_TESTS), str(_BROWSER_TESTS.parent)]
    from browser_program import Caller, Program, free_port  # noqa: PLC0415

    folder = Path(tempfile.mkdtemp(prefix="saddlebench-crowd-"))
    home, saved = folder / "home", folder / "saved.txt"
    saved.touch()
    environment = {**os.environ, "SADDLEBENCH_HOME": str(home)}
    subprocess.run([sys.executable, str(_BROWSER_TESTS / "fill_home.py")], env=environment, check=True)  # noqa: S603
    program = Program(home=home, port=free_port(), warms=True)
    program.start()
    try:
        caller = Caller(program.url)
        caller.sign_in()
        found = re.search(r'href="/horses/([0-9a-f-]{36})/"', caller.get("/horses/?q=juniper"))
        cookie = next(one for one in caller.jar if one.name == "saddlebench_session")
        asked = {
            "CROWD_HORSE": found[1] if found else "",
            "CROWD_COOKIE": f"{cookie.name}={cookie.value}",
            "CROWD_SAVED": str(saved),
        }
        command = [
            *(sys.executable, "-m", "locust", "-f", str(_HERE / "_crowd_tasks.py"), "--headless"),
            *("--users", str(PEOPLE), "--spawn-rate", str(PEOPLE), "--run-time", f"{SECONDS}s"),
            *("--stop-timeout", "30", "--host", program.url, "--csv", str(folder / "crowd")),
            *("--only-summary", "--loglevel", "ERROR", "--exit-code-on-error", "0"),
        ]
        subprocess.run(command, env={**os.environ, **asked}, check=True, capture_output=True)  # noqa: S603
        _print(folder / "crowd_stats.csv")
        _count(saved, home / "records.sqlite3")
    finally:
        program.kill()
        shutil.rmtree(folder, ignore_errors=True)


def _print(path: Path) -> None:
    print(f"{'requests':>8} {'errors':>6} {'median ms':>9} {'95 % ms':>8}  what")
    with path.open(encoding="utf-8", newline="") as rows:
        for row in csv.DictReader(rows):
            counts = f"{row['Request Count']:>8} {row['Failure Count']:>6}"
            print(f"{counts} {row['50%']:>9} {row['95%']:>8}  {row['Name']}")


def _count(saved: Path, database: Path) -> None:
    acknowledged = saved.read_text(encoding="utf-8").splitlines()
    with sqlite3.connect(database) as records:
        rows = records.execute("SELECT value FROM practice_entry WHERE field = 'note'").fetchall()
    kept = [row[0].strip('"') for row in rows]
    lost, twice = set(acknowledged) - set(kept), len(kept) - len(set(kept))
    print(f"{len(acknowledged)} writes acknowledged, {len(lost)} lost, {twice} doubled")


if __name__ == "__main__":
    main()
