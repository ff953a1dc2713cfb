"""Scans in: a mesh or cloud as it comes, hostile until proven otherwise, with its marks file."""

from saddlebench.exchange.scans.look import LookedAt, look_at_pieces, look_at_scan
from saddlebench.exchange.scans.marks import MarksFile, read_marks, read_pieces_file
from saddlebench.exchange.scans.mesh import Mesh, read_mesh
from saddlebench.exchange.scans.pieces import LaidPiece, ScanPiece
from saddlebench.exchange.scans.proposed_marks import marks_text
from saddlebench.exchange.scans.reader import read_scan, several_pieces

__all__ = [
    "LaidPiece",
    "LookedAt",
    "MarksFile",
    "Mesh",
    "ScanPiece",
    "look_at_pieces",
    "look_at_scan",
    "marks_text",
    "read_marks",
    "read_mesh",
    "read_pieces_file",
    "read_scan",
    "several_pieces",
]
