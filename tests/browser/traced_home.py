"""A practice with a saddle that was truly measured, in the folder that SADDLEBENCH_HOME names.

`fill` makes it; `tell` prints the back and the fit check that were recorded last, as one line of JSON.
"""

import json
import os
import sys
import uuid as uuids
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS), str(TESTS / "web")]

from saddlebench.practice.start import start  # noqa: E402

start()

from web_cast import make_cast  # noqa: E402

from saddlebench.demo.yard import YARD  # noqa: E402
from saddlebench.exchange.records import SaddleDocument, as_json  # noqa: E402
from saddlebench.practice import queries, services  # noqa: E402
from saddlebench.practice.documents import Document  # noqa: E402
from saddlebench.practice.enums import Subject  # noqa: E402
from saddlebench.practice.models import BackVersion, StudyVersion  # noqa: E402


def fill() -> None:
    cast = make_cast()
    actor, saddle = cast.actors["owner"], uuids.UUID(cast.here[Subject.SADDLE])
    bramble = next(one for one in YARD if one.name == "Bramble")
    seen = queries.saddle_page(actor, saddle).current_number or 0
    services.record_saddle(
        actor, saddle, Document(text=as_json(SaddleDocument.of(bramble.saddle))), seen=seen
    )


def tell() -> None:
    back = BackVersion.objects.order_by("-id")[0]
    study = StudyVersion.objects.order_by("-id")[0]
    print(json.dumps({"back": back.document, "study": study.document}))  # noqa: T201


{"fill": fill, "tell": tell}[sys.argv[1]]()
