"""What drives findings' doubt, for machines: the same for commands and other programs."""

from collections.abc import Iterable
from typing import Any

from saddlebench.engine.errors import is_known
from saddlebench.engine.fit.doubt_sources import WorthRepeating
from saddlebench.engine.fit.worth_repeating import FindingDoubt
from saddlebench.exchange.doubt_words import advice_of, place_of, title_of_doubt


def doubts_as_json(doubts: Iterable[FindingDoubt]) -> list[dict[str, Any]]:
    """Return doubts as JSON holds them, in their order."""
    return [doubt_as_json(one) for one in doubts]


def doubt_as_json(one: FindingDoubt) -> dict[str, Any]:
    """Return the doubt of one finding as JSON holds it."""
    best = one.best
    return {
        "finding": one.finding.value,
        "title": title_of_doubt(one),
        "side": one.side.value,
        "measure": one.what,
        "value": one.value,
        "half_width_95": one.half_width,
        "unit": one.unit,
        "agreeing": one.agreeing,
        "told": one.is_told,
        "advice": advice_of(one),
        "repeat": place_of(best) if is_known(best) else None,
        "sources": [source_as_json(source) for source in one.sources],
    }


def source_as_json(source: WorthRepeating) -> dict[str, Any]:
    """Return one source of a doubt as JSON holds it."""
    return {
        "source": place_of(source),
        "what_to_do": source.kind.value,
        "stations": list(source.stations),
        "behind_shoulder_mm": source.at_mm,
        "share": source.share,
        "removes": source.removes,
        "told_after": source.settles,
        "between": [source.low, source.high],
    }
