"""The worker beside the pages: one thread of the serving process that does what was asked for.

It is woken when something is asked for, and looks by itself now and then: a command may ask as well.
"""

import logging
import threading

from django.db import DatabaseError, connection, transaction
from django_tasks_db.backend import DatabaseBackend
from django_tasks_db.compat import task_enqueued
from django_tasks_db.management.commands.db_worker import Worker as QueueWorker

from saddlebench.practice.services.long_work import interrupt_jobs, take_up_queue

_log = logging.getLogger("django.saddlebench")
_LOOK_EVERY_S = 15.0
_WAIT_AT_END_S = 3.0


def queue_worker() -> QueueWorker:
    """Return what does everything that waits, one after another, each time it is run."""
    return QueueWorker(
        queue_names=["*"],
        interval=0,
        batch=True,
        backend_name="default",
        startup_delay=False,
        max_tasks=None,
        worker_id="serving",
        excluded_queue_names=[],
    )


class Worker:
    """One thread that does one job after another, from `start` to `stop`."""

    def __init__(self) -> None:
        self._wake = threading.Event()
        self._queue = queue_worker()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Say what was interrupted when the process before ended, and begin with what waits."""
        take_up_queue()
        task_enqueued.connect(self._asked, sender=DatabaseBackend)
        self._thread = threading.Thread(target=self._run, name="saddlebench-worker", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Begin nothing more, and say of work under way that it was interrupted."""
        task_enqueued.disconnect(self._asked, sender=DatabaseBackend)
        self._queue.running = False
        self._wake.set()
        self.join(_WAIT_AT_END_S)
        interrupt_jobs()

    def join(self, at_most_s: float | None = None) -> None:
        """Wait until the work under way came to its end, or to its next step."""
        if self._thread is not None:
            self._thread.join(at_most_s)

    def _asked(self, **_more: object) -> None:
        transaction.on_commit(self._wake.set)

    def _run(self) -> None:
        try:
            while self._queue.running:
                try:
                    self._queue.run()
                except DatabaseError:
                    # The queue is as it was; the next look takes it up.
                    _log.exception("the queue could not be read")
                self._wake.wait(_LOOK_EVERY_S)
                self._wake.clear()
        finally:
            connection.close()
