"""Many people at once on one process: no error, and every write that was called saved is there afterwards.

The short form of `benchmarks/crowd.py`; no browser is needed, the requests are a browser's all the same.
"""

import re
import sqlite3
import threading
import urllib.error
import uuid as uuids
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

from browser_program import Caller, Program

PEOPLE = 20
WRITES_EACH = 4


def test_twenty_people_write_and_read_at_once_and_nothing_is_lost(program: Program) -> None:
    first = Caller(program.url)
    first.sign_in()
    found = re.search(r'href="/horses/([0-9a-f-]{36})/"', first.get("/horses/?q=juniper"))
    assert found
    horse = found[1]
    start = threading.Barrier(PEOPLE, timeout=120)
    saved: Counter[str] = Counter()
    lock = threading.Lock()
    went_wrong: list[str] = []

    def one_person(number: int) -> None:
        caller = Caller(program.url)
        # One session for all: what is measured is the records, not the throttle of signing in.
        caller.share(first)
        token = caller.token(f"/horses/{horse}/edit/")
        start.wait()
        for turn in range(WRITES_EACH):
            value = f"person {number} turn {turn}"
            given = {"note": value, "note.was": "", "note.seen": "0", "note.key": str(uuids.uuid4())}
            try:
                said = caller.post(f"/records/horse/{horse}/field/", given, token)
            except urllib.error.HTTPError as error:
                # Two in one field: the second is told, and what was typed is kept as an entry all the same.
                if error.code != 409:
                    went_wrong.append(f"{error.code} for {value}")
                    continue
                said = error.read().decode()
            except OSError as error:
                went_wrong.append(f"{error} for {value}")
                continue
            if "saved at" not in said and "entered" not in said:
                went_wrong.append(f"{value}: {said[:200]}")
            with lock:
                saved[value] += 1
            caller.get("/horses/?q=juniper")

    with ThreadPoolExecutor(PEOPLE) as pool:
        list(pool.map(one_person, range(PEOPLE)))
    assert went_wrong == []
    assert len(saved) == PEOPLE * WRITES_EACH
    with sqlite3.connect(program.home / "records.sqlite3") as records:
        kept = Counter(
            row[0].strip('"')
            for row in records.execute("SELECT value FROM practice_entry WHERE field = 'note'")
            if "person" in row[0]
        )
    assert kept == saved
