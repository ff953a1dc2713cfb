"""A real PostgreSQL server of a test's own, and the tests run once more on it."""

import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest

REPOSITORY = Path(__file__).resolve().parent.parent.parent


def _binaries() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: float(p.parts[-3]))
    on_path = shutil.which("initdb")
    if found:
        return found[-1].parent
    return Path(on_path).resolve().parent if on_path else None


def _someone_not_root() -> str | None:
    """Name an account to run the server as: it refuses to run as root."""
    if os.geteuid() != 0:
        return None
    accounts = {entry.pw_name for entry in pwd.getpwall()}
    return next(name for name in ("postgres", "nobody") if name in accounts)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def running_server() -> Iterator[str]:
    """Run a server of this test's own on loopback, and yield the address of an empty database; or skip."""
    binaries = _binaries()
    if binaries is None:
        pytest.skip("POSTGRESQL ABSENT: no initdb on this machine; the tests ran on the file database only")
    user = _someone_not_root()
    folder = Path(tempfile.mkdtemp(prefix="saddlebench-pg-"))
    if user:
        shutil.chown(folder, user)
    data, port = folder / "data", _free_port()
    setup = [
        "initdb",
        "-D",
        str(data),
        "-U",
        "saddlebench",
        "-A",
        "trust",
        "-E",
        "UTF8",
        "--locale=C",
        "--no-sync",
    ]
    try:
        subprocess.run(  # noqa: S603
            [str(binaries / setup[0]), *setup[1:]], user=user, cwd=folder, check=True, capture_output=True
        )
        options = [f"-p{port}", f"-k{folder}", "-clisten_addresses=127.0.0.1", "-cfsync=off"]
        process = subprocess.Popen(  # noqa: S603
            [str(binaries / "postgres"), "-D", str(data), *options],
            user=user,
            cwd=folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            yield _ready(process, port)
        finally:
            process.send_signal(signal.SIGINT)
            process.wait(timeout=120)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _ready(process: subprocess.Popen[bytes], port: int) -> str:
    address = f"postgresql://saddlebench@127.0.0.1:{port}"
    for _ in range(900):
        try:
            with psycopg.connect(f"{address}/postgres", autocommit=True) as connection:
                connection.execute("CREATE DATABASE records")
                return f"{address}/records"
        except psycopg.OperationalError:
            assert process.poll() is None, "the server ended"
            time.sleep(0.1)
    raise AssertionError("the server did not start")


def passed_on(server: str, files: list[Path]) -> int:
    """Run test files in a process that is bound to the server, and return how many tests passed."""
    environment = {
        k: v for k, v in os.environ.items() if not k.startswith(("PYTEST_", "DJANGO_", "SADDLEBENCH_"))
    }
    done = subprocess.run(  # noqa: S603
        [sys.executable, "-m", "pytest", "-n", "0", "-q", "-p", "no:cacheprovider", *map(str, files)],
        env={**environment, "SADDLEBENCH_TEST_DATABASE_URL": server},
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    return int(done.stdout.rsplit(" passed", 1)[0].split()[-1])
