"""The invented stock as a shop would keep it: a table, and the saddle records it names."""

from collections.abc import Hashable
from dataclasses import replace
from pathlib import Path

from saddlebench.demo.stock import StockedSaddle, invented_stock
from saddlebench.engine.choose.variants import unnamed
from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.saddle.numbers import RigidNumbers
from saddlebench.exchange.records import write_saddle
from saddlebench.exchange.stock import StockItem, Whereabouts, write_stock


def write_invented_stock(folder: Path, count: int, seed: int) -> Path:
    """Write an invented stock into a folder and return its table; saddles with equal records share a file."""
    records = folder / "saddles"
    records.mkdir(parents=True, exist_ok=True)
    files: dict[Hashable, str] = {}
    items = []
    for one in invented_stock(count, seed):
        record = one.candidate.record
        numbers = record.numbers
        key = (
            unnamed(numbers) if isinstance(numbers, RigidNumbers) else numbers,
            record.alterable,
            record.pads,
        )
        if key not in files:
            files[key] = f"saddles/{len(files) + 1:05d}.saddle.json"
            write_saddle(replace(record, serial=""), folder / files[key])
        items.append(_item(one, files[key]))
    table = folder / "stock.csv"
    write_stock(items, table)
    return table


def _item(one: StockedSaddle, file: str) -> StockItem:
    candidate = one.candidate
    return StockItem(
        number=candidate.key,
        label=candidate.label,
        record_file=file,
        where=Whereabouts.RACK,
        place=one.place,
        seat_in=None if isinstance(candidate.seat_in, NotMeasured) else candidate.seat_in,
        flap_mm=None if isinstance(candidate.flap_mm, NotMeasured) else candidate.flap_mm,
        discipline=one.discipline,
        condition=one.condition,
        price=one.price,
        currency="EUR",
    )
