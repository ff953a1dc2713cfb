"""Fill the data folder that SADDLEBENCH_HOME names with the invented practice of the pages' tests."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "web"))

from saddlebench.practice.start import start

start()

from web_cast import make_cast  # noqa: E402

make_cast()
