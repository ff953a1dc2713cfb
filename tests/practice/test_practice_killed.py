"""A writing process is killed outright, again and again: every field it said was saved is there."""

import os
import random
import subprocess
import sys
from pathlib import Path

from django.db import connection
from practice_cast import Cast
from practice_invented import invented_yard

from saddlebench.practice.keeping.database import check_database
from saddlebench.practice.models import Answer, AuditRow, Entry, Visit

WRITER = Path(__file__).with_name("practice_writer.py")
N_KILLS = 5


def _write_until_killed(home: Path, cast: Cast, visit: Visit, start: int, stop_after: int) -> list[list[str]]:
    """Read what the process says was saved; kill it in the middle of what it is doing next."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("SADDLEBENCH_", "DJANGO_"))}
    command = [sys.executable, str(WRITER), str(home), str(cast.practice.pk), str(cast.fitter.user_id)]
    process = subprocess.Popen(
        [*command, str(visit.uuid), str(start)], stdout=subprocess.PIPE, text=True, env=environment
    )
    assert process.stdout is not None
    said: list[str] = []
    with process.stdout:
        for line in process.stdout:
            said.append(line)
            if len(said) == stop_after:
                process.kill()
    process.wait()
    # The last line may have been cut in the middle; what was said whole was acknowledged.
    return [line.rstrip("\n").split("\t") for line in said if line.endswith("\n")]


def test_what_was_said_to_be_saved_is_there(own_cast: Cast, file_database: Path) -> None:
    visit = invented_yard(own_cast.fitter).visit
    connection.close()
    stops = random.Random(20260301)
    said: list[list[str]] = []
    for _ in range(N_KILLS):
        start = 1 + max((int(value.split()[1]) for _, value, _ in said), default=0)
        # A number may have been saved and not said: the next process starts beyond it.
        said += _write_until_killed(file_database, own_cast, visit, start + 1, stops.randint(3, 25))
    assert len(said) >= 3 * N_KILLS
    check_database(file_database / "records.sqlite3")
    kept = {(e.field, e.value): e.revision for e in Entry.objects.filter(subject_uuid=visit.uuid)}
    assert [line for line in said if kept.get((line[0], line[1])) != int(line[2])] == []
    # Nothing is half there: an answer is its field's last entry, and each entry has its audit row.
    for answer in Answer.objects.filter(subject_uuid=visit.uuid):
        last = Entry.objects.filter(subject_uuid=visit.uuid, field=answer.field).latest("revision")
        assert (answer.value, answer.revision) == (last.value, last.revision)
    revisions = sorted(kept.values())
    assert revisions == list(range(1, len(kept) + 1))
    assert Visit.objects.get(pk=visit.pk).revision == len(kept)
    assert AuditRow.objects.filter(deed="enter").count() == len(kept)
