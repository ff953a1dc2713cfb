"""The pictures of the reports, drawn from a study; those that cannot be drawn are left out."""

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange.drawings import Drawing, Scene, back_view, line_load, section_row, side

HALF_PAGE_MM = 88.0


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
