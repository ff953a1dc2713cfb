"""The first compile, shown as a step: once for this machine, this version, this compiler."""

import hashlib
import platform
from collections.abc import Iterator
from importlib import metadata, resources
from pathlib import Path

from saddlebench.cli.console import Progress
from saddlebench.datafolder import prepare_compiled_cache


def is_warm() -> bool:
    """Tell whether the kernels of this version were compiled on this machine before."""
    return _marker().is_file()


def warm_up(show: Progress) -> None:
    """Compile the kernels by using each once on something small; nothing to do if that was done before."""
    if is_warm():
        return
    task = "Preparing the compiled parts, once for this machine"
    from saddlebench.demo.warm import STEPS, warm_steps

    for done, doing in enumerate(warm_steps()):
        show(task, done, len(STEPS), doing)
    show(task, len(STEPS), len(STEPS), "done")
    marker = _marker()
    if marker.parent.is_dir():
        marker.write_text("compiled\n", encoding="utf-8")


def _marker() -> Path:
    digest = hashlib.sha256(f"{platform.python_version()} {metadata.version('numba')}".encode())
    for text in _kernel_sources():
        digest.update(text)
    return prepare_compiled_cache() / f"compiled-{digest.hexdigest()[:16]}"


def _kernel_sources() -> Iterator[bytes]:
    engine = Path(str(resources.files("saddlebench.engine")))
    for path in sorted(engine.rglob("_kernels*")):
        files = [path] if path.is_file() else sorted(path.glob("*.py"))
        for file in files:
            yield file.read_bytes()
