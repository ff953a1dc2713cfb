"""Where the doubt of a check's findings comes from, and the repeat that would help most."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from saddlebench.exchange.vocabulary import said
from saddlebench.practice.queries.measurings import Measuring, measuring_of
from saddlebench.practice.queries.studies import StudyPage
from saddlebench.practice.rules import Actor

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import FitStudy
    from saddlebench.engine.fit.worth_repeating import FindingDoubt


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtLine:
    """One finding that cannot be told."""

    title: str
    number: str
    advice: str
    sources: tuple[str, ...]
    section: int | None
    """Which section of the back is worth measuring again, as it was counted in the record checked; None:
    none, or something else is."""
    at: str
    """Where that section lies behind the shoulder mark [mm]; empty where an older check did not note it."""
    where: str
    """The same in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtsShown:
    """What the page says of doubts."""

    lines: tuple[DoubtLine, ...]
    more: int
    """Findings that cannot be told besides those that are listed."""
    note: str
    measuring: Measuring
    """Where the repeat is begun."""
    by_finding: dict[tuple[str, str], DoubtLine]
    """Each doubt by its finding's name and side, those that are not listed too."""


def doubts_shown(actor: Actor, page: StudyPage, study: "FitStudy") -> DoubtsShown | None:
    """Return what the page says of doubts; None where every finding can be told, or none was tried."""
    from saddlebench.exchange import doubt_words as words  # noqa: PLC0415

    held = words.worth_telling(study.put.doubts)
    if not held:
        return None
    lines = {(one.finding.value, one.side.value): _line(one) for one in held}
    return DoubtsShown(
        lines=tuple(lines.values())[: words.MOST_DOUBTS],
        more=max(0, len(held) - words.MOST_DOUBTS),
        note=said(words.DOUBT_NOTE),
        measuring=measuring_of(actor, page.run.back_version),
        by_finding=lines,
    )


def _line(one: "FindingDoubt") -> DoubtLine:
    from saddlebench.engine.errors import Undetermined  # noqa: PLC0415
    from saddlebench.engine.fit.doubt_sources import SourceKind  # noqa: PLC0415
    from saddlebench.exchange import doubt_words as words  # noqa: PLC0415
    from saddlebench.exchange.places import place_words  # noqa: PLC0415

    best = None if isinstance(one.best, Undetermined) else one.best
    is_section = best is not None and best.kind is SourceKind.SECTION and bool(best.stations)
    return DoubtLine(
        title=words.title_of_doubt(one),
        number=words.number_words(one),
        advice=words.advice_of(one),
        sources=tuple(words.source_words(source) for source in one.sources),
        section=best.stations[0] if best is not None and is_section else None,
        at=f"{best.at_mm:g}" if best is not None and is_section and best.at_mm is not None else "",
        where=said(place_words(best.at_mm)) if best is not None and best.at_mm is not None else "",
    )
