"""Give the practice in SADDLEBENCH_HOME three measured saddles, and print its stock table."""

import os
import sys
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS)]

from saddlebench.practice.start import start  # noqa: E402

start()

from saddlebench.demo.yard import YARD  # noqa: E402
from saddlebench.exchange.records import SaddleDocument, as_json  # noqa: E402
from saddlebench.practice import services  # noqa: E402
from saddlebench.practice.documents import Document  # noqa: E402
from saddlebench.practice.enums import Holding  # noqa: E402
from saddlebench.practice.models import User  # noqa: E402

owner = services.actor_for(User.objects.get())
records = [horse.saddle for horse in YARD if horse.saddle.family == "panelled"][:3]
assert len(records) == 3
print("number;uuid;label;where;seat_in;price;currency")  # noqa: T201
for count, held in enumerate(records, start=1):
    label = f"Rack {count} (invented)"
    saddle = services.take_on_saddle(owner, {"label": label, "family": "panelled"}, holding=Holding.STOCK)
    services.record_saddle(owner, saddle.uuid, Document(text=as_json(SaddleDocument.of(held))))
    print(f"R{count};{saddle.uuid};{label};rack;17;{400 + 50 * count};GBP")  # noqa: T201
