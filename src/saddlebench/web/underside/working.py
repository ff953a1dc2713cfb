"""The scan of an upturned saddle read beside the pages, and what was found kept until it is recorded.

The scan itself is a raw reading and lies among the kept files for good; what was found in it lies among what
was made, for two months, and is found again by looking again.
"""

import json
import tempfile
import uuid as uuids
import zipfile
from dataclasses import dataclass
from pathlib import Path

from django.urls import reverse

from saddlebench.engine.units import Length
from saddlebench.exchange.records import SaddleDocument, as_json
from saddlebench.exchange.saddles.scanned import (
    Heading,
    saddle_from_scan,
    scan_measures,
    scan_sentences,
)
from saddlebench.exchange.whole_file import write_whole
from saddlebench.practice.enums import Action
from saddlebench.practice.keeping.made import made_path, take_out_old_made
from saddlebench.practice.queries.saddle_scans import saddle_scan
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import NotFoundError
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import Outcome, Run, long_work
from saddlebench.web.base.measured_saddle import measured_saddle
from saddlebench.web.base.scan_files import home, put_under

RECORD, PICTURE, TOLD = "saddle.json", "underside.svg", "told.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundKept:
    """What was found in a scan, as it is kept until a person records it."""

    record: str
    """Text of the saddle record."""
    sentences: tuple[str, ...]
    remarks: tuple[str, ...]
    measures: dict[str, object]
    heading: Heading
    heading_is_sure: bool
    unit: Length
    scan: uuids.UUID
    """Under which the scan itself is kept."""
    name: str
    """As its file was called."""

    @property
    def why(self) -> str:
        """Why there is a new version, said with the scan that it is from."""
        return f"Underside from the scan {self.name}"[:200]


def ask_scan(
    actor: Actor,
    saddle: uuids.UUID,
    label: str,
    scan: uuids.UUID,
    unit: Length,
    heading: Heading,
    key: uuids.UUID,
) -> uuids.UUID:
    """Queue the reading of a scan that is kept; asked twice with one key, it is done once."""
    take_out_old_made(home(), actor.practice_id)
    return ask_job(
        actor,
        read_underside,
        {"saddle": str(saddle), "scan": str(scan), "unit": unit.value, "heading": heading.value},
        action=Action.RECORD_SADDLE,
        words=f"Scan of {label}",
        uuid=key,
        leads_to=reverse("underside:found", args=[saddle, key]),
        back_to=reverse("underside:new", args=[saddle]),
    )


@long_work
def read_underside(run: Run, *, saddle: str, scan: str, unit: str, heading: str) -> Outcome:
    """Find the underside, and keep what was found for a person to look at."""
    from saddlebench.exchange.drawings import as_svg  # noqa: PLC0415 - slow to load
    from saddlebench.exchange.drawings.scanned_underside import scanned_underside  # noqa: PLC0415

    record = measured_saddle(run.actor, uuids.UUID(saddle))
    kept = saddle_scan(run.actor, uuids.UUID(saddle), uuids.UUID(scan))
    with tempfile.TemporaryDirectory(prefix="saddlebench-scan-") as held:
        path = Path(held) / kept.name
        put_under(kept, path)
        scanned = saddle_from_scan(record, path, Length(unit), heading=Heading(heading), tell=run.tell)
    told = {
        "saddle": saddle,
        "scan": scan,
        "name": kept.name,
        "unit": unit,
        "heading": heading,
        "heading_is_sure": scanned.found.placed.heading_is_sure,
        "sentences": scan_sentences(scanned),
        "remarks": [str(one) for one in scanned.remarks],
        "measures": scan_measures(scanned),
    }
    target = made_path(home(), run.actor.practice_id, run.uuid)
    with tempfile.TemporaryDirectory(prefix="saddlebench-made-") as held:
        packed = Path(held) / "made.zip"
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(RECORD, as_json(SaddleDocument.of(scanned.record)))
            archive.writestr(PICTURE, as_svg(scanned_underside(scanned)))
            archive.writestr(TOLD, json.dumps(told))
        write_whole(target, packed.read_bytes())
    target.chmod(0o600)
    return Outcome()


def found_kept(actor: Actor, saddle: uuids.UUID, key: uuids.UUID) -> FoundKept:
    """Return what was found in a scan of this saddle.

    Raises
    ------
    NotFoundError
        If nothing was, or not of this saddle, or not any more.
    """
    with zipfile.ZipFile(_made(actor, key)) as archive:
        if TOLD not in archive.namelist():
            raise NotFoundError("scan", key)
        told = json.loads(archive.read(TOLD))
        record = archive.read(RECORD).decode("utf-8")
    if told["saddle"] != str(saddle):
        raise NotFoundError("scan", key)
    return FoundKept(
        record=record,
        sentences=tuple(told["sentences"]),
        remarks=tuple(told["remarks"]),
        measures=told["measures"],
        heading=Heading(told["heading"]),
        heading_is_sure=bool(told["heading_is_sure"]),
        unit=Length(told["unit"]),
        scan=uuids.UUID(told["scan"]),
        name=told["name"],
    )


def picture_kept(actor: Actor, saddle: uuids.UUID, key: uuids.UUID) -> str:
    """Return the picture of what was found, as SVG."""
    found_kept(actor, saddle, key)
    with zipfile.ZipFile(_made(actor, key)) as archive:
        return archive.read(PICTURE).decode("utf-8")


def _made(actor: Actor, uuid: uuids.UUID) -> Path:
    path = made_path(home(), actor.practice_id, uuid)
    if not path.is_file():
        raise NotFoundError("scan", uuid)
    return path
