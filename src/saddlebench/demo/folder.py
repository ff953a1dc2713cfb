"""The folder that the demo's job writes, and the practice's records beside it."""

import shutil
from pathlib import Path

from saddlebench.demo.yard import YARD, InventedHorse
from saddlebench.engine.saddle.numbers import family_of

_MARK = "made-by-the-demo"


def is_complete(folder: Path) -> bool:
    """Tell whether the demo's job was run into a folder already."""
    return all(
        (folder / horse.slug / name).is_file() for horse in YARD for name in ("back.json", "saddle.json")
    ) and all((folder / horse.slug / "fit.json").is_file() for horse in YARD if _is_judged(horse))


def _is_judged(horse: InventedHorse) -> bool:
    return family_of(horse.saddle.numbers).is_rigid


def fresh_home(folder: Path) -> Path:
    """Return an empty data folder for the demo's practice, in place of the one of an earlier start."""
    home = folder / "practice"
    if home.exists() and (home / _MARK).is_file():
        shutil.rmtree(home)
    home.mkdir(parents=True, mode=0o700)
    (home / _MARK).touch()
    return home
