"""Record files: backs, saddles and fit checks as JSON documents, with published schemas."""

from saddlebench.exchange.records.back import BackDocument, ScanFile, read_back, write_back
from saddlebench.exchange.records.saddle import SaddleDocument, read_saddle, write_saddle

__all__ = [
    "BackDocument",
    "SaddleDocument",
    "ScanFile",
    "read_back",
    "read_saddle",
    "write_back",
    "write_saddle",
]
