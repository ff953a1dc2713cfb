"""The stock as a list with filters."""

from dataclasses import dataclass

from django.http import HttpResponse, QueryDict
from django.utils import timezone

from saddlebench.exchange.stock import Whereabouts
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.stock import StockRow, stock_rows
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.fields import whole_of
from saddlebench.web.base.render import show

ROWS = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class StockList:
    """A page of the stock."""

    rows: tuple[StockRow, ...]
    total: int
    page: int
    pages: int
    in_all: int
    asked: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Filters:
    """What a list is narrowed to."""

    text: str = ""
    where: str = ""
    seat: str = ""
    discipline: str = ""
    most: str = ""
    free: bool = False
    late: bool = False

    @classmethod
    def of(cls, given: QueryDict) -> "Filters":
        """Return the filters that an address names."""

        def text(name: str) -> str:
            return given.get(name, "")[:200].strip()

        return cls(
            text=text("q"),
            where=text("where") if text("where") in set(Whereabouts) else "",
            seat=text("seat"),
            discipline=text("discipline"),
            most=text("most"),
            free=given.get("free") == "1",
            late=given.get("late") == "1",
        )

    def let_through(self, row: StockRow) -> bool:
        """Tell whether a saddle is among those asked for."""
        item = row.item
        seat, most = number_of(self.seat), number_of(self.most)
        today = timezone.localdate()
        return (
            (seat is None or item.seat_in == seat)
            and (most is None or (item.price is not None and item.price <= most))
            and self.discipline.casefold() in item.discipline.casefold()
            and (not self.late or bool(item.on_trial_until and item.on_trial_until < today))
        )


def number_of(text: str) -> float | None:
    """Return a number that was typed; None where it is none."""
    plain = text.replace(",", ".")
    return (
        float(plain) if plain.replace(".", "", 1).isascii() and plain.replace(".", "", 1).isdigit() else None
    )


@signed_in(Action.SEE_SADDLES)
def stock(request: PageRequest) -> HttpResponse:
    """List the stock: by text, place, seat, discipline, price; only what is free, or late from a trial."""
    filters = Filters.of(request.GET)
    where = Whereabouts(filters.where) if filters.where else None
    everything = stock_rows(request.actor)
    found = everything
    if filters.text or where or filters.free:
        found = stock_rows(request.actor, filters.text, where=where, only_free=filters.free)
    rows = [row for row in found if filters.let_through(row)]
    pages = max(1, -(-len(rows) // ROWS))
    at = min(max(1, whole_of(request.GET.get("page", ""), 1)), pages)
    listed = StockList(
        rows=tuple(rows[(at - 1) * ROWS : at * ROWS]),
        total=len(rows),
        page=at,
        pages=pages,
        in_all=len(everything),
        asked=filters.text,
    )
    query = request.GET.copy()
    query.pop("page", None)
    return show(
        request,
        "stock/stock.html",
        "Stock",
        listed,
        filters=filters,
        places=[one.value for one in Whereabouts],
        seats=sorted({row.item.seat_in for row in everything if row.item.seat_in}),
        disciplines=sorted({row.item.discipline for row in everything if row.item.discipline}),
        query=query.urlencode(),
        today=timezone.localdate(),
    )
