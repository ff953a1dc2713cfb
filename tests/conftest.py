"""What every test shares."""

import os
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session")
def real_data() -> Path:
    """Return the folder of real meshes, or skip loudly: they carry no licence and are not shipped."""
    folder = Path(os.environ.get("SADDLEBENCH_TEST_DATA", REPOSITORY.parent / "shared" / "data"))
    if not (folder / "horse-a.ply").is_file():
        pytest.skip(f"REAL MESHES ABSENT: no horse-a.ply in {folder}; set SADDLEBENCH_TEST_DATA")
    return folder
