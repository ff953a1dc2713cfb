"""Processes and a cluster give what one process gives, in every digit, though one of them is killed."""

import importlib.util
import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from saddlebench.demo.shapes import WIDE_COB
from saddlebench.engine.choose import HERE, Shortlist, ShortlistSettings, shortlist
from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.workers import Processes
from support.choosing import small_stock, wanted_for

SETTINGS = ShortlistSettings(length=2, draws=6, seed=3, cloud_points=150)
FEW = small_stock(60)


def told(found: Shortlist) -> list[tuple[object, ...]]:
    """Return everything of a list that is a number or a name."""
    return [
        (
            *(entry.rank, entry.key, entry.cost, entry.counted, entry.arch_by_mm, entry.fill),
            *(entry.how_sure, entry.level_with, entry.alike),
            *(
                (finding.name, finding.verdict, finding.decided_by.measure)
                for finding in (entry.study.findings if entry.study else ())
            ),
        )
        for entry in found.entries
    ]


@pytest.fixture(scope="module")
def here() -> list[tuple[object, ...]]:
    found = shortlist(wanted_for(WIDE_COB, with_doubt=True), FEW, SETTINGS)
    assert found.is_complete
    return told(found)


def slow(shared: Path, item: int) -> int:
    """Wait for a file, so that whoever is killed has something in hand."""
    if item == 0 and not shared.exists():
        shared.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return item * item


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="processes are killed in another way here")
def test_a_process_that_dies_is_replaced_and_its_work_done_again(tmp_path: Path) -> None:
    with Processes(2) as pool:
        answers = dict(pool.run(slow, tmp_path / "died once", list(range(12))))
    assert answers == {k: k * k for k in range(12)}
    assert (tmp_path / "died once").exists()


def failing(shared: object, item: int) -> int:
    del shared
    message = f"item {item} cannot be done"
    raise ArithmeticError(message)


def test_work_that_fails_says_so() -> None:
    with Processes(1) as pool, pytest.raises(ArithmeticError, match="item 0"):
        list(pool.run(failing, None, [0]))


def test_processes_give_the_same_list(here: list[tuple[object, ...]]) -> None:
    with Processes(2) as pool:
        assert told(shortlist(wanted_for(WIDE_COB, with_doubt=True), FEW, SETTINGS, pool=pool)) == here


def test_one_process_hands_back_in_order() -> None:
    assert list(HERE.run(lambda shared, item: shared + item, 1, [1, 2])) == [(0, 2), (1, 3)]


needs_cluster = pytest.mark.skipif(
    importlib.util.find_spec("distributed") is None, reason="the extra for many machines is not installed"
)


@pytest.fixture
def two_machines() -> Iterator[object]:
    """A scheduler here and two worker processes, reached over the loopback."""
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
        ) as cluster,
    ):
        yield cluster


@needs_cluster
@pytest.mark.filterwarnings("default")
def test_a_cluster_gives_the_same_list_though_a_worker_is_killed(
    here: list[tuple[object, ...]], two_machines: object
) -> None:
    from saddlebench.exchange.cluster import Cluster  # noqa: PLC0415

    nannies = two_machines.workers  # type: ignore[attr-defined]
    victim = next(iter(nannies.values())).pid
    killed = threading.Event()

    def kill(done: int, of: int, doing: str) -> None:
        del of
        if doing.startswith("in full") and done and not killed.is_set():
            killed.set()
            os.kill(victim, signal.SIGKILL)

    with Cluster(two_machines.scheduler_address) as pool:  # type: ignore[attr-defined]
        assert pool.workers == 2
        found = shortlist(wanted_for(WIDE_COB, with_doubt=True), FEW, SETTINGS, pool=pool, progress=kill)
    assert killed.is_set()
    assert found.is_complete
    assert told(found) == here


@needs_cluster
def test_where_nothing_answers_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    from saddlebench.exchange import cluster  # noqa: PLC0415

    monkeypatch.setattr(cluster, "CONNECT_SECONDS", 0.5)
    with pytest.raises(InputProblemsError, match="nothing answers"):
        cluster.Cluster("tcp://127.0.0.1:9")
