"""What to do about a fit check: what is aimed at, and the plans there are already."""

import uuid as uuids
from collections.abc import Mapping
from typing import TYPE_CHECKING

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from saddlebench.practice.enums import Action
from saddlebench.practice.queries.plans import list_plans
from saddlebench.practice.queries.studies import StudyPage, study_page
from saddlebench.practice.services.planning import AtHand, at_hand
from saddlebench.web.alter.work import ask_plan
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.checks.loading import study_of_run
from saddlebench.web.base.fields import key_of, whole_of
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import told, wholly_spoken

if TYPE_CHECKING:
    from saddlebench.engine.alter import Policy

AIMS = {
    "even": ("EVEN", _("Even"), _("The load lies evenly under the tree’s footprint, both sides alike.")),
    "bigger-shoulder": (
        "BIGGER_SHOULDER",
        _("Fit the bigger shoulder"),
        _("Arch and wool suit the bigger shoulder; the smaller side’s front gets something removable."),
    ),
    "leave-room": (
        "LEAVE_ROOM",
        _("Leave room in the hollows"),
        _("Wasted hollows are not filled out: they bear half of what the rest does."),
    ),
}
PRICES = {
    "usual": (1.0, _("As usual: every mm has to win something")),
    "little": (3.0, _("As little as possible: only what wins much")),
    "whatever": (0.0, _("Whatever it takes")),
}
MAY = {
    "arch": _("Set the front arch"),
    "shims": _("Use shims"),
    "straps": _("Change girth straps"),
    "pad": _("Add a pad"),
}


def page_of_run(request: PageRequest, uuid: uuids.UUID) -> StudyPage:
    """Return the run of a fit check that an address names; the current one where it names none."""
    asked = (request.POST if request.method == "POST" else request.GET).get("run", "")
    return study_page(request.actor, uuid, whole_of(asked) if asked else None)


def held_of(request: PageRequest, page: StudyPage) -> AtHand:
    """Return a run with its result and its saddle's record."""
    study = study_of_run(request.actor, page)
    return at_hand(request.actor, page.uuid, page.run.number, study)


def policy_of(given: Mapping[str, str]) -> "Policy":
    """Return what is aimed at; the usual where the form says what there is not."""
    from saddlebench.engine.alter import Aim, Policy  # noqa: PLC0415

    aim = AIMS.get(given.get("aim", ""), AIMS["even"])[0]
    price = PRICES.get(given.get("price", ""), PRICES["usual"])[0]
    return Policy(
        aim=Aim[aim],
        arch=given.get("arch") == "yes",
        shims=given.get("shims") == "yes",
        straps=given.get("straps") == "yes",
        pad=given.get("pad") == "yes",
        price_of_mm=price,
    )


@signed_in(Action.SEE_HORSES, FORM)
@wholly_spoken
def what_to_do(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show the plans of a fit check, and ask for another."""
    page = page_of_run(request, uuid)
    if request.method == "POST":
        key = key_of(request.POST.get("form", ""))
        run = ask_plan(request.actor, uuid, page.run.number, policy_of(request.POST), uuid=key)
        return HttpResponseRedirect(reverse("job", args=[run]))
    held = held_of(request, page)
    plans = list_plans(request.actor, study=uuid)
    return show(
        request,
        "alter/what_to_do.html",
        f"{gettext('What to do')}: {page.label}",
        page,
        run=page.run,
        plans=plans.rows,
        form_key=str(key_of("")),
        aims=[(name, words, about) for name, (_, words, about) in AIMS.items()],
        prices=[(name, words) for name, (_, words) in PRICES.items()],
        may=[(name, words, name != "pad") for name, words in MAY.items()],
        reasons=[told(one) for one in held.record.alterable.reasons],
        cautions=held.study.cautions,
    )
