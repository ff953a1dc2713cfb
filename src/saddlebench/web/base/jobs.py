"""Long work beside the pages: one worker thread of this process, asked for by a page and watched by it.

A job lives as long as the process. What it makes is recorded by a service, so a killed process loses the
work under way and nothing that was recorded; the page then says that the run was interrupted.
"""

import logging
import queue
import threading
import uuid as uuids
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

from django.db import close_old_connections

from saddlebench.engine.errors import SaddlebenchError
from saddlebench.practice.rules import Actor

_log = logging.getLogger("django.saddlebench")
_MOST_WAITING = 50
_MOST_KEPT = 500
Progress = Callable[[int, int, str], None]
Work = Callable[[Progress], str]
"""Does the work, tells its progress as (done, of, doing), and returns the address of what it made."""


class JobState(StrEnum):
    """How far a job is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One job as a page shows it."""

    uuid: uuids.UUID
    actor: Actor
    words: str
    state: JobState = JobState.WAITING
    done: int = 0
    of: int = 0
    doing: str = ""
    leads_to: str = ""
    said: str = ""


class TooMuchWaitingError(SaddlebenchError):
    """The worker has more to do than it takes on."""

    def __init__(self) -> None:
        super().__init__("Too many jobs are waiting already. Wait until some are done, then ask again.")


class Worker:
    """One thread that does one job after another."""

    def __init__(self) -> None:
        self._waiting: queue.Queue[tuple[uuids.UUID, Work]] = queue.Queue(_MOST_WAITING)
        self._jobs: dict[uuids.UUID, Job] = {}
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None

    def ask(self, actor: Actor, words: str, work: Work, uuid: uuids.UUID | None = None) -> Job:
        """Queue a job; asked again with the same uuid, return the job that is there.

        Raises
        ------
        TooMuchWaitingError
            If too much is waiting already.
        """
        chosen = uuid or uuids.uuid4()
        with self._lock:
            if chosen in self._jobs:
                return self._jobs[chosen]
            self._start()
            job = Job(uuid=chosen, actor=actor, words=words)
            try:
                self._waiting.put_nowait((chosen, work))
            except queue.Full:
                raise TooMuchWaitingError from None
            self._jobs[chosen] = job
            for old in list(self._jobs)[:-_MOST_KEPT]:
                del self._jobs[old]
            return job

    def look(self, actor: Actor, uuid: uuids.UUID) -> Job | None:
        """Return a job of the actor's practice; None where there is none (any more)."""
        job = self._jobs.get(uuid)
        return job if job is not None and job.actor.practice_id == actor.practice_id else None

    def _start(self) -> None:
        if self._thread is None or not self._thread.is_alive():
            self._thread = threading.Thread(target=self._run, name="saddlebench-worker", daemon=True)
            self._thread.start()

    def _change(self, uuid: uuids.UUID, **changes: object) -> None:
        with self._lock:
            if uuid in self._jobs:
                self._jobs[uuid] = replace(self._jobs[uuid], **changes)  # type: ignore[arg-type]

    def _run(self) -> None:
        while True:
            uuid, work = self._waiting.get()
            self._change(uuid, state=JobState.RUNNING)
            self._do(uuid, work)

    def _do(self, uuid: uuids.UUID, work: Work) -> None:
        def told(done: int, of: int, doing: str) -> None:
            self._change(uuid, done=done, of=of, doing=doing)

        close_old_connections()
        try:
            self._change(uuid, leads_to=work(told), state=JobState.DONE)
        except SaddlebenchError as error:
            self._change(uuid, state=JobState.FAILED, said=str(error))
        except Exception:  # noqa: BLE001
            # The worker outlives any one job; the account goes to the program's window.
            _log.exception("a job failed")
            self._change(
                uuid, state=JobState.FAILED, said="The program failed; this is its fault, not yours."
            )
        finally:
            close_old_connections()


worker = Worker()
