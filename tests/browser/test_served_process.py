"""The program as it is run: one process, killed at any moment, kept and restored from the command line.

No browser is needed here; the requests are a browser's all the same.
"""

import http.client
import json
import os
import re
import subprocess
import sys
import threading
import urllib.error
import uuid as uuids
from pathlib import Path

import pytest
from browser_program import RUN, Caller, Program, free_port


def command(home: Path, *words: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-c", RUN, *words],
        env={**os.environ, "SADDLEBENCH_HOME": str(home)},
        capture_output=True,
        text=True,
        check=False,
    )


def horse_path(caller: Caller) -> str:
    found = re.search(r'href="(/horses/[0-9a-f-]{36}/)"', caller.get("/horses/?q=juniper"))
    assert found
    return found[1]


def test_what_a_page_called_saved_outlives_a_kill_at_any_moment(program: Program) -> None:
    caller = Caller(program.url)
    caller.sign_in()
    path = horse_path(caller)
    uuid, token = path.strip("/").split("/")[1], caller.token(f"{path}edit/")
    saved: list[str] = []
    enough = threading.Event()

    def enter_on_and_on() -> None:
        seen, was = "0", ""
        for number in range(10_000):
            value = f"Breed {number}"
            given = {
                "breed": value,
                "breed.was": was,
                "breed.seen": seen,
                "breed.key": str(uuids.uuid4()),
            }
            try:
                said = caller.post(f"/records/horse/{uuid}/field/", given, token)
            except (urllib.error.URLError, ConnectionError, http.client.HTTPException):
                return
            assert "saved at" in said
            seen = re.search(r'name="breed.seen" value="(\d+)"', said)[1]  # type: ignore[index]
            was = value
            saved.append(value)
            if len(saved) >= 12:
                enough.set()

    thread = threading.Thread(target=enter_on_and_on)
    thread.start()
    assert enough.wait(60)
    program.kill()
    thread.join(60)
    assert not thread.is_alive()
    program.start()
    # The same browser, still signed in, sees the last value called saved, or the one under way after it.
    page = caller.get(path)
    shown = re.search(r"Breed (\d+)", page)
    assert shown
    assert int(shown[1]) - (len(saved) - 1) in {0, 1}
    entries = caller.get(f"/records/horse/{uuid}/entries/")
    assert all(f"<td>{value}</td>" in entries for value in saved)


def test_listens_on_this_machine_alone(program: Program) -> None:
    log = program.log.read_text(encoding="utf-8")
    assert f"http://127.0.0.1:{program.port}/" in log
    assert "Pairing code" not in log


def test_a_second_one_on_the_same_folder_is_refused_in_words(program: Program) -> None:
    second = command(program.home, "serve", "--port", str(free_port()))
    assert second.returncode == 1
    assert "is in use by another saddlebench" in second.stderr
    assert "Traceback" not in second.stderr


def test_a_port_that_is_taken_is_told(program: Program, tmp_path: Path) -> None:
    second = command(tmp_path / "home", "serve", "--port", str(program.port))
    assert second.returncode == 1
    assert "in use" in second.stderr
    assert "Traceback" not in second.stderr


def test_a_backup_of_a_running_program_is_proved_restored_and_left_with(
    program: Program, tmp_path: Path
) -> None:
    made = command(program.home, "keep", "backup", "--into", str(tmp_path / "stick"))
    assert made.returncode == 0, made.stderr
    file = Path(made.stdout.strip())
    assert file.parent == tmp_path / "stick"

    proved = command(program.home, "keep", "prove", str(file), "--json")
    proof = json.loads(proved.stdout)["result"]
    assert proof["rows"] > 100
    assert proof["tables"] > 15

    into = tmp_path / "restored"
    restored = command(program.home, "keep", "restore", str(file), str(into))
    assert restored.returncode == 0, restored.stderr
    assert "Equal" in restored.stdout
    assert (into / "records.sqlite3").is_file()

    in_use = command(program.home, "keep", "restore", str(file), "--replace")
    assert in_use.returncode == 1
    assert "in use" in in_use.stderr

    everything = tmp_path / "everything.zip"
    left = command(into, "keep", "leave", str(everything))
    assert left.returncode == 1
    assert "Gorse Saddlery" in left.stderr
    left = command(into, "keep", "leave", str(everything), "--practice", "Tussock Saddles (invented)")
    assert left.returncode == 0, left.stderr
    assert everything.is_file()
    again = command(into, "keep", "leave", str(everything), "--practice", "Tussock Saddles (invented)")
    assert again.returncode == 1
    assert "is already there" in again.stderr

    replaced = command(into, "keep", "restore", str(file), "--replace")
    assert replaced.returncode == 0, replaced.stderr
    kept = re.search(r"is kept: (.+)", replaced.stderr)
    assert kept
    assert (Path(kept[1].strip()) / "records.sqlite3").is_file()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("keep", "prove", "no-such.zip"), "is not there"),
        (("keep", "restore", "no-such.zip"), "it is not said where to restore to"),
        (("keep", "backup"), "records.sqlite3"),
        (("keep", "leave", "all.zip"), "the folder holds these practices"),
    ],
)
def test_what_cannot_be_kept_is_told(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    told = command(tmp_path / "empty", *words)
    assert told.returncode == 1
    assert said in told.stderr.replace("\n", " ")
    assert "Traceback" not in told.stderr


def test_a_damaged_backup_is_told(program: Program, tmp_path: Path) -> None:
    made = command(program.home, "keep", "backup", "--into", str(tmp_path))
    file = Path(made.stdout.strip())
    content = bytearray(file.read_bytes())
    content[len(content) // 2] ^= 0xFF
    file.write_bytes(bytes(content))
    told = command(program.home, "keep", "prove", str(file))
    assert told.returncode == 1
    assert "Do not use this file" in told.stderr
