"""Fill a data folder with one of everything, and print the address of every page that there is.

The addresses come from the program: what answers with HTML is a page. One whose record is not known here is
printed as missing, and the test fails until somebody says which record fills it.
"""

import io
import json
import os
import re
import sys
import uuid as uuids
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

# One thread each: two libraries' idle threads cost ten times the work they share.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS / part) for part in ("", "web", "web/capture", "web/photos")]

from saddlebench.practice.start import start  # noqa: E402

start()

from capture_invented import begin  # noqa: E402
from capture_readings import invented_values  # noqa: E402
from django.core.files.uploadedfile import SimpleUploadedFile  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import setup_test_environment  # noqa: E402
from django.urls import URLPattern, URLResolver, get_resolver, reverse  # noqa: E402
from django.utils import timezone  # noqa: E402
from photo_files import edges, jpeg  # noqa: E402
from study_cast import documents, record_checked  # noqa: E402
from web_cast import Cast, do_waiting, make_cast  # noqa: E402

from saddlebench.exchange.instruments import example_instrument, instrument_text  # noqa: E402
from saddlebench.exchange.limits import limit_groups  # noqa: E402
from saddlebench.practice import services  # noqa: E402
from saddlebench.practice.documents import Document  # noqa: E402
from saddlebench.practice.enums import Holding, Subject  # noqa: E402
from saddlebench.practice.queries.photos import photos_of  # noqa: E402
from saddlebench.practice.services.visits import give_advice  # noqa: E402
from saddlebench.web.base.access import access_of  # noqa: E402
from saddlebench.web.base.checks.running import ask_same_again  # noqa: E402

BY_PATH = {
    "horses": "horse",
    "people": "client",
    "yards": "yard",
    "saddles": "saddle",
    "visits": "visit",
    "backs": "back",
    "checks": "study",
    "photos": "photo",
    "measure": "capture",
    "instruments": "instrument",
    "jobs": "job",
    "plans": "plan",
    "orders": "order",
    "stock": "stock",
    "choices": "shortlist",
}
"""Which record fills the `uuid` of an address, by the address's first word."""
SHOWN_ELSEWHERE = {
    "changes": "test_served_changes.py",
    "then-and-now": "test_served_changes.py",
    "check-me": "test_served_changes.py",
    "packs": "test_pack_browser.py",
    "handover": "test_pack_browser.py",
    "rebuilds": "test_replica_browser.py",
    "rebuild-files": "test_replica_browser.py",
    "rebuild-checks": "test_replica_browser.py",
    "tracings": "test_tracing_browser.py",
    "scans": "test_scan_browser.py",
    "undersides": "test_underside_browser.py",
    "phone": "test_phone_alone.py",
    **{
        f"tracing:saddle_{page}": "test_saddle_tracing_browser.py"
        for page in ("overview", "picture", "photo", "corners", "file")
    },
}
"""Pages of records that take long to make: looked at by another browser test, by first word or name."""
FILES = (".csv", ".json", ".pdf", ".svg", ".zip")
"""Ends of addresses that are no pages."""
BY_NAME: dict[str, dict[str, str]] = {
    "capture:part": {"key": "s1r0"},
    "home:calendar_feed": {"token": "no-such-token"},
    "capture:shipped": {"name": "comb-41x10"},
    "records:choose": {"what": "client"},
    "records:entries": {"subject": "horse"},
    "records:versions": {"subject": "saddle"},
    "study:picture": {"name": "overview"},
    "study:change_picture": {"name": "plan"},
    "visit:saddle": {"part": "condition"},
    "visit:step": {"name": "reason"},
    "study:limit": {"slug": limit_groups()[0].slug},
    "replica:part": {"what": "ribs"},
}
"""What else an address names."""
MORE: dict[str, list[dict[str, str]]] = {
    "visit:step": [
        {"name": one} for one in ("stance", "photos", "back", "saddles", "fit", "decision", "next", "stop")
    ],
    "visit:saddle": [{"part": "states"}, {"part": "ridden"}],
    "records:versions": [{"subject": "study"}],
    "stock:choice": [{"kind": one} for one in ("takers", "season")],
    "replica:part": [{"what": one} for one in ("templates", "solid", "kit")],
}
"""Further pages behind one address."""


@dataclass(frozen=True)
class Filled:
    """One record of each kind, and who looks at them."""

    client: Client
    uuids: dict[str, str]


