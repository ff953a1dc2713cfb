"""The command line; thin."""

import io
import os
import sys

# Matrices here are small: two linear-algebra libraries that each start a thread per core only wait for each
# other. It must be said before either is loaded, and a user's own choice stands.
for _name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")


def main() -> None:
    """Run the command line."""
    for stream in (sys.stdout, sys.stderr):
        # Where a pipe or a terminal cannot show a sign (±, −, ✓), it shows “?”; that is no reason to fail.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    from saddlebench.cli.app import app

    app()
