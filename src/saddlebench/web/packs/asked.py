"""What a form or program asks to be packed, and the work of packing it."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings
from django.urls import reverse

from saddlebench.practice.enums import Action
from saddlebench.practice.handover.choice import PackChoice, WorkDone
from saddlebench.practice.handover.gathering import gather
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import Outcome, Run, long_work
from saddlebench.web.base.checks.loading import load_engine
from saddlebench.web.base.instruments import chosen_instrument
from saddlebench.web.base.report_choices import chosen as chosen_choices

_NAMES = (
    *("horses", "saddles", "backs", "studies", "plans", "orders", "visits", "changes", "shortlists"),
    "photos",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A pack that is asked for."""

    choice: PackChoice
    recipient: uuids.UUID | None
    drawings: bool
    reports: bool
    kit: bool
    instrument: str = ""
    """The practice's own, or a shipped one, by what forms call it: settings are written for it with a kit."""
    language: str = "en"
    lengths: str = "mm"
    """Of drawings, reports and the kit's papers: their reader's."""


def ask_pack(actor: Actor, asked: Asked, uuid: uuids.UUID, *, back_to: str = "") -> None:
    """Look whether everything is there, then queue the packing; asked twice with one uuid, it is one pack."""
    gathered = gather(actor, asked.choice, Path(settings.SADDLEBENCH_HOME))
    choice = asked.choice
    ask_job(
        actor,
        pack_up,
        {
            "chosen": {name: [str(one) for one in getattr(choice, name)] for name in _NAMES},
            "message": choice.message,
            "work_done": [
                [one.on.isoformat(), one.words, str(one.saddle) if one.saddle else None]
                for one in choice.work_done
            ],
            "questions": list(choice.questions),
            "answers": str(choice.answers) if choice.answers else None,
            "names_people": choice.names_people,
            "recipient": str(asked.recipient) if asked.recipient else None,
            "wants": {"drawings": asked.drawings, "reports": asked.reports, "kit": asked.kit},
            "instrument": asked.instrument,
            "language": asked.language,
            "lengths": asked.lengths,
        },
        action=Action.EXPORT,
        words=f"Handover pack: {gathered.label}",
        uuid=uuid,
        leads_to=reverse("packs:sent", args=[uuid]),
        back_to=back_to,
    )


@long_work
def pack_up(
    run: Run,
    *,
    chosen: Mapping[str, list[str]],
    message: str,
    work_done: list[list[Any]],
    questions: list[str],
    answers: str | None,
    names_people: bool,
    recipient: str | None,
    wants: Mapping[str, bool],
    instrument: str,
    language: str = "en",
    lengths: str = "mm",
) -> Outcome:
    """Make drawings and documents, and sign it all, under the name of the run."""
    load_engine()
    from saddlebench.report.handover import Wants, hand_over  # noqa: PLC0415

    tools = (chosen_instrument(run.actor, instrument),) if instrument else ()
    choice = PackChoice(
        **{name: tuple(map(uuids.UUID, chosen.get(name, ()))) for name in _NAMES},
        message=message,
        work_done=tuple(
            WorkDone(on=date.fromisoformat(on), words=words, saddle=uuids.UUID(saddle) if saddle else None)
            for on, words, saddle in work_done
        ),
        questions=tuple(questions),
        answers=uuids.UUID(answers) if answers else None,
        names_people=names_people,
    )
    made = hand_over(
        run.actor,
        choice,
        Path(settings.SADDLEBENCH_HOME),
        Wants(
            **wants,
            instruments=tools,
            reader=chosen_choices({"language": language, "lengths": lengths}).reader(),
        ),
        recipient=uuids.UUID(recipient) if recipient else None,
        uuid=run.uuid,
        told=lambda task, done, of, doing: run.tell(done, of, f"{task}: {doing}"),
    )
    return Outcome(said="\n".join(map(str, made.problems)))
