"""The house's order, as far as a linter cannot see it."""

import subprocess
import sys

SLOW = ("numba", "matplotlib", "trimesh", "typst", "scipy", "pydantic", "numpy")


def test_the_commands_start_without_loading_anything_slow() -> None:
    code = "import sys, saddlebench.cli.app; print(*sorted(set(sys.modules) & set(sys.argv[1:])))"
    done = subprocess.run(  # noqa: S603
        [sys.executable, "-c", code, *SLOW], capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == []
