"""The program as a served process, for tests that talk to it over a network."""

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

RUN = "from saddlebench.cli import main; main()"
NOT_WARMING = "from saddlebench.cli import warm_beside; warm_beside._AFTER_S = 3600.0; "
"""Most tests of pages need no engine: it is loaded when it is asked for, not beside every program's start."""


@contextmanager
def served(home: Path) -> Iterator[str]:
    """Yield the address of `saddlebench serve` on a data folder, on a port that is free."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    process = subprocess.Popen(  # noqa: S603
        [sys.executable, "-c", NOT_WARMING + RUN, "serve", "--port", str(port)],
        env={**os.environ, "SADDLEBENCH_HOME": str(home)},
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    try:
        assert process.stdout is not None
        # The program writes its address once connections are taken, and nothing else.
        address = process.stdout.readline().strip().rstrip("/")
        assert address.endswith(f":{port}"), "the program did not start"
        yield address
    finally:
        process.kill()
        process.wait()
        if process.stdout is not None:
            process.stdout.close()
