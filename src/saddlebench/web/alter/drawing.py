"""Pictures of a plan: pressures before and after, and the underside as it lies on the bench."""

from collections.abc import Callable, Hashable
from typing import TYPE_CHECKING

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import spoken
from saddlebench.web.base.checks.loading import Drawn, compressed, drawings, scene_of
from saddlebench.web.base.checks.pictures import HALT, PAGE, PUT, SVG

if TYPE_CHECKING:
    from saddlebench.engine.alter import Alteration
    from saddlebench.engine.fit.study import FitStudy
    from saddlebench.exchange.drawings import Drawing
    from saddlebench.exchange.records import PlanDocument

BOTH, UNDERSIDE, DOUBT = "before-and-after", "underside", "doubt"
NAMES = (BOTH, UNDERSIDE, DOUBT)


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
        ("plan", key, name, width, spoken(), reader()),
        lambda: compressed(kit.as_svg(makers[name]()).encode(), SVG),
    )


def drawn_doubt(key: Hashable, plan: "PlanDocument", width: str) -> Drawn:
    """Return where the doubt of a plan's findings comes from, as SVG."""

    def make() -> Drawn:
        from saddlebench.exchange import drawings as kit  # noqa: PLC0415
        from saddlebench.exchange.doubt_words import MOST_DOUBTS, worth_telling  # noqa: PLC0415
        from saddlebench.exchange.drawings.doubt import doubt_chart  # noqa: PLC0415

        width_mm = kit.PAGE_WIDTH_MM if width == PAGE else kit.PHONE_WIDTH_MM
        doubts = worth_telling(plan.doubts)[:MOST_DOUBTS]
        pair = f"{plan.inputs.saddle_label}, {plan.inputs.back_label}".strip(", ")
        return compressed(kit.as_svg(doubt_chart(doubts, pair=pair, width_mm=width_mm)).encode(), SVG)

    return drawings.get(("plan", key, DOUBT, width, spoken(), reader()), make)
