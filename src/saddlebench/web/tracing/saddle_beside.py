"""What is measured beside a saddle's tracings, as a form takes it and shows it again."""

from dataclasses import dataclass

from django.http import QueryDict

from saddlebench.engine.errors import Problem, Where
from saddlebench.exchange.tracings.across_saddle import SectionsStated, stated_problems
from saddlebench.web.tracing.typed import shown_numbers, typed_numbers

USUAL_STATIONS = "20 60 120 180 240 300 360 400"
_LISTS = (("stations", False), ("leans", True), ("gaps", False), ("channel", True))


@dataclass(frozen=True, slots=True, kw_only=True)
class BesideShown:
    """What was measured beside the tracings, as it is typed."""

    stations: str
    leans: str
    gaps: str
    channel: str
    mirrored: bool


def stated_of(posted: QueryDict, problems: list[Problem]) -> SectionsStated:
    """Return what was measured beside the tracings as a form says it; what is wrong is noted."""
    lists = {
        name: typed_numbers(posted.get(name, ""), name, problems, has_gaps=has_gaps)
        for name, has_gaps in _LISTS
    }
    if not lists["stations"] and not problems:
        cure = "Write them with spaces between: 20 60 120 180."
        problems.append(Problem(what="no station has a distance", cure=cure, where=Where(field="stations")))
    stated = SectionsStated(
        behind_mm=tuple(one for one in lists["stations"] if one is not None),
        leans_deg=lists["leans"],
        gaps_mm=tuple(one for one in lists["gaps"] if one is not None),
        channel_mm=lists["channel"],
        mirrored=posted.get("mirrored") == "1",
    )
    if not problems:
        problems += stated_problems(stated)
    return stated


def beside_given(given: QueryDict) -> BesideShown:
    """Return what a form says, as it was typed; at first the usual stations."""
    return BesideShown(
        stations=given.get("stations", USUAL_STATIONS),
        leans=given.get("leans", ""),
        gaps=given.get("gaps", ""),
        channel=given.get("channel", ""),
        mirrored=given.get("mirrored") == "1",
    )


def beside_held(stated: SectionsStated) -> BesideShown:
    """Return what was stated, as it would be typed."""
    return BesideShown(
        stations=shown_numbers(stated.behind_mm),
        leans=shown_numbers(stated.leans_deg),
        gaps=shown_numbers(stated.gaps_mm),
        channel=shown_numbers(stated.channel_mm),
        mirrored=stated.mirrored,
    )
