"""Scans that hold no saddle, made up: words that say so, never a traceback, never a record."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from saddlebench.demo.yard import YARD
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.units import Length
from saddlebench.exchange.saddles import scanned
from saddlebench.exchange.scans.mesh import Mesh

SADDLE = next(horse.saddle for horse in YARD if horse.name == "Bramble")
RANDOM = np.random.default_rng(0)
NO_FACES = np.zeros((0, 3), np.int32)
BALL = RANDOM.normal(size=(1500, 3))
BALL /= np.linalg.norm(BALL, axis=1)[:, None]
TWO_FACES = np.array([[0, 1, 2], [0, 1, 3]], np.int32)
WIDE = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])

HOLD_NO_SADDLE = {
    "nothing": (np.zeros((0, 3)), NO_FACES),
    "one point": (np.zeros((1, 3)), NO_FACES),
    "one place": (np.full((900, 3), 7.0), NO_FACES),
    "a line": (np.stack([np.linspace(0.0, 600.0, 900), np.zeros(900), np.zeros(900)], axis=1), NO_FACES),
    "a plane": (np.concatenate([RANDOM.uniform(0, 600, (4000, 2)), np.zeros((4000, 1))], axis=1), NO_FACES),
    "a ball": (250.0 * BALL, NO_FACES),
    "a ball far away": (250.0 * BALL + 1e9, NO_FACES),
    "dust": (1e-9 * BALL, NO_FACES),
    "a planet": (1e11 * BALL, NO_FACES),
    "two balls far apart": (np.concatenate([200.0 * BALL, 200.0 * BALL + 1e7]), NO_FACES),
    "a room": (RANDOM.uniform(0.0, 4000.0, (4000, 3)), NO_FACES),
    "a face without area": (WIDE[[0, 1, 0]] * 500.0, np.array([[0, 1, 2], [0, 0, 0]], np.int32)),
    "faces a kilometre wide": (WIDE * 1e6, TWO_FACES),
}


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch):
    """Return a function that has every file read as these vertices and faces."""

    def as_mesh(vertices, faces):
        mesh = Mesh(vertices=vertices, faces=faces, remarks=(), n_pieces=1)
        monkeypatch.setattr(scanned, "read_mesh", lambda *_given, **_named: mesh)

    return as_mesh


def refused(unit):
    """Return what is said where a scan is refused."""
    with pytest.raises(InputProblemsError) as told:
        scanned.saddle_from_scan(SADDLE, Path("scan.ply"), unit)
    words = " ".join(f"{one.what} {one.cure}" for one in told.value.problems)
    assert all(one.what and one.cure for one in told.value.problems)
    assert "inf" not in words.split()
    assert "nan" not in words.split()
    return words


@pytest.mark.parametrize("name", sorted(HOLD_NO_SADDLE))
def test_a_scan_without_a_saddle_is_refused_in_words(reads, name):
    reads(*HOLD_NO_SADDLE[name])
    refused(Length.MM)


@pytest.mark.parametrize("name", ["nothing", "one point", "a ball"])
def test_without_its_unit_it_is_asked_for(reads, name):
    reads(*HOLD_NO_SADDLE[name])
    assert "never guessed" in refused(None)


@settings(
    max_examples=6,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    seed=st.integers(0, 10**6),
    count=st.integers(0, 1500),
    size=st.floats(-12.0, 12.0),
    flat=st.sampled_from([0, 1, 2]),
)
def test_any_cloud_and_any_faces_are_refused_in_words(reads, seed, count, size, flat):
    random = np.random.default_rng(seed)
    vertices = random.normal(size=(count, 3)) * 10.0**size
    vertices[:, 3 - flat :] = 0.0
    faces = random.integers(0, max(count, 1), (count // 3, 3)).astype(np.int32)
    reads(vertices, faces if seed % 2 and count else NO_FACES)
    refused(Length.MM)
