"""Makes a small data folder and a backup of it, run with an earlier version of the program on its path.

The folders beside this file were made by it, each with the code of the version that it is named after:
`SADDLEBENCH_HOME=<new folder> PYTHONPATH=<old checkout>/src python make_folder.py <version> <where to>`.
Everyone and every animal in it is invented.
"""

import io
import sys
import zipfile
from datetime import UTC, date, datetime
from pathlib import Path

from saddlebench.practice.start import start

VERSION, WHERE = sys.argv[1], Path(sys.argv[2])
start()

from django.conf import settings  # noqa: E402
from django.db import connection  # noqa: E402
from PIL import Image  # noqa: E402

from saddlebench.practice import services  # noqa: E402
from saddlebench.practice.documents import Document  # noqa: E402
from saddlebench.practice.enums import Purpose, RecheckReason, Role  # noqa: E402
from saddlebench.practice.keeping.backup import back_up  # noqa: E402
from saddlebench.practice.keeping.files import store  # noqa: E402
from saddlebench.practice.services.photos import PhotoFacts  # noqa: E402

HOME = Path(settings.SADDLEBENCH_HOME)


def document(kind: str, rest: str) -> Document:
    return Document(text=f'{{"format": "saddlebench {kind}", "version": 1, {rest}}}')


_, owner = services.found_practice(
    "Tussock Saddles (invented)", "Orla Invented", "orla@tussock.example", "invented-pass-phrase"
)
actor = services.actor_for(owner)
assert actor is not None
services.add_member(actor, "Finn Invented", "finn@tussock.example", "invented-pass-phrase", Role.FITTER)
client = services.take_on_client(actor, {"label": "Wilma Fernlea", "town": "Dunmoor"})
horse = services.take_on_horse(
    actor, {"label": "Juniper", "microchip": "985000123456789", "client": str(client.uuid)}
)
saddle = services.take_on_saddle(
    actor, {"label": "Juniper's brown jumping", "family": "panelled", "client": str(client.uuid)}
)
services.use_saddle_on(actor, saddle.uuid, [horse.uuid])
visit = services.start_visit(actor, on=date(2026, 3, 1), purpose=Purpose.FIRST, horse=horse.uuid)
back = services.record_back(
    actor,
    horse.uuid,
    document("back record", '"readings": [1.5, 68]'),
    measured_on=date(2026, 3, 1),
    visit_uuid=visit.uuid,
)
measured = services.record_saddle(actor, saddle.uuid, document("saddle record", '"channel_mm": 68'))
services.record_study(
    actor,
    document("fit check", '"findings": []'),
    back_version=back.version.uuid,
    saddle_version=measured.version.uuid,
    visit_uuid=visit.uuid,
)
services.set_recheck(actor, horse.uuid, visit_uuid=visit.uuid, reasons=[RecheckReason.STEADY])
picture = io.BytesIO()
Image.new("RGB", (24, 16), (120, 90, 60)).save(picture, "JPEG")
stored = store(HOME, picture.getvalue())
facts = PhotoFacts(original_sha256=stored.sha256, width_px=24, height_px=16)
services.attach_photo(actor, stored, facts, visit=visit.uuid)
made = back_up(HOME, now=datetime(2026, 3, 1, 18, tzinfo=UTC))
connection.close()
WHERE.mkdir(parents=True, exist_ok=True)
(WHERE / f"backup-{VERSION}.zip").write_bytes(made.path.read_bytes())
with zipfile.ZipFile(WHERE / f"folder-{VERSION}.zip", "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
    for path in sorted(HOME.rglob("*")):
        inside = path.relative_to(HOME)
        # Its key is its own, and no secret belongs among the tests: a start makes a new one.
        if path.is_file() and inside.parts[0] not in {"backups", "cache", "secret-key", "in-use.lock"}:
            archive.write(path, str(inside))
