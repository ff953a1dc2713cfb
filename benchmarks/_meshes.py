"""Meshes of real horses, set to their marks."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from saddlebench.demo.varied import rounded_off
from saddlebench.engine.back.scan import AlignedScan
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.exchange.scans import read_scan


def real_backs(meshes: Path, marks: Path, *, rounded: bool) -> Iterator[tuple[str, AlignedScan]]:
    """Yield name and back of every horse that has both; facets of coarse meshes rounded off if wanted."""
    for mark in sorted(marks.glob("horse*.toml")):
        for mesh in (path for path in meshes.glob(f"{mark.stem}.*") if path.suffix != ".md"):
            aligned = align_scan(read_scan(mesh, mark))
            if rounded:
                vertices, faces = rounded_off(aligned.vertices_back, np.asarray(aligned.scan.faces))
                aligned = replace(aligned, vertices_back=vertices, scan=replace(aligned.scan, faces=faces))
            yield mark.stem, aligned
