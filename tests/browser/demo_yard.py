"""Fill a folder as the demo's job does: one horse measured and judged, stand-ins for the others.

The whole yard takes minutes; the demo's own tests are about all of it.
"""

import json
import sys
from pathlib import Path

from saddlebench.demo.day import run_day
from saddlebench.demo.yard import YARD

JUDGED = "Otter"

if __name__ == "__main__":
    folder = Path(sys.argv[1])
    names = {"back": "back record", "saddle": "saddle record", "fit": "fit check"}
    for horse in YARD:
        if horse.name != JUDGED:
            (folder / horse.slug).mkdir(parents=True)
            for file, name in names.items():
                record = {"format": f"saddlebench {name}", "version": 1, "label": horse.name}
                (folder / horse.slug / f"{file}.json").write_text(json.dumps(record), encoding="utf-8")
    for _ in run_day(folder, lambda _horse: lambda *_told: None, only=[JUDGED]):
        pass
