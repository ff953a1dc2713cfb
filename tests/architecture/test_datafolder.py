"""Compiled code is kept in the data folder, and a home that cannot be written does not stop the program."""

import os
import subprocess
import sys
from pathlib import Path

REPORT_CACHE = "import os, saddlebench; print(os.environ['NUMBA_CACHE_DIR'])"


def cache_folder_with(home: Path) -> Path:
    environment = {k: v for k, v in os.environ.items() if k != "NUMBA_CACHE_DIR"}
    done = subprocess.run(  # noqa: S603
        [sys.executable, "-c", REPORT_CACHE],
        env={**environment, "SADDLEBENCH_HOME": str(home)},
        capture_output=True,
        text=True,
        check=True,
    )
    return Path(done.stdout.strip())


def test_the_cache_lies_in_the_data_folder(tmp_path: Path) -> None:
    assert cache_folder_with(tmp_path / "kept") == tmp_path / "kept" / "cache" / "compiled"


def test_a_home_that_cannot_be_made_gets_a_private_throw_away_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("a file where the folder should be")
    folder = cache_folder_with(tmp_path / "file" / "home")
    assert folder.is_dir()
    assert folder.stat().st_mode & 0o077 == 0
