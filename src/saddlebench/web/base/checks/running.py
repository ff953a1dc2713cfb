"""Running a fit check beside the pages: asked for, watched, stopped, recorded."""

import threading
import uuid as uuids
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from saddlebench.engine.errors import SaddlebenchError
from saddlebench.practice import services
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.opinions import give_opinions, set_beside
from saddlebench.web.base.checks.loading import load_engine
from saddlebench.web.base.jobs import Job, Progress, worker

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import Progress as EngineProgress
    from saddlebench.exchange.job import StudyRequest

DRAWS = 256
"""How often everything uncertain is varied."""
_MOST_WATCHED = 500


class StoppedOnRequestError(SaddlebenchError):
    """The person who asked for a run does not want it any more."""

    def __init__(self) -> None:
        super().__init__("Stopped, as you asked. Nothing was recorded.")


@dataclass(slots=True, kw_only=True)
class Watched:
    """What a page may tell a run under way, and what the run has to say besides its address."""

    stop: threading.Event = field(default_factory=threading.Event)
    outcome: str = ""
    back_to: str = ""


class Runs:
    """The runs of this process that can be stopped."""

    def __init__(self) -> None:
        self._held: OrderedDict[uuids.UUID, Watched] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, uuid: uuids.UUID) -> Watched:
        """Return what is watched of a job; made where there is none yet."""
        with self._lock:
            while len(self._held) >= _MOST_WATCHED:
                self._held.popitem(last=False)
            return self._held.setdefault(uuid, Watched())


runs = Runs()


def stoppable(watched: Watched, told: Progress) -> "EngineProgress":
    """Return a progress that ends the work at its next step once it was asked to stop."""

    def step(done: int, of: int, doing: str) -> None:
        if watched.stop.is_set():
            raise StoppedOnRequestError
        told(done, of, doing)

    return step


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckAsked:
    """A fit check that was asked for."""

    back_version: uuids.UUID
    saddle_version: uuids.UUID
    visit: uuids.UUID | None
    opinions: Mapping[str, str]
    words: str
    request: Callable[[], "StudyRequest"]
    """Makes what the engine is asked; called by the worker, once the engine is loaded."""


def ask_check(actor: Actor, asked: CheckAsked, uuid: uuids.UUID, leads_to: str, *, back_to: str = "") -> Job:
    """Keep the fitter's verdict, then queue the check; asked twice with one uuid, it is run once."""
    give_opinions(actor, uuid, asked.opinions, back_version=asked.back_version)
    watched = runs.of(uuid)
    watched.back_to = watched.back_to or back_to

    def work(told: Progress) -> str:
        step = stoppable(watched, told)
        step(0, 3, "reading the records")
        load_engine()
        document = services.compute_check(
            actor,
            asked.request(),
            back_version=asked.back_version,
            saddle_version=asked.saddle_version,
            progress=step,
        )
        step(3, 3, "recording it")
        services.record_study(
            actor,
            document,
            back_version=asked.back_version,
            saddle_version=asked.saddle_version,
            visit_uuid=asked.visit,
            uuid=uuid,
        )
        set_beside(actor, uuid)
        return leads_to

    return worker.ask(actor, f"Fit check: {asked.words}", work, uuid=uuid)


def stop_run(actor: Actor, uuid: uuids.UUID) -> None:
    """Ask a run of the actor's practice to stop at its next step.

    Raises
    ------
    NotFoundError
        If the practice has no such run under way.
    """
    if worker.look(actor, uuid) is None:
        raise services.NotFoundError("run under way", uuid)
    runs.of(uuid).stop.set()
