"""What is installed, whether it works, and what to do where it does not."""

import platform
from importlib import metadata

import typer

from saddlebench import __version__
from saddlebench.cli.console import AsJson, print_json, results
from saddlebench.cli.exit_codes import Exit

PARTS = ("numpy", "scipy", "numba", "trimesh", "shapely", "pydantic", "typer", "rich", "matplotlib", "typst")


def doctor(as_json: AsJson = False) -> None:
    """List the parts the program needs, with their versions, and check its folders."""
    from saddlebench.cli.warm import is_warm
    from saddlebench.datafolder import data_folder, prepare_compiled_cache

    lines = [
        ("saddlebench", __version__, True, ""),
        ("python", platform.python_version(), True, ""),
    ]
    for part in PARTS:
        try:
            lines.append((part, metadata.version(part), True, ""))
        except metadata.PackageNotFoundError:
            lines.append((part, "missing", False, "Install saddlebench again from its lock file."))
    cache = prepare_compiled_cache()
    kept = cache.is_relative_to(data_folder())
    why = "" if kept else "The data folder cannot be written: compiled parts are thrown away after each run."
    lines.append(("data folder", str(data_folder()), kept, why))
    warm = is_warm()
    cold = "" if warm else "They are compiled at first use, or now by: saddlebench demo"
    lines.append(("compiled parts", "ready" if warm else "not yet compiled", True, cold))
    if as_json:
        print_json(
            "doctor",
            result=[dict(zip(("part", "state", "works", "cure"), line, strict=True)) for line in lines],
        )
    else:
        for part, state, works, cure in lines:
            results().print(f"{'✓' if works else '✗'} {part:15} {state}" + (f"  {cure}" if cure else ""))
    if not all(works for _, _, works, _ in lines):
        raise typer.Exit(Exit.WRONG_INPUT)
