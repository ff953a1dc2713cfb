"""What would tell which saddle of a shortlist stands first, as a picture."""

from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import spoken
from saddlebench.practice.queries.choices import ChoicePage
from saddlebench.web.base.checks.loading import Drawn, compressed, drawings, load_engine
from saddlebench.web.base.checks.pictures import PAGE, SVG, sent

if TYPE_CHECKING:
    from saddlebench.exchange.drawings import Drawing


def order_picture_of(request: HttpRequest, page: ChoicePage) -> HttpResponse:
    """Answer with the picture; `width` phone or page.

    Raises
    ------
    InputProblemsError
        If there is nothing to draw.
    """
    held, width = page.found.get("order"), request.GET.get("width", "")
    if not held:
        what = "no doubt of the first place is kept with this choice"
        raise input_problem(what, "The list itself says how sure each place is.")
    load_engine()

    def make() -> Drawn:
        from saddlebench.exchange.drawings import as_svg  # noqa: PLC0415

        return compressed(as_svg(_drawing(page, is_wide=width == PAGE)).encode(), SVG)

    made = drawings.get(("order", page.row.sha256, width, spoken(), reader()), make)
    return sent(request, made, f"{page.row.sha256[:20]}-order-{width}")


def _drawing(page: ChoicePage, *, is_wide: bool) -> "Drawing":
    from saddlebench.exchange.doubt_of_order import ORDER_HEADING, order_of_json  # noqa: PLC0415
    from saddlebench.exchange.drawings import PAGE_WIDTH_MM, PHONE_WIDTH_MM  # noqa: PLC0415
    from saddlebench.exchange.drawings.doubt import doubt_chart  # noqa: PLC0415

    return doubt_chart(
        order_of_json(page.found["order"]),
        heading=ORDER_HEADING,
        pair=page.row.label,
        width_mm=PAGE_WIDTH_MM if is_wide else PHONE_WIDTH_MM,
        is_headed=False,
    )
