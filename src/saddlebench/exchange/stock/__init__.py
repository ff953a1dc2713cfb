"""The stock as a table: where each saddle is, its size, price and record; a season's horses as a table."""

from saddlebench.exchange.stock.columns import COLUMNS, Whereabouts
from saddlebench.exchange.stock.horses import HORSE_COLUMNS, read_horses
from saddlebench.exchange.stock.item import Stock, StockItem
from saddlebench.exchange.stock.table import read_stock, stock_table, write_stock

__all__ = [
    "COLUMNS",
    "HORSE_COLUMNS",
    "Stock",
    "StockItem",
    "Whereabouts",
    "read_horses",
    "read_stock",
    "stock_table",
    "write_stock",
]
