"""What one person of the crowd does, for the load tool: reads, writes, notes what was called saved."""

import itertools
import os
import re
import uuid as uuids
from pathlib import Path

from locust import HttpUser, constant, task

HORSE = os.environ["CROWD_HORSE"]
COOKIE = os.environ["CROWD_COOKIE"]
SAVED = Path(os.environ["CROWD_SAVED"])
_numbers = itertools.count()


class Person(HttpUser):
    """One person, signed in, without a pause between two requests longer than half a second."""

    wait_time = constant(0.5)

    def on_start(self) -> None:
        """Sign in by the session that the benchmark opened, and take the form's token."""
        self.number, self.turns = next(_numbers), itertools.count()
        name, value = COOKIE.split("=", 1)
        self.client.cookies.set(name, value)
        page = self.client.get(f"/horses/{HORSE}/edit/", name="edit").text
        found = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
        self.token = found[1] if found else ""

    @task(3)
    def read(self) -> None:
        """Look at pages."""
        for path in ("/", "/horses/?q=juniper", f"/horses/{HORSE}/", f"/horses/{HORSE}/timeline/"):
            self.client.get(path, name=path.replace(HORSE, "…"))

    @task(2)
    def write(self) -> None:
        """Enter a value, and note it if the page said that it has it."""
        value = f"person {self.number} turn {next(self.turns)}"
        given = {
            "note": value,
            "note.was": "",
            "note.seen": "0",
            "note.key": str(uuids.uuid4()),
            "csrfmiddlewaretoken": self.token,
        }
        with self.client.post(
            f"/records/horse/{HORSE}/field/", data=given, name="field", catch_response=True
        ) as answer:
            # 409: somebody else was first; the page shows both, and what was typed is kept as an entry.
            if answer.status_code in {200, 409} and ("saved at" in answer.text or "entered" in answer.text):
                answer.success()
                with SAVED.open("a", encoding="utf-8") as noted:
                    noted.write(f"{value}\n")
            else:
                answer.failure(f"{answer.status_code}: {answer.text[:120]}")
