"""The stock as a table: where each saddle is, its size, price and record."""

from saddlebench.exchange.stock.columns import COLUMNS, Whereabouts
from saddlebench.exchange.stock.item import StockItem
from saddlebench.exchange.stock.table import read_items, stock_table, write_stock

__all__ = ["COLUMNS", "StockItem", "Whereabouts", "read_items", "stock_table", "write_stock"]
