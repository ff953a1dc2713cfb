"""A label for a saddle: name, number, size, and a QR code of its address."""

import io

import segno

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.readers import Language, reader
from saddlebench.exchange.stock import StockItem
from saddlebench.exchange.vocabulary import said
from saddlebench.report.setting import region_of
from saddlebench.report.typeset import typeset_for_all

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
    """Return a label of 90 × 40 mm as PDF/UA-1: the code, the name, number, seat, flap, condition, price.

    What the program says is in its reader's language and lengths (`read_by`); a seat is in inches everywhere.
    """
    drawn = io.BytesIO()
    segno.make(address_of(item, site), error="m", micro=False).save(drawn, kind="svg", border=0)
    data = {
        "title": f"{said('Label')}: {item.label}",
        "language": reader().language,
        "region": region_of(reader()),
        "code": {"svg": drawn.getvalue().decode(), "alt": said("Code that a phone's camera reads")},
        "label": item.label,
        "number": f"{said('No.')} {item.number}",
        "lines": [line for line in _lines(item) if line],
    }
    return typeset_for_all("stock_label.typ", [data], shared=False)


def _lines(item: StockItem) -> tuple[str, ...]:
    seat = "" if item.seat_in is None else f"{said('seat')} {reader().number(f'{item.seat_in:g}')} in"
    length = "" if item.flap_mm is None else said(f"flap {item.flap_mm:g} mm")
    flap = " ".join(part for part in (length, item.flap) if part)
    sizes = ", ".join(part for part in (seat, flap) if part)
    kind = ", ".join(part for part in (item.discipline, item.condition) if part)
    is_german = reader().language is Language.GERMAN
    return sizes, kind, item.price_words.replace(",", ".") if is_german else item.price_words
