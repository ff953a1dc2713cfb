"""The pictures of a document, drawn from a study; those that cannot be drawn are left out."""

from dataclasses import dataclass

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange.drawings import Drawing, Scene, back_view, line_load, section_row, side

HALF_PAGE_MM = 88.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """What a document shows; None where there is nothing to show."""

    back: Drawing | None = None
    sections: Drawing | None = None
    load: Drawing | None = None
    side: Drawing | None = None


def pictures_of(study: FitStudy) -> Pictures:
    """Draw a study's saddle with the rider up at halt; without that state, there are no pictures."""
    scene = Scene.of_study(study)
    if isinstance(scene, Undetermined):
        return Pictures()
    return Pictures(
        back=back_view(scene),
        sections=section_row(scene),
        load=line_load(scene, width_mm=HALF_PAGE_MM),
        side=side(scene, width_mm=HALF_PAGE_MM),
    )
