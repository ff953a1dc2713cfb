"""One saddle in stock, and a stock."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from saddlebench.engine.choose import FLAP_NOT_RECORDED, SEAT_NOT_RECORDED, Candidate
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.stock.columns import Whereabouts


@dataclass(frozen=True, slots=True, kw_only=True)
class StockItem:
    """What a shop knows of one saddle besides its measured record."""

    number: str
    label: str
    record_file: str
    where: Whereabouts
    uuid: str = ""
    place: str = ""
    seat_in: float | None = None
    flap: str = ""
    flap_mm: float | None = None
    discipline: str = ""
    condition: str = ""
    price: float | None = None
    currency: str = ""
    reserved_for: str = ""
    on_trial_with: str = ""
    on_trial_until: dt.date | None = None

    @property
    def is_free(self) -> bool:
        """Whether it is here and nobody has it reserved."""
        return self.where in (Whereabouts.RACK, Whereabouts.VAN) and not self.reserved_for

    @property
    def where_words(self) -> str:
        """Where it is, in words."""
        if self.where is Whereabouts.ON_TRIAL:
            until = f" until {self.on_trial_until.isoformat()}" if self.on_trial_until else ""
            return f"on trial with {self.on_trial_with}{until}"
        words = f"{self.where}, {self.place}" if self.place else str(self.where)
        return f"{words}; reserved for {self.reserved_for}" if self.reserved_for else words

    @property
    def price_words(self) -> str:
        """The price in words; empty if there is none."""
        return "" if self.price is None else f"{self.price:,.0f} {self.currency}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """All saddles of a shop, each with its record."""

    items: tuple[StockItem, ...]
    records: tuple[SaddleRecord, ...]
    """One for each item, in the same order."""

    def item(self, number: str) -> StockItem | None:
        """Return a saddle by its number."""
        return next((one for one in self.items if one.number == number), None)

    def candidates(self, *, only_free: bool = True, discipline: str = "") -> tuple[Candidate, ...]:
        """Return what can be tried: by default only what is here and not reserved.

        Parameters
        ----------
        only_free : leave out what is on trial, out or reserved
        discipline : leave out what is for another discipline, if one is named
        """
        wanted = discipline.casefold()
        return tuple(
            self._candidate(item, record)
            for item, record in zip(self.items, self.records, strict=True)
            if (item.is_free or not only_free) and wanted in item.discipline.casefold()
        )

    @staticmethod
    def _candidate(item: StockItem, record: SaddleRecord) -> Candidate:
        return Candidate(
            key=item.number,
            record=record,
            seat_in=SEAT_NOT_RECORDED if item.seat_in is None else item.seat_in,
            flap_mm=FLAP_NOT_RECORDED if item.flap_mm is None else item.flap_mm,
        )


def left_out(items: Iterable[StockItem]) -> int:
    """Return how many saddles are on trial, out or reserved."""
    return sum(not item.is_free for item in items)
