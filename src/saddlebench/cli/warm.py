"""The first compile, shown as a step: once for this machine, this version, this compiler."""

from pathlib import Path

from saddlebench.cli.console import Progress
from saddlebench.datafolder import prepare_compiled_cache

TASK = "Preparing the compiled parts, once for this machine"


def is_warm() -> bool:
    """Tell whether the kernels of this version were compiled on this machine before."""
    return _marker().is_file()


def warm_up(show: Progress) -> None:
    """Compile the kernels by using each once on something small; nothing to do if that was done before."""
    if is_warm():
        return
    from saddlebench.demo.warm import STEPS, warm_steps

    for done, doing in enumerate(warm_steps()):
        show(TASK, done, len(STEPS), doing)
    show(TASK, len(STEPS), len(STEPS), "done")
    _marker().write_text("compiled\n", encoding="utf-8")


def _marker() -> Path:
    return prepare_compiled_cache() / "compiled"
