"""Tables of a practice: as every table of this program (see `exchange.plain_tables`)."""

from saddlebench.exchange.plain_tables import (
    LARGEST_BYTES,
    MOST_PROBLEMS,
    MOST_ROWS,
    Row,
    read_table,
    write_table,
)

__all__ = ["LARGEST_BYTES", "MOST_PROBLEMS", "MOST_ROWS", "Row", "read_table", "write_table"]
