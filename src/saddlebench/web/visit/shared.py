"""What every page of a visit shows: the path, the stops, what is worked out."""

import uuid as uuids
from dataclasses import dataclass

from saddlebench.practice import queries
from saddlebench.practice.estimates import WeightEstimate
from saddlebench.practice.queries.visit_work import VisitWork, visit_work
from saddlebench.practice.queries.visits import VisitPage
from saddlebench.practice.rules import Actor
from saddlebench.practice.stops import Stops
from saddlebench.web.base.fields import words_of_choice
from saddlebench.web.visit.path import StepState, path_of
from saddlebench.web.visit.stop_words import STOP_WORDS


@dataclass(frozen=True, slots=True, kw_only=True)
class StopShown:
    """One kind of stop that stands, who comes first, and why."""

    title: str
    first: str
    causes: tuple[str, ...]

    @property
    def advice(self) -> str:
        """What is likely to be said; the fitter edits it."""
        return f"{self.title}: {', '.join(self.causes).lower()}. {self.first}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """The visit around a step."""

    page: VisitPage
    work: VisitWork
    path: tuple[StepState, ...]
    here: str
    stops: tuple[StopShown, ...]
    horse: str
    carried_percent: float | None
    weight: WeightEstimate | None


def shown_stops(stops: Stops) -> tuple[StopShown, ...]:
    """Return stops in words."""
    return tuple(
        StopShown(
            title=STOP_WORDS[kind][0],
            first=STOP_WORDS[kind][1],
            causes=tuple(words_of_choice(kind, cause) for cause in causes),
        )
        for kind, causes in stops.items()
    )


def name_of(page: VisitPage) -> str:
    """Return by what name the horse goes."""
    return page.horse.label if page.horse else str(page.head.get("label") or "Horse not said yet")


def around(actor: Actor, uuid: uuids.UUID, here: str, *, saddles: bool = False) -> Around:
    """Return the visit around a step.

    Raises
    ------
    NotFoundError
        If the practice has no such visit.
    """
    page = queries.visit_page(actor, uuid)
    work = visit_work(actor, uuid, saddles=saddles, begun=here == "back")
    return Around(
        page=page,
        work=work,
        path=path_of(page, work, here),
        here=here,
        stops=shown_stops(page.stops),
        horse=name_of(page),
        carried_percent=None if page.carried is None else page.carried * 100,
        weight=page.weight,
    )
