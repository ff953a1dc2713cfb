"""Running a fit check beside the pages: asked for, watched, stopped, recorded."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.urls import reverse

from saddlebench.practice import services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.studies import study_page
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.checking import (
    refuse_stopped_check,
    refuse_stopped_visit,
    run_again,
    run_on_current,
)
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import Outcome, Run, SoFar, long_work
from saddlebench.practice.services.opinions import give_opinions, set_beside
from saddlebench.web.base.checks.loading import NothingToDrawError, load_engine, scene_of, studies
from saddlebench.web.base.checks.pictures import HALT, PHONE, PUT, picture
from saddlebench.web.base.checks.request import request_of

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import FitStudy

DRAWS = 256
"""How often everything uncertain is varied."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckAsked:
    """A fit check that was asked for."""

    back_version: uuids.UUID
    saddle_version: uuids.UUID
    visit: uuids.UUID | None
    opinions: Mapping[str, str]
    words: str
    given: Mapping[str, Value]
    """What it is asked with, by the names of `request.FIELDS`."""


def ask_check(
    actor: Actor, asked: CheckAsked, uuid: uuids.UUID, leads_to: str, *, back_to: str = ""
) -> uuids.UUID:
    """Keep the fitter's verdict, then queue the check; asked twice with one uuid, it is run once.

    Raises
    ------
    StoppedError
        If a stop stands: then nothing is kept and nothing computed.
    """
    refuse_stopped_check(
        actor, back_version=asked.back_version, saddle_version=asked.saddle_version, visit=asked.visit
    )
    give_opinions(actor, uuid, asked.opinions, back_version=asked.back_version)
    return ask_job(
        actor,
        fit_check,
        {
            "back_version": str(asked.back_version),
            "saddle_version": str(asked.saddle_version),
            "visit": str(asked.visit) if asked.visit else None,
            "given": dict(asked.given),
            "draws": DRAWS,
        },
        action=Action.RECORD_STUDY,
        words=f"Fit check: {asked.words}",
        uuid=uuid,
        leads_to=leads_to,
        back_to=back_to,
    )


@long_work
def fit_check(
    run: Run,
    *,
    back_version: str,
    saddle_version: str,
    visit: str | None,
    given: Mapping[str, Value],
    draws: int,
) -> Outcome:
    """Compute a fit check of two recorded versions and record it under the name of the run."""
    run.tell(0, 3, "reading the records")
    if not _is_recorded(run):
        back, saddle = uuids.UUID(back_version), uuids.UUID(saddle_version)
        at = uuids.UUID(visit) if visit else None
        # A stop that came while it waited ends it as one that stood before.
        refuse_stopped_check(run.actor, back_version=back, saddle_version=saddle, visit=at)
        load_engine()
        document = services.compute_check(
            run.actor,
            request_of(given, draws=draws),
            back_version=back,
            saddle_version=saddle,
            progress=run.tell,
            first=lambda estimate: _show_first(run, estimate),
        )
        run.tell(3, 3, "recording it")
        services.record_study(
            run.actor,
            document,
            back_version=back,
            saddle_version=saddle,
            visit_uuid=at,
            uuid=run.uuid,
        )
    set_beside(run.actor, run.uuid)
    return Outcome()


def _show_first(run: Run, estimate: "FitStudy") -> None:
    """Let the saddle on the back be seen, without a word on what is right: that takes the tries to come."""
    try:
        scene = scene_of(estimate, HALT, PUT)
    except NothingToDrawError:
        return
    studies.get(first_key(run.uuid), lambda: estimate)
    picture(first_key(run.uuid), estimate, lambda: scene, "overview", width=PHONE)
    words = (
        "A first look, by the best estimate alone. What is right, and how sure that is, is still worked out."
    )
    run.show([SoFar(words=words, picture=reverse("study:first_look", args=[run.uuid]))])


def first_key(run: uuids.UUID) -> tuple[object, ...]:
    """Return under what the first look of a run is kept while this process runs."""
    return ("first", run)


def _is_recorded(run: Run) -> bool:
    """Tell whether an interrupted run had come that far."""
    try:
        study_page(run.actor, run.uuid)
    except services.NotFoundError:
        return False
    return True


def ask_same_again(actor: Actor, study: uuids.UUID, number: int, leads_to: str) -> uuids.UUID:
    """Queue a recorded run to be run again, on the versions it was run on."""
    page = study_page(actor, study, number)
    return ask_job(
        actor,
        same_again,
        {"study": str(study), "number": number},
        action=Action.RECORD_STUDY,
        words=f"Run again: {page.label}",
        leads_to=leads_to,
        back_to=leads_to,
    )


@long_work
def same_again(run: Run, *, study: str, number: int) -> Outcome:
    """Compute a recorded run again, and say whether it comes out the same."""
    load_engine()
    uuid = uuids.UUID(study)
    then = study_page(run.actor, uuid, number).run
    result = run_again(run.actor, uuid, number, run.tell)
    short = result.document.sha256[:12]
    if result.is_same:
        return Outcome(said=f"The same result, byte for byte ({short}).")
    return Outcome(
        said=f"Another result ({short} instead of {then.sha256[:12]}). The run was made by "
        f"saddlebench {then.engine_version}; a newer program may compute differently."
    )


def ask_on_current(actor: Actor, study: uuids.UUID, leads_to: str, *, why: str = "") -> uuids.UUID:
    """Queue a check to be run on its back and saddle as they are now; `why` says what is new.

    Raises
    ------
    StoppedError
        If a stop stands at its visit, or at the horse's last one where it is of none.
    """
    page = study_page(actor, study)
    refuse_stopped_visit(actor, page.horse.uuid, page.visit.uuid if page.visit else None)
    return ask_job(
        actor,
        on_current,
        {"study": str(study), "why": why},
        action=Action.RECORD_STUDY,
        words=f"Fit check with what is new: {page.label}",
        leads_to=leads_to,
        back_to=leads_to,
    )


@long_work
def on_current(run: Run, *, study: str, why: str) -> Outcome:
    """Run a check on its back and saddle as they are now, and record it as a further run."""
    run.tell(0, 3, "reading the records")
    load_engine()
    made = run_on_current(run.actor, uuids.UUID(study), why=why, progress=run.tell)
    if made is None:
        return Outcome(said="Back and saddle are as they were: there is nothing to run again.")
    return Outcome()
