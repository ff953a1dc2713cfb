"""Makes a small change study's file, run with an earlier version of the program on its path.

The files beside this one were made by it, each with the code of the version that it is named after:
`PYTHONPATH=<old checkout>/src:<old checkout>/tests python make_change.py <file to write>`.
The horse is invented.
"""

import gzip
import sys
from pathlib import Path

from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.study import study_change
from saddlebench.exchange.records import write_change
from support.visits import disc, visited

FEW = (-100.0, 0.0, 100.0, 200.0, 300.0)
gained = disc(9.0, 100.0, 0.4, 140.0)
backs = [visited(0, 1, stations=FEW), visited(90, 2, stations=FEW)]
study = study_change(
    [*backs, visited(180, 3, stations=FEW, change=gained)],
    settings=ChangeSettings(simulations=400, draws=32),
)
plain = Path(sys.argv[1]).with_suffix("")
write_change(study, plain)
Path(sys.argv[1]).write_bytes(gzip.compress(plain.read_bytes(), mtime=0))
plain.unlink()
