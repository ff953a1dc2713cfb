"""A label for a saddle: name, number, size, and a QR code of its address."""

import io

import segno

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.stock import StockItem
from saddlebench.report.typeset import typeset

MODULE_PX = 8


def address_of(item: StockItem, site: str = "") -> str:
    """Return what the code holds: the saddle's page on a site, else its record's URN, else its number.

    Raises
    ------
    InputProblemsError
        If a site is named, but the saddle has no record there.
    """
    if site and not item.uuid:
        what = f"saddle {item.number} has no record in the practice, so it has no page"
        raise input_problem(what, "Leave the site out, or bring the saddle in first.")
    if site:
        return f"{site.rstrip('/')}/saddles/{item.uuid}/"
    return f"urn:uuid:{item.uuid}" if item.uuid else f"saddle {item.number}"


def label_png(item: StockItem, site: str = "") -> bytes:
    """Return the QR code of a saddle's address alone, as PNG."""
    out = io.BytesIO()
    segno.make(address_of(item, site), error="m", micro=False).save(
        out, kind="png", scale=MODULE_PX, border=4
    )
    return out.getvalue()


def label_pdf(item: StockItem, site: str = "") -> bytes:
    """Return a label of 90 × 40 mm: the code, the name, number, seat, flap, condition and price."""
    drawn = io.BytesIO()
    segno.make(address_of(item, site), error="m", micro=False).save(drawn, kind="svg", border=0)
    data = {
        "code": drawn.getvalue().decode(),
        "label": item.label,
        "number": item.number,
        "lines": [line for line in _lines(item) if line],
    }
    return typeset("stock_label.typ", data)


def _lines(item: StockItem) -> tuple[str, ...]:
    seat = "" if item.seat_in is None else f"seat {item.seat_in:g} in"
    length = "" if item.flap_mm is None else f"flap {item.flap_mm:g} mm"
    flap = " ".join(part for part in (length, item.flap) if part)
    sizes = ", ".join(part for part in (seat, flap) if part)
    kind = ", ".join(part for part in (item.discipline, item.condition) if part)
    return sizes, kind, item.price_words
