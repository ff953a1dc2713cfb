"""What every test shares."""

import os
from pathlib import Path

import pytest

# Matrices here are small: two linear-algebra libraries' idle threads cost ten times the work they share.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Django is set up once per process: with the pages, whose settings include the records' own.
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "saddlebench.web.settings")

# Tests spread over processes must bear the same names in each; a set's order hangs on the process.
SETS = (set, frozenset)

REPOSITORY = Path(__file__).resolve().parent.parent


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Refuse a test whose name is written from a set."""
    for item in items:
        values = (
            item.callspec.params.values()
            if isinstance(item, pytest.Function) and hasattr(item, "callspec")
            else ()
        )
        if any(isinstance(one, SETS) and len(one) > 1 and str(one) in item.name for one in values):
            message = f"{item.nodeid}: named after a set; give it an id"
            raise pytest.UsageError(message)


@pytest.fixture(scope="session")
def real_data() -> Path:
    """Return the folder of real meshes, or skip loudly: they carry no licence and are not shipped."""
    folder = Path(os.environ.get("SADDLEBENCH_TEST_DATA", REPOSITORY.parent / "shared" / "data"))
    if not (folder / "horse-a.ply").is_file():
        pytest.skip(f"REAL MESHES ABSENT: no horse-a.ply in {folder}; set SADDLEBENCH_TEST_DATA")
    return folder


@pytest.fixture(scope="session")
def real_backs(real_data: Path) -> dict[str, tuple[Path, Path]]:
    """Return mesh and marks file of every real mesh at hand, by name: `horse-a`, `horse-b-pose0`, …"""
    backs = {}
    for marks in sorted((REPOSITORY / "tests" / "data" / "marks").glob("*.toml")):
        meshes = [path for path in real_data.glob(f"{marks.stem}.*") if path.suffix != ".md"]
        if meshes:
            backs[marks.stem] = (meshes[0], marks)
    return backs
