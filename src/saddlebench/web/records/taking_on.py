"""Taking on a client, a yard, a horse or a saddle."""

import uuid as uuids

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice import queries, services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action, Holding, Subject
from saddlebench.practice.queries.horses import HorsePage, Linked
from saddlebench.practice.rules import may
from saddlebench.practice.services import NotFoundError
from saddlebench.web.base.access import FORM, PageRequest, signed_in
from saddlebench.web.base.fields import FormShown, homeless, key_of, show_fields, typed_texts, value_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.records.choosing import chosen_of, show_choice
from saddlebench.web.records.kinds import CLIENT, HORSE, SADDLE, YARD, RecordKind

_TITLES = {
    Subject.CLIENT: "Take on a client",
    Subject.YARD: "Add a yard",
    Subject.HORSE: "Take on a horse",
    Subject.SADDLE: "Take on a saddle",
}

_SERVICES = {
    Subject.CLIENT: services.take_on_client,
    Subject.YARD: services.take_on_yard,
    Subject.HORSE: services.take_on_horse,
}


@signed_in(Action.EDIT_PEOPLE, FORM)
def new_client(request: PageRequest) -> HttpResponse:
    """Take on a client."""
    return _new(request, CLIENT)


@signed_in(Action.EDIT_PEOPLE, FORM)
def new_yard(request: PageRequest) -> HttpResponse:
    """Add a yard."""
    return _new(request, YARD)


@signed_in(Action.EDIT_HORSES, FORM)
def new_horse(request: PageRequest) -> HttpResponse:
    """Take on a horse, with an owner and a yard from the list or new ones."""
    return _new(request, HORSE)


@signed_in(Action.EDIT_SADDLES, FORM)
def new_saddle(request: PageRequest) -> HttpResponse:
    """Take on a saddle: a client's, or one in stock; for a horse, it is used on it and measured next."""
    return _new(request, SADDLE)


def _for_horse(request: PageRequest) -> HorsePage | None:
    """Return the horse that a saddle is taken on for, if the address or the form names one."""
    named = (request.POST or request.GET).get("horse", "")
    if not named:
        return None
    try:
        return queries.horse_page(request.actor, uuids.UUID(named))
    except ValueError:
        raise Http404 from None


def _links(request: PageRequest, kind: RecordKind) -> tuple[str, ...]:
    sees_people = may(request.actor, Action.SEE_PEOPLE, request.actor.practice_id)
    return kind.links if sees_people else ()


def _new(request: PageRequest, kind: RecordKind) -> HttpResponse:
    problems: tuple[Problem, ...] = ()
    if request.method == "POST" and "look_up" not in request.POST:
        try:
            row = _take_on(request, kind)
        except InputProblemsError as error:
            problems = error.problems
        else:
            undo = reverse("records:withdraw", args=[kind.subject.value, row.uuid])
            say(request, f"{row.label} is taken on.", undo=_undo(request, undo))
            return HttpResponseRedirect(_next(request, kind, row.uuid))
    return _form(request, kind, problems)


def _next(request: PageRequest, kind: RecordKind, uuid: uuids.UUID) -> str:
    """Return where one goes on: to the record, or to a saddle's numbers where it is wanted for a horse."""
    measures = may(request.actor, Action.RECORD_SADDLE, request.actor.practice_id)
    if kind is SADDLE and request.POST.get("horse") and measures:
        return reverse("capture:measure_saddle", args=[uuid])
    return reverse(kind.url, args=[uuid])


def _undo(request: PageRequest, address: str) -> str:
    return address if may(request.actor, Action.WITHDRAW, request.actor.practice_id) else ""


def _form(request: PageRequest, kind: RecordKind, problems: tuple[Problem, ...]) -> HttpResponse:
    posted = request.POST if request.method == "POST" else None
    typed = typed_texts(posted, kind.fields) if posted else {}
    fields = show_fields(kind.fields, {}, typed=typed, problems=problems)
    choices = []
    horse = _for_horse(request) if kind is SADDLE else None
    of_horse = str(horse.client.uuid) if horse and horse.client else ""
    for what in _links(request, kind):
        start = None if posted else chosen_of(request.actor, what, request.GET.get(what, "") or of_horse)
        takes_new = may(request.actor, Action.EDIT_PEOPLE, request.actor.practice_id)
        choices.append(
            show_choice(request.actor, what, start, posted=posted, takes_new=takes_new, problems=problems)
        )
    shown_at_links = {problem for one in choices for problem in one.problems}
    rest = tuple(p for p in homeless(problems, fields) if p not in shown_at_links)
    uuid = str(key_of(posted.get("form", ""))) if posted else str(uuids.uuid4())
    more = {
        "form": FormShown(fields=fields, problems=rest, uuid=uuid),
        "choices": choices,
        "kind": kind.subject.value,
        "holding": (posted or request.GET).get("holding", "client"),
        "horse": horse,
    }
    status = 422 if problems else 200
    return show(request, "records/new.html", _TITLES[kind.subject], status=status, **more)


def _take_on(request: PageRequest, kind: RecordKind) -> Linked:
    posted, actor = request.POST, request.actor
    uuid = key_of(posted.get("form", ""))
    typed = typed_texts(posted, kind.fields)
    values: dict[str, Value] = {name: value_of(kind.fields[name], text) for name, text in typed.items()}
    for what in _links(request, kind):
        values[what] = _linked(request, what, uuid)
    if kind is SADDLE:
        holding = Holding.STOCK if posted.get("holding") == Holding.STOCK else Holding.CLIENT
        if holding is Holding.STOCK:
            values.pop("client", None)
        horse = _for_horse(request)
        saddle = services.take_on_saddle(actor, values, uuid, holding=holding)
        if horse is not None and may(actor, Action.EDIT_HORSES, actor.practice_id):
            services.use_saddle_on(actor, saddle.uuid, [horse.uuid])
        return Linked(uuid=saddle.uuid, label=saddle.label)
    row = _SERVICES[kind.subject](actor, values, uuid)
    return Linked(uuid=row.uuid, label=row.label)


def _linked(request: PageRequest, what: str, uuid: uuids.UUID) -> Value:
    """Return the uuid of whom the form chose, taking on a new one first where a new name was typed."""
    name = request.POST.get(f"{what}.new", "").strip()
    chosen = request.POST.get(what, "")
    if not name or chosen:
        return chosen or None
    # Derived from the form's own key: the form sent twice makes one person, not two.
    new_uuid = uuids.uuid5(uuid, what)
    take_on = services.take_on_client if what == "client" else services.take_on_yard
    try:
        return str(take_on(request.actor, {"label": name}, new_uuid).uuid)
    except NotFoundError:
        return None
