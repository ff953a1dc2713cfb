"""What a shop chooses from and for: its stock with the measured records, and the horses of a season."""

from saddlebench.exchange.shop.horses import HORSE_COLUMNS, read_horses
from saddlebench.exchange.shop.stock import Stock, read_stock

__all__ = ["HORSE_COLUMNS", "Stock", "read_horses", "read_stock"]
