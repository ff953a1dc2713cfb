"""Seeking a plan beside the pages: asked for, watched, stopped, recorded."""

import uuid as uuids
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from django.urls import reverse

from saddlebench.practice import services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.plans import plan_page
from saddlebench.practice.queries.studies import study_page
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import Outcome, Run, long_work
from saddlebench.practice.services.planning import (
    alteration_of_plain,
    compute_plan,
    plain_alteration,
    refuse_stopped_plan,
)
from saddlebench.practice.services.plans import record_plan
from saddlebench.web.base.checks.loading import load_engine

if TYPE_CHECKING:
    from saddlebench.engine.alter import Alteration, Policy


def ask_plan(
    actor: Actor,
    study: uuids.UUID,
    number: int,
    policy: "Policy",
    wanted: "Alteration | None" = None,
    *,
    uuid: uuids.UUID | None = None,
) -> uuids.UUID:
    """Queue the search for a plan (or the close look at the one that is wanted), and return its name.

    Raises
    ------
    StoppedError
        If a stop stands: then nothing is computed.
    NotFoundError
        If the practice has no such run.
    """
    refuse_stopped_plan(actor, study)
    page = study_page(actor, study, number)
    chosen = uuid or uuids.uuid4()
    return ask_job(
        actor,
        make_plan,
        {
            "study": str(study),
            "number": number,
            "policy": _plain_policy(policy),
            "wanted": None if wanted is None else plain_alteration(wanted),
        },
        action=Action.RECORD_STUDY,
        words=f"What to do: {page.label}",
        uuid=chosen,
        leads_to=reverse("alter:plan", args=[chosen]),
        back_to=f"{reverse('alter:what_to_do', args=[study])}?run={number}",
    )


def _plain_policy(policy: "Policy") -> dict[str, Value]:
    from pydantic import TypeAdapter  # noqa: PLC0415

    from saddlebench.engine.alter import Policy  # noqa: PLC0415

    held: dict[str, Value] = TypeAdapter(Policy).dump_python(policy, mode="json")
    return held


@long_work
def make_plan(
    run: Run,
    *,
    study: str,
    number: int,
    policy: Mapping[str, Any],
    wanted: Mapping[str, Any] | None,
) -> Outcome:
    """Seek a plan for a run of a fit check and record it under the name of the work."""
    from pydantic import TypeAdapter  # noqa: PLC0415

    run.tell(0, 3, "reading the records")
    if _is_recorded(run):
        return Outcome()
    uuid = uuids.UUID(study)
    refuse_stopped_plan(run.actor, uuid)
    load_engine()
    from saddlebench.engine.alter import Policy  # noqa: PLC0415
    from saddlebench.exchange.records import as_json  # noqa: PLC0415

    document = compute_plan(
        run.actor,
        uuid,
        number,
        TypeAdapter(Policy).validate_python(policy),
        None if wanted is None else alteration_of_plain(wanted),
        run.tell,
    )
    text = Document(text=as_json(document))
    record_plan(run.actor, text, study_uuid=uuid, number=number, uuid=run.uuid)
    return Outcome()


def _is_recorded(run: Run) -> bool:
    """Tell whether an interrupted search had come that far."""
    try:
        plan_page(run.actor, run.uuid)
    except services.NotFoundError:
        return False
    return True
