"""One saddle in stock."""

import datetime as dt
from dataclasses import dataclass

from saddlebench.exchange.readers import NO_BREAK, Reader
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
            until = f" until {_day(self.on_trial_until)}" if self.on_trial_until else ""
            return f"on trial with {self.on_trial_with}{until}"
        # “rack 22” says already that it is on a rack
        says_it = self.place.casefold().startswith(str(self.where))
        words = self.place if says_it else f"{self.where}, {self.place}" if self.place else str(self.where)
        return f"{words}; reserved for {self.reserved_for}" if self.reserved_for else words

    @property
    def price_words(self) -> str:
        """The price in words; empty if there is none."""
        return "" if self.price is None else f"{self.price:,.0f} {self.currency}".strip()


def _day(on: dt.date) -> str:
    """Return a day as sentences hold it before they are told to their reader."""
    return Reader().day(on).replace(NO_BREAK, " ")
