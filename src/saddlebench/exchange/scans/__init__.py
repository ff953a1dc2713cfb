"""Scans in: a mesh as it comes, hostile until proven otherwise, with its marks file."""

from saddlebench.exchange.scans.marks import MarksFile, read_marks
from saddlebench.exchange.scans.mesh import Mesh, read_mesh
from saddlebench.exchange.scans.reader import read_scan

__all__ = ["MarksFile", "Mesh", "read_marks", "read_mesh", "read_scan"]
