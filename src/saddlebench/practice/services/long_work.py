"""Long work: a named function with plain arguments, kept in the tables and done by one worker.

A killed process loses only the work under way: what waited is done after the next start, and what was being
done is said to be interrupted and can be asked for again under the same name.
"""

import logging
import time
import uuid as uuids
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from datetime import timedelta

from django.db import transaction
from django.utils import timezone
from django.utils.module_loading import import_string
from django_tasks import TaskResultStatus, task
from django_tasks_db.models import DBTaskResult

from saddlebench.engine.errors import SaddlebenchError
from saddlebench.practice.enums import JobState, Role
from saddlebench.practice.models import Job, Membership
from saddlebench.practice.rules import Actor, is_within

_log = logging.getLogger("django.saddlebench")
_KEPT_FOR = timedelta(days=60)
# The tables are written this often at most while work tells how far it is: each write waits for the disk.
_TELL_EVERY_S = 0.4
OVER = frozenset({JobState.DONE, JobState.FAILED, JobState.STOPPED, JobState.INTERRUPTED})


class StoppedOnRequestError(SaddlebenchError):
    """A person does not want the work any more."""

    def __init__(self) -> None:
        super().__init__("Stopped, as you asked. Nothing was recorded.")


class NoLongerAllowedError(SaddlebenchError):
    """Who asked for the work left the practice, or has another role by now."""

    def __init__(self) -> None:
        super().__init__("Who asked for this may not do it any more. Somebody who may can ask again.")


@dataclass(frozen=True, slots=True, kw_only=True)
class SoFar:
    """Something that can be looked at before the work is done."""

    words: str
    address: str = ""
    """Where it is looked at; empty: the words are all there is."""
    picture: str = ""
    """Address of a picture of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of long work."""

    leads_to: str = ""
    """Address of what was made; empty: the one named when it was asked for."""
    said: str = ""
    """What there is to say before one goes on there; empty: the page goes there by itself."""


@dataclass(frozen=True, slots=True)
class LongWork:
    """A function that the worker can be asked for."""

    name: str
    """Importable, so that work that waited is found again after a start."""
    call: Callable[..., Outcome]


def long_work(function: Callable[..., Outcome]) -> LongWork:
    """Declare a function of a module as long work; called with its `Run`, then with the arguments by name."""
    return LongWork(f"{function.__module__}.{function.__qualname__}", function)


class Run:
    """One go at a piece of long work: for whom, and how it tells how far it is."""

    def __init__(self, job: Job, actor: Actor) -> None:
        self.uuid: uuids.UUID = job.uuid
        self.actor = actor
        self._written = 0.0
        self._doing = ""

    def tell(self, done: int, of: int, doing: str) -> None:
        """Tell how far the work is. This is where it ends if a person asked to stop it.

        Raises
        ------
        StoppedOnRequestError
            If so.
        """
        now = time.monotonic()
        if doing == self._doing and now - self._written < _TELL_EVERY_S:
            return
        self._written, self._doing = now, doing
        self._write(done=max(0, done), of=max(0, of), doing=doing[:300])

    def show(self, so_far: Sequence[SoFar]) -> None:
        """Let people look at what there is already, in the place of what was shown before.

        Raises
        ------
        StoppedOnRequestError
            If a person asked to stop it.
        """
        self._write(so_far=[asdict(one) for one in so_far])

    def _write(self, **columns: object) -> None:
        going_on = Job.objects.filter(uuid=self.uuid, state=JobState.RUNNING.value, stop_asked_at=None)
        if not going_on.update(**columns):
            raise StoppedOnRequestError


@task()
def perform(uuid: str) -> None:
    """Do one piece of work whose turn it is; what it is was kept when it was asked for."""
    mine = Job.objects.filter(uuid=uuid)
    # Only one worker gets it out of waiting, and nobody gets what was stopped meanwhile.
    if mine.filter(state=JobState.WAITING.value).update(
        state=JobState.RUNNING.value, started_at=timezone.now()
    ):
        _end(uuid, *_done(mine.get()))


def _done(job: Job) -> tuple[JobState, Outcome]:
    try:
        found = _work_named(job.work).call(Run(job, _actor_of(job)), **job.arguments)
    except StoppedOnRequestError as error:
        return JobState.STOPPED, Outcome(said=str(error))
    except SaddlebenchError as error:
        return JobState.FAILED, Outcome(said=str(error))
    except Exception:  # noqa: BLE001
        # The worker outlives any one job; the account goes to the program's window.
        _log.exception("a job failed")
        return JobState.FAILED, Outcome(said="The program failed; this is its fault, not yours.")
    return JobState.DONE, found


def _end(uuid: str, state: JobState, outcome: Outcome) -> None:
    columns = {"leads_to": outcome.leads_to} if outcome.leads_to else {}
    Job.objects.filter(uuid=uuid, state=JobState.RUNNING.value).update(
        state=state.value, said=outcome.said, ended_at=timezone.now(), **columns
    )


class _UnknownWorkError(SaddlebenchError):
    def __init__(self) -> None:
        super().__init__("This version of the program does not know this work any more. Ask for it anew.")


def _work_named(name: str) -> LongWork:
    try:
        found = import_string(name)
    except ImportError:
        raise _UnknownWorkError from None
    if not isinstance(found, LongWork):
        raise _UnknownWorkError
    return found


def _actor_of(job: Job) -> Actor:
    member = (
        Membership.objects.filter(
            practice_id=job.practice_id, user_id=job.asked_by_id, ended_at=None, user__is_active=True
        )
        .select_related("user")
        .first()
    )
    role = Role(job.role)
    if member is None or not is_within(role, Role(member.role)):
        raise NoLongerAllowedError
    return Actor(user_id=job.asked_by_id, practice_id=job.practice_id, role=role, label=member.user.label)


def interrupt_jobs() -> int:
    """Say of work that nobody does any more that it was interrupted; return how much.

    For the one process that serves a database: when it starts, and when it ends.
    """
    return Job.objects.filter(state=JobState.RUNNING.value).update(
        state=JobState.INTERRUPTED.value,
        ended_at=timezone.now(),
        said="The program was stopped before this was done. What was recorded before is not lost.",
    )


def take_out_old_jobs() -> int:
    """Take out of the tables what is over: of the queue at once, of what people may look at after a time.

    Returns
    -------
    How many rows that was.
    """
    ended = DBTaskResult.objects.filter(status__in=[TaskResultStatus.SUCCESSFUL, TaskResultStatus.FAILED])
    long_ago = timezone.now() - _KEPT_FOR
    old = Job.objects.filter(state__in=[state.value for state in OVER], ended_at__lt=long_ago)
    return ended.delete()[0] + old.delete()[0]


def take_up_queue() -> None:
    """Bring the queue in order when the process starts: everything that waits is in it, and nothing else."""
    with transaction.atomic():
        interrupt_jobs()
        take_out_old_jobs()
        DBTaskResult.objects.exclude(status=TaskResultStatus.READY).delete()
        queued = {row.args_kwargs["args"][0] for row in DBTaskResult.objects.all()}
        waiting = Job.objects.filter(state=JobState.WAITING.value).order_by("asked_at", "id")
        for uuid in map(str, waiting.values_list("uuid", flat=True)):
            # A process killed between taking it out of the queue and beginning it leaves it in no queue.
            if uuid not in queued:
                perform.enqueue(uuid)
