"""Pictures of a plan: pressures before and after, and the underside as it lies on the bench."""

from collections.abc import Callable, Hashable
from typing import TYPE_CHECKING

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.vocabulary import spoken
from saddlebench.web.base.checks.loading import Drawn, compressed, drawings, scene_of
from saddlebench.web.base.checks.pictures import HALT, PAGE, PUT, SVG

if TYPE_CHECKING:
    from saddlebench.engine.alter import Alteration
    from saddlebench.engine.fit.study import FitStudy
    from saddlebench.exchange.drawings import Drawing

BOTH, UNDERSIDE = "before-and-after", "underside"
NAMES = (BOTH, UNDERSIDE)


def drawn(
    key: Hashable, before: "FitStudy", after: "FitStudy", wanted: "Alteration", name: str, width: str
) -> Drawn:
    """Return one picture as SVG; `key` names the check and the alteration.

    Raises
    ------
    InputProblemsError
        If there is no such picture.
    NothingToDrawError
        If the saddle does not sit before or after.
    """
    from saddlebench.exchange import drawings as kit  # noqa: PLC0415

    width_mm = kit.PAGE_WIDTH_MM if width == PAGE else kit.PHONE_WIDTH_MM

    def both() -> "Drawing":
        return kit.before_and_after(
            scene_of(before, HALT, PUT), scene_of(after, HALT, PUT), width_mm=width_mm
        )

    makers: dict[str, Callable[[], Drawing]] = {
        BOTH: both,
        UNDERSIDE: lambda: kit.underside(before.saddle, wanted, width_mm=kit.PHONE_WIDTH_MM),
    }
    if name not in makers:
        what = f"there is no picture “{name[:40]}”"
        raise input_problem(what, f"Choose one of: {', '.join(NAMES)}.")
    return drawings.get(
        ("plan", key, name, width, spoken()), lambda: compressed(kit.as_svg(makers[name]()).encode(), SVG)
    )