def fill() -> Filled:
    cast = make_cast()
    fitter, owner = cast.actors["fitter"], cast.browser("owner")
    checked = record_checked(cast, "owner")
    horse, visit, saddle = (cast.here[one] for one in (Subject.HORSE, Subject.VISIT, Subject.SADDLE))
    in_stock = services.take_on_saddle(
        fitter, {"label": "Teasel (invented), general", "family": "panelled"}, holding=Holding.STOCK
    )
    services.record_saddle(fitter, in_stock.uuid, documents()[1])
    services.put_on_trial(fitter, in_stock.uuid, uuids.UUID(cast.here[Subject.CLIENT]), _in_a_week())
    begun = begin(cast, "comb-24x15-foot", invented_values("comb-24x15-foot"))
    drawn = instrument_text(example_instrument("curve-mm"))
    instrument = services.describe_instrument(fitter, "our curve", Document(text=drawn))
    for seed, shot in ((1, "near_side"), (2, "off_side")):
        file = SimpleUploadedFile("a.jpg", jpeg(edges(seed=seed)))
        owner.post(reverse("photos:add", args=[visit]), {"shot": shot, "file": file})
    give_advice(fitter, uuids.UUID(visit), "Leave it two weeks, then a shim in front.")
    give_advice(fitter, uuids.UUID(visit), "A wider tree.", declined=True, declined_by="Wilma Fernlea")
    tried = services.try_saddle(fitter, uuids.UUID(visit), uuids.UUID(saddle))
    plan = _asked(cast, f"/checks/{checked.study}/what-to-do/", {"arch": "yes", "shims": "yes"})
    order = _asked(cast, f"/plans/{plan}/order/", {"number": "2026-001"})
    asked = {"rider_mass": "70", "build": "ordinary", "length": "3", "everything": "yes"}
    shortlist = _asked(cast, f"/horses/{horse}/shortlist/", {**asked, "back": checked.back_version})
    takers = _asked(cast, f"/saddles/{in_stock.uuid}/takers/", {})
    season = _asked(cast, "/stock/season/", {"length": "3", "everything": "yes"})
    job = ask_same_again(fitter, uuids.UUID(checked.study), 1, f"/checks/{checked.study}/")
    _withdraw_one(cast)
    return Filled(
        client=owner,
        uuids={
            **{kind.value: uuid for kind, uuid in cast.here.uuids.items()},
            "study": checked.study,
            "back": checked.back,
            "capture": begun.strip("/").split("/")[1],
            "instrument": str(instrument.uuid),
            "photo": str(photos_of(fitter, visit=uuids.UUID(visit))[0].uuid),
            "tried": str(tried.uuid),
            "job": str(job),
            "plan": plan,
            "order": order,
            "stock": str(in_stock.uuid),
            "shortlist": shortlist,
            "takers": takers,
            "season": season,
            "horse": horse,
        },
    )


def _in_a_week() -> date:
    return timezone.localdate() + timedelta(days=7)


def _asked(cast: Cast, address: str, given: dict[str, str]) -> str:
    """Ask for something as its page does, let it be done, and return its name."""
    key = str(uuids.uuid4())
    answer = cast.browser("fitter").post(address, {"form": key, **given})
    if answer.status_code != 302:
        sys.exit(f"{address}: {answer.status_code}\n{answer.content.decode()[-3000:]}")
    do_waiting()
    return key


def _withdraw_one(cast: Cast) -> None:
    gone = services.take_on_horse(cast.actors["owner"], {"label": "Sorrel"})
    services.withdraw(cast.actors["owner"], Subject.HORSE, gone.uuid)


def every_address() -> dict[str, tuple[str, URLPattern]]:
    found: dict[str, tuple[str, URLPattern]] = {}

    def walk(patterns: list[Any], namespace: str, before: str) -> None:
        for one in patterns:
            if isinstance(one, URLResolver):
                inner = f"{one.namespace}:" if one.namespace else namespace
                walk(one.url_patterns, inner, before + str(one.pattern))
            else:
                found[f"{namespace}{one.name}"] = (before + str(one.pattern), one)

    walk(get_resolver().url_patterns, "", "")
    return found


def values_for(name: str, path: str, pattern: URLPattern, filled: Filled) -> dict[str, str] | None:
    values: dict[str, str] = dict(BY_NAME.get(name, {}))
    for one in pattern.pattern.converters:
        if one in values:
            continue
        kind = BY_PATH.get(path.split("/", maxsplit=1)[0]) if one == "uuid" else one
        if name.startswith("records:") and one == "uuid" and "subject" in values:
            kind = values["subject"]
        if one == "number":
            values[one] = "1"
        elif kind in filled.uuids:
            values[one] = filled.uuids[kind]
        else:
            return None
    return values


def main() -> None:
    setup_test_environment()
    filled = fill()
    pages: dict[str, str] = {}
    wrong: list[str] = []
    for name, (path, pattern) in sorted(every_address().items()):
        declared = access_of(pattern.callback)
        if declared is None or "GET" not in declared.methods or path.startswith(("api/v1/", "^api")):
            continue
        values = values_for(name, path, pattern, filled)
        if path.endswith(FILES):
            continue
        elsewhere = SHOWN_ELSEWHERE.get(name) or SHOWN_ELSEWHERE.get(path.split("/", maxsplit=1)[0])
        if values is None and elsewhere and _is_looked_at(elsewhere):
            continue
        if values is None:
            wrong.append(f"{name}: no record here fills {path}")
            continue
        for more in ({}, *MORE.get(name, [])):
            chosen = {**values, **more}
            of = more.get("subject") or chosen.pop("kind", "")
            if of:
                chosen["uuid"] = filled.uuids[of]
            address = reverse(name, kwargs=chosen)
            answer = filled.client.get(address)
            if answer.status_code in {200, 422} and _is_page(answer):
                said = "-".join([name.replace(":", "-") or "page", *more.values()])
                pages[said] = address
    json.dump({"pages": pages, "wrong": wrong}, sys.stdout)


def _is_looked_at(file: str) -> bool:
    return "look(" in Path(__file__).with_name(file).read_text(encoding="utf-8")


def _is_page(answer: Any) -> bool:
    if not answer["Content-Type"].startswith("text/html") or answer.streaming:
        return False
    return bool(re.search(rb"<html", io.BytesIO(answer.content).read(400)))


main()
