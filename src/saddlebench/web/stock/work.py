"""Choosing beside the pages: progress, the best so far, stopped with what is known, recorded."""

import os
import uuid as uuids
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from django.urls import reverse

from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action, ChoiceKind
from saddlebench.practice.queries.choices import choice_page
from saddlebench.practice.queries.choosing import shortlist_from_stock, wanted_on
from saddlebench.practice.queries.choosing_rules import own_choosing
from saddlebench.practice.queries.limits import own_limits
from saddlebench.practice.queries.season import horses_to_ask
from saddlebench.practice.queries.stock import saddle_candidate, stock_candidates
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.deeds import NotFoundError
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import (
    Outcome,
    Run,
    SoFar,
    StoppedOnRequestError,
    long_work,
)
from saddlebench.practice.services.plans import record_choice
from saddlebench.web.base.checks.loading import load_engine
from saddlebench.web.base.checks.request import request_of

if TYPE_CHECKING:
    from saddlebench.engine.choose import Place, Pool, RiderSize, Wanted

TRIES = 48
SHOWN_SO_FAR = 5
_MANY = 40
"""From so many saddles on a process of its own does the work, so that pages are not held up."""
Told = Callable[[int, int, str], None]


class Watched:
    """Tells how far work is; where a person stops it, it ends softly and what is known is kept."""

    def __init__(self, run: Run) -> None:
        self._run = run
        self.stopped = False

    def tell(self, done: int, of: int, doing: str) -> None:
        """Tell how far it is."""
        try:
            self._run.tell(done, of, doing)
        except StoppedOnRequestError:
            self.stopped = True

    def show(self, so_far: Sequence[SoFar]) -> None:
        """Let people look at what there is already."""
        try:
            self._run.show(so_far)
        except StoppedOnRequestError:
            self.stopped = True

    def is_stopped(self) -> bool:
        """Tell whether a person asked to stop it."""
        return self.stopped


@contextmanager
def pool_for(candidates: int) -> "Iterator[Pool]":
    """Yield where the work is done: here for a few saddles, in processes of their own for many."""
    from saddlebench.engine.choose import HERE  # noqa: PLC0415

    if candidates < _MANY:
        yield HERE
        return
    from saddlebench.exchange.workers import Processes  # noqa: PLC0415

    with Processes(max(1, (os.cpu_count() or 1) - 1)) as pool:
        yield pool


def ask_shortlist(
    actor: Actor,
    horse: uuids.UUID,
    label: str,
    asked: Mapping[str, Value],
    *,
    uuid: uuids.UUID | None = None,
) -> uuids.UUID:
    """Queue the search for saddles that suit one horse, and return its name.

    Parameters
    ----------
    asked : `back_version`, the values of the fit check's request, and those of `asking.FIELDS`
    """
    chosen = uuid or uuids.uuid4()
    return ask_job(
        actor,
        find_saddles,
        {"horse": str(horse), "label": label, "asked": dict(asked)},
        action=Action.RECORD_STUDY,
        words=f"Saddles for {label}",
        uuid=chosen,
        leads_to=reverse("stock:choice", args=[chosen]),
        back_to=reverse("stock:shortlist", args=[horse]),
    )


@long_work
def find_saddles(run: Run, *, horse: str, label: str, asked: Mapping[str, Any]) -> Outcome:
    """Find the saddles in stock that suit one horse and rider, and record the list."""
    run.tell(0, 1, "reading the stock")
    if _is_recorded(run):
        return Outcome()
    load_engine()
    from saddlebench.engine.choose import ShortlistSettings  # noqa: PLC0415
    from saddlebench.report.shortlist_json import shortlist_as_json  # noqa: PLC0415

    request = request_of(asked, draws=TRIES)
    wanted = wanted_on(
        run.actor,
        uuids.UUID(str(asked["back_version"])),
        request.rider,
        rider_size=_rider_size(asked),
        horse=request.horse,
    )
    only_free, discipline = asked.get("everything") is not True, str(asked.get("discipline") or "")
    watched = Watched(run)
    count = len(stock_candidates(run.actor, only_free=only_free, discipline=discipline))
    with pool_for(count) as pool:
        found = shortlist_from_stock(
            run.actor,
            wanted,
            only_free=only_free,
            discipline=discipline,
            settings=ShortlistSettings(length=int(asked.get("length") or 10), draws=TRIES),
            pool=pool,
            progress=watched.tell,
            stop=watched.is_stopped,
            so_far=lambda best: watched.show(_so_far(best)),
        )
    record_choice(
        run.actor,
        ChoiceKind.SHORTLIST,
        shortlist_as_json(found),
        label=f"Saddles for {label}",
        asked=asked,
        horse_uuid=uuids.UUID(horse),
        uuid=run.uuid,
    )
    return _outcome(complete=found.is_complete)


def _so_far(best: "Sequence[Place]") -> list[SoFar]:
    return [
        SoFar(
            words=f"{number}. {place.variant.candidate.label}, so far",
            address=reverse("records:saddle", args=[place.variant.candidate.key]),
        )
        for number, place in enumerate(best[:SHOWN_SO_FAR], start=1)
    ]


def _rider_size(asked: Mapping[str, Any]) -> "RiderSize":
    from saddlebench.engine.choose import RiderSize  # noqa: PLC0415
    from saddlebench.engine.errors import NotMeasured  # noqa: PLC0415

    def size(name: str) -> float | NotMeasured:
        held = asked.get(name)
        return float(held) if isinstance(held, int | float) else NotMeasured("not given")

    return RiderSize(thigh_mm=size("thigh"), leg_mm=size("leg"))


def _outcome(*, complete: bool) -> Outcome:
    said = (
        "" if complete else "Stopped, as you asked. What was known by then is kept, and said to be partial."
    )
    return Outcome(said=said)


