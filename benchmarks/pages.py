"""Pages with 2,000 horses, 10,000 visits and 40,000 photos: time on the server, queries, weight.

The second column is the processor's time of this thread: what others do on the machine does not lengthen it.

The records are made straight in the tables of a throw-away folder: how they got there is not measured.
"""

import os
import shutil
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path
from statistics import median
from typing import Any

HORSES, VISITS, PHOTOS, CLIENTS = 2_000, 10_000, 40_000, 900
REPEATS = 9
_ONE_FILE = "0" * 64


def main() -> None:
    """Make the records, call each page, print a table."""
    home = Path(tempfile.mkdtemp(prefix="saddlebench-pages-"))
    os.environ.update(SADDLEBENCH_HOME=str(home), DJANGO_SETTINGS_MODULE="saddlebench.web.settings")
    from saddlebench.practice.start import start  # noqa: PLC0415

    try:
        start(home)
        _measure()
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _measure() -> None:
    from django.conf import settings  # noqa: PLC0415
    from django.db import connection  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415
    from django.test.utils import CaptureQueriesContext  # noqa: PLC0415

    user, horse, visit = _records()
    settings.ALLOWED_HOSTS.append("testserver")
    browser = Client()
    browser.force_login(user)
    print(f"{'median ms':>9} {'of it work':>10} {'queries':>7} {'bytes':>7}  page")
    for path in (
        *("/", "/diary/", "/horses/", "/horses/?q=horse+19", "/horses/?q=nothing", "/people/", "/saddles/"),
        *("/withdrawn/", "/jobs/", "/measure/", "/checks/agreement/", "/visits/", "/account/"),
        *("/stock/", "/stock/choices/", "/orders/"),
        *(f"/horses/{horse}/{rest}" for rest in ("", "edit/", "timeline/", "check/")),
        *(f"/visits/{visit}/{rest}" for rest in ("", "step/photos/")),
    ):
        times, work = [], []
        for _ in range(REPEATS):
            with CaptureQueriesContext(connection) as counted:
                begun, worked = time.perf_counter(), time.thread_time()
                answer = browser.get(path)
                times.append(time.perf_counter() - begun)
                work.append(time.thread_time() - worked)
        shown = path.replace(str(horse), "…").replace(str(visit), "…")
        took, worked = median(times) * 1e3, median(work) * 1e3
        counts = f"{len(counted):7} {len(answer.content):7}"
        print(f"{took:9.1f} {worked:10.1f} {counts}  {shown} {answer.status_code}")


def _records() -> tuple[Any, Any, Any]:
    """Fill the tables, and return who signs in, and one horse's and one visit's uuid."""
    from django.utils import timezone  # noqa: PLC0415

    from saddlebench.practice import services  # noqa: PLC0415
    from saddlebench.practice.models import Client, Horse, Photo, Visit  # noqa: PLC0415

    practice, user = services.found_practice(
        "Many (invented)", "Olga", "olga@many.example", "long-enough-phrase"
    )
    same: dict[str, Any] = {"practice": practice, "made_at": timezone.now(), "made_by": user}
    clients = Client.objects.bulk_create(
        Client(label=f"Client {i}", town="T", **same) for i in range(CLIENTS)
    )
    horses = Horse.objects.bulk_create(
        Horse(
            label=f"Horse {i}",
            client=clients[i % CLIENTS],
            found_by=f"horse {i} | cob | bay",
            found_by_people=f"client {i % CLIENTS} | t",
            **same,
        )
        for i in range(HORSES)
    )
    first = date(2024, 1, 1)
    visits = Visit.objects.bulk_create(
        (
            Visit(
                horse=horses[i % HORSES],
                date=first + timedelta(days=i % 1000),
                zone="UTC",
                purpose="first",
                state="finished",
                **same,
            )
            for i in range(VISITS)
        ),
        batch_size=2_000,
    )
    Photo.objects.bulk_create(
        (
            Photo(
                visit=visits[i % VISITS],
                horse=horses[i % VISITS % HORSES],
                media_type="image/jpeg",
                sha256=_ONE_FILE,
                original_sha256=_ONE_FILE,
                size_bytes=1,
                **same,
            )
            for i in range(PHOTOS)
        ),
        batch_size=4_000,
    )
    return user, horses[5].uuid, visits[5].uuid


if __name__ == "__main__":
    main()
