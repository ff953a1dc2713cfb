"""Compiled code is kept in the data folder, and a home that cannot be written does not stop the program."""

import os
import subprocess
import sys
from pathlib import Path

from saddlebench.datafolder import kernels_digest

REPORT_CACHE = (
    "import os, saddlebench; folder = os.environ['NUMBA_CACHE_DIR']; "
    "print(folder, oct(os.stat(folder).st_mode & 0o777))"
)


def cache_folder_with(home: Path) -> tuple[Path, str]:
    environment = {k: v for k, v in os.environ.items() if k != "NUMBA_CACHE_DIR"}
    done = subprocess.run(  # noqa: S603
        [sys.executable, "-c", REPORT_CACHE],
        env={**environment, "SADDLEBENCH_HOME": str(home)},
        capture_output=True,
        text=True,
        check=True,
    )
    folder, mode = done.stdout.split()
    return Path(folder), mode


def test_the_cache_lies_in_the_data_folder(tmp_path: Path) -> None:
    folder, _ = cache_folder_with(tmp_path / "kept")
    assert folder == tmp_path / "kept" / "cache" / "compiled" / kernels_digest()


def test_a_home_that_cannot_be_made_gets_a_private_throw_away_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("a file where the folder should be")
    folder, mode = cache_folder_with(tmp_path / "file" / "home")
    assert folder.name.startswith("saddlebench-compiled-")
    assert mode == "0o700"
    assert not folder.exists()


def test_compiled_parts_of_old_versions_are_removed_in_time(tmp_path: Path) -> None:
    caches = tmp_path / "cache" / "compiled"
    for age, name in enumerate(("newest", "newer", "older", "oldest")):
        (caches / name).mkdir(parents=True)
        os.utime(caches / name, (1e9 - age, 1e9 - age))
    cache_folder_with(tmp_path)
    assert {path.name for path in caches.iterdir()} == {kernels_digest(), "newest", "newer"}
