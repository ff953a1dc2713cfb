"""Fill the data folder that SADDLEBENCH_HOME names with a measured back and a rebuild; print where."""

import json
import os
import sys
from pathlib import Path

# One thread each: two libraries' idle threads cost ten times the work they share.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS), str(TESTS / "web")]

from saddlebench.practice.start import start  # noqa: E402

start()

from replica_cast import back_of, check_of  # noqa: E402
from web_cast import make_cast  # noqa: E402

cast = make_cast()
back = back_of(cast)
print(json.dumps({"back": back, "check": check_of(cast, back, deep_mm=14.0)}))  # noqa: T201