def _is_recorded(run: Run) -> bool:
    """Tell whether an interrupted search had come that far."""
    try:
        choice_page(run.actor, run.uuid)
    except NotFoundError:
        return False
    return True


def ask_takers(actor: Actor, saddle: uuids.UUID, label: str, *, uuid: uuids.UUID | None = None) -> uuids.UUID:
    """Queue the search for horses that could take one saddle."""
    chosen = uuid or uuids.uuid4()
    return ask_job(
        actor,
        find_takers,
        {"saddle": str(saddle), "label": label},
        action=Action.RECORD_STUDY,
        words=f"Who could take {label}",
        uuid=chosen,
        leads_to=reverse("stock:choice", args=[chosen]),
        back_to=reverse("records:saddle", args=[saddle]),
    )


@long_work
def find_takers(run: Run, *, saddle: str, label: str) -> Outcome:
    """Find the horses that could take one saddle, and record them."""
    run.tell(0, 1, "reading the backs")
    if _is_recorded(run):
        return Outcome()
    load_engine()
    from saddlebench.engine.choose import takers  # noqa: PLC0415
    from saddlebench.report.shortlist_json import takers_as_json  # noqa: PLC0415

    watched = Watched(run)
    wanted, not_asked = _everybody(run.actor, watched)
    found = takers(
        saddle_candidate(run.actor, uuids.UUID(saddle)),
        wanted,
        _settings(run.actor, 1),
        progress=watched.tell,
        stop=watched.is_stopped,
    )
    horses = {one.wanted_label: one.wanted_key for one in found.takers}
    told = takers_as_json(found)
    for one in told["horses"]:
        one["uuid"] = horses[one["horse"]]
    record_choice(
        run.actor,
        ChoiceKind.TAKERS,
        told | {"not_asked": not_asked},
        label=f"Who could take {label}",
        asked={},
        saddle_uuid=uuids.UUID(saddle),
        uuid=run.uuid,
    )
    return _outcome(complete=found.is_complete)


def ask_season(actor: Actor, *, length: int, everything: bool, uuid: uuids.UUID | None = None) -> uuids.UUID:
    """Queue a short list for every horse."""
    chosen = uuid or uuids.uuid4()
    return ask_job(
        actor,
        plan_season,
        {"length": length, "everything": everything},
        action=Action.RECORD_STUDY,
        words="Season: saddles for all horses",
        uuid=chosen,
        leads_to=reverse("stock:choice", args=[chosen]),
        back_to=reverse("stock:season"),
    )


@long_work
def plan_season(run: Run, *, length: int, everything: bool) -> Outcome:
    """Make a short list of saddles for every horse, and record them all."""
    run.tell(0, 1, "reading stock and backs")
    if _is_recorded(run):
        return Outcome()
    load_engine()
    from saddlebench.engine.choose import season  # noqa: PLC0415
    from saddlebench.report.shortlist_json import season_as_json  # noqa: PLC0415

    watched = Watched(run)
    wanted, not_asked = _everybody(run.actor, watched)
    candidates = stock_candidates(run.actor, only_free=not everything)
    lists, shown = [], []
    with pool_for(len(candidates)) as pool:
        for found in season(
            wanted,
            candidates,
            _settings(run.actor, length),
            pool=pool,
            progress=watched.tell,
            stop=watched.is_stopped,
        ):
            lists.append(found)
            best = found.entries[0].label if found.entries else "none passes the hard limits"
            shown.append(SoFar(words=f"{found.wanted_label}: {best}"))
            watched.show(shown[-SHOWN_SO_FAR:])
    told = season_as_json(lists, len(wanted))
    keys = {one.wanted_label: one.wanted_key for one in lists}
    for one in told["lists"]:
        one["uuid"] = keys[one["horse"]]
    record_choice(
        run.actor,
        ChoiceKind.SEASON,
        told | {"not_asked": not_asked},
        label=f"Season: {len(lists)} horses",
        asked={"length": length, "everything": everything},
        uuid=run.uuid,
    )
    return _outcome(complete=bool(told["complete"]))


def _settings(actor: Actor, length: int) -> Any:
    from dataclasses import replace  # noqa: PLC0415

    from saddlebench.engine.choose import ShortlistSettings  # noqa: PLC0415

    own, chosen_by = own_limits(actor), own_choosing(actor)
    settings = ShortlistSettings(length=length)
    if own is not None:
        settings = replace(settings, criteria=own.criteria())
    if chosen_by is not None:
        settings = replace(settings, rules=chosen_by.rules, limits=chosen_by.limits)
    return settings


def _everybody(actor: Actor, watched: Watched) -> "tuple[list[Wanted], list[dict[str, str]]]":
    """Return the horses that can be asked about, named by their uuid, and why the others cannot."""
    from dataclasses import replace  # noqa: PLC0415

    from saddlebench.engine.errors import SaddlebenchError  # noqa: PLC0415
    from saddlebench.engine.fit.loads import Rider  # noqa: PLC0415

    wanted: list[Wanted] = []
    not_asked: list[dict[str, str]] = []
    asked = horses_to_ask(actor)
    for number, one in enumerate(asked):
        watched.tell(number, len(asked), f"reading {one.horse.label}")
        if one.back_version is None or one.rider_mass_kg is None or one.why_not:
            not_asked.append({"horse": one.horse.label, "why": one.why_not})
            continue
        try:
            found = wanted_on(actor, one.back_version, Rider(mass_kg=one.rider_mass_kg))
        except SaddlebenchError as error:
            not_asked.append({"horse": one.horse.label, "why": str(error)})
            continue
        wanted.append(replace(found, key=str(one.horse.uuid), label=one.horse.label))
    return wanted, not_asked
