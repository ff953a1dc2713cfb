"""The pictures of the reports, drawn from a study; those that cannot be drawn are left out."""

from collections.abc import Iterable

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.fit.worth_repeating import FindingDoubt
from saddlebench.exchange.doubt_words import worth_telling
from saddlebench.exchange.drawings import Drawing, Scene, back_view, line_load, section_row, side
from saddlebench.exchange.drawings.doubt import doubt_chart

HALF_PAGE_MM = 88.0
MOST_DOUBTS_DRAWN = 4


def back_of(study: FitStudy) -> Drawing | None:
    """Draw the back with the pressures on it, rider up at halt; None without that state."""
    scene = Scene.of_study(study)
    return None if isinstance(scene, Undetermined) else back_view(scene)


def workshop_pictures(study: FitStudy) -> dict[str, Drawing]:
    """Draw sections, load and side view, rider up at halt; nothing without that state."""
    scene = Scene.of_study(study)
    if isinstance(scene, Undetermined):
        return {}
    return {
        "sections": section_row(scene),
        "load": line_load(scene, width_mm=HALF_PAGE_MM),
        "side": side(scene, width_mm=HALF_PAGE_MM),
    }


def doubt_pictures(doubts: Iterable[FindingDoubt]) -> dict[str, Drawing]:
    """Draw what drives the doubt of findings that cannot be told, one picture each, most helpful first."""
    parted = [one for one in worth_telling(doubts) if one.sources]
    return {
        f"doubt-{k}": doubt_chart([one], width_mm=HALF_PAGE_MM, is_headed=False)
        for k, one in enumerate(parted[:MOST_DOUBTS_DRAWN])
    }
