"""A scan read, and recorded, beside the pages."""

import uuid as uuids
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.job import scan_record
from saddlebench.exchange.records import write_back
from saddlebench.exchange.scans import look_at_scan
from saddlebench.exchange.scans.marks import Axis, axis_vector
from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import Outcome, Run, long_work
from saddlebench.web.scan.held import folder_of, keep_look, scan_file, take_out

AXES: tuple[Axis, ...] = ("+x", "-x", "+y", "-y", "+z", "-z")


def ask_look(
    actor: Actor, uuid: uuids.UUID, horse: uuids.UUID, label: str, day: date, up: str, head: str
) -> None:
    """Queue the reading of a scan whose file is there; asked twice with one uuid, it is done once."""
    ask_job(
        actor,
        look_at,
        {"horse": str(horse), "label": label, "day": day.isoformat(), "up": up, "head": head},
        action=Action.RECORD_BACK,
        words=f"Scan of {label}",
        uuid=uuid,
        leads_to=reverse("scan:look", args=[uuid]),
        back_to=f"{reverse('scan:new')}?horse={horse}",
    )


def ask_record(
    actor: Actor, uuid: uuids.UUID, horse: uuids.UUID, label: str, day: date, marks: str
) -> uuids.UUID:
    """Queue the recording of a scan with its marks file's text; return the job's name, also the back's."""
    key = uuids.uuid5(uuid, marks)
    ask_job(
        actor,
        record_scan,
        {"scan": str(uuid), "horse": str(horse), "day": day.isoformat(), "marks": marks},
        action=Action.RECORD_BACK,
        words=f"Back of {label} from its scan",
        uuid=key,
        leads_to=reverse("capture:back", args=[key]),
        back_to=reverse("scan:look", args=[uuid]),
    )
    return key


@long_work
def look_at(run: Run, *, horse: str, label: str, day: str, up: str, head: str) -> Outcome:
    """Read the scan and find the horse in it, for a person to look at."""
    run.tell(0, 2, "reading the scan and finding the horse in it")
    stated = {"up": _direction(up), "forward": _direction(head)}
    try:
        looked = look_at_scan(scan_file(run.uuid), **stated)
    except InputProblemsError:
        take_out(run.uuid)
        raise
    run.tell(1, 2, "drawing what was found")
    keep_look(run.uuid, uuids.UUID(horse), label, date.fromisoformat(day), looked)
    return Outcome()


@long_work
def record_scan(run: Run, *, scan: str, horse: str, day: str, marks: str) -> Outcome:
    """Cut the scan and record the back; the scan's folder is then taken out."""
    run.tell(0, 2, "laying the midline and cutting the scan into sections")
    key = uuids.UUID(scan)
    marks_path = folder_of(key) / f"{run.uuid}.marks.toml"
    path = scan_file(key)
    marks_path.write_text(marks, encoding="utf-8")
    made = scan_record(path, marks_path)
    run.tell(1, 2, "recording the back")
    with TemporaryDirectory(prefix="saddlebench-scan-") as folder:
        out = Path(folder) / "back.json"
        write_back(made.record, out, scan_file=made.scan_file)
        document = Document(text=out.read_text(encoding="utf-8"))
    services.record_back(
        run.actor,
        uuids.UUID(horse),
        document,
        measured_on=date.fromisoformat(day),
        label=made.record.label,
        uuid=run.uuid,
    )
    take_out(key)
    return Outcome(said=" ".join(str(one) for one in made.remarks))


def _direction(axis: str) -> FloatArray | None:
    return None if axis not in AXES else np.array(axis_vector(axis))
