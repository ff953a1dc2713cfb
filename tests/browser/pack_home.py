"""Fill the data folder that SADDLEBENCH_HOME names with the invented practices and a back."""

import os
import sys
import uuid as uuids
from datetime import date
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS), str(TESTS / "web")]

from saddlebench.practice.start import start  # noqa: E402

start()

from django.conf import settings  # noqa: E402
from web_cast import make_cast  # noqa: E402

from saddlebench.practice import services  # noqa: E402
from saddlebench.practice.documents import Document  # noqa: E402
from saddlebench.practice.enums import Subject  # noqa: E402
from saddlebench.practice.keeping.files import store  # noqa: E402
from saddlebench.practice.services import PhotoFacts  # noqa: E402
from support.packs import back_text, picture, saddle_text  # noqa: E402

cast = make_cast()
sender = cast.actors["other"]
horse = services.take_on_horse(sender, {"label": "Sorrel", "microchip": "985000123456791", "born_in": 2015})
services.record_back(
    sender, horse.uuid, Document(text=back_text()), measured_on=date(2026, 5, 3), label="Back of 3 May"
)
saddle = services.take_on_saddle(sender, {"label": "Sorrel's black dressage", "family": "panelled"})
services.use_saddle_on(sender, saddle.uuid, [horse.uuid])
services.record_saddle(sender, saddle.uuid, Document(text=saddle_text()))
for seed in (1, 2):
    stored = store(Path(settings.SADDLEBENCH_HOME), picture(seed, 400))
    facts = PhotoFacts(original_sha256=stored.sha256, shot="side_on")
    services.attach_photo(sender, stored, facts, horse=horse.uuid)
# The recipient has a saddle of the same name: a person has to say whether it is the same one.
services.take_on_saddle(cast.actors["owner"], {"label": "Sorrel's black dressage"})
assert uuids.UUID(cast.here[Subject.HORSE])
print(horse.uuid)  # noqa: T201
