"""Fill the data folder that SADDLEBENCH_HOME names with the invented practice and a fit check really made."""

import os
import sys
from pathlib import Path

# One thread each: two libraries' idle threads cost ten times the work they share.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS), str(TESTS / "web")]

from saddlebench.practice.start import start  # noqa: E402

start()

from study_cast import record_checked  # noqa: E402
from web_cast import make_cast  # noqa: E402

print(record_checked(make_cast(), "owner").study)  # noqa: T201
