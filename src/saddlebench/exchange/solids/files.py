"""Solids as files: 3MF and GLB state their unit, STL does not, so its name carries the box in mm."""

import io
import re
import zipfile
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from trimesh import Trimesh

from saddlebench.exchange.solids.make import SolidPiece

CONTENT_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>'
    "</Types>"
)
RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)
CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
DAY_ONE = (1980, 1, 1, 0, 0, 0)
"""The time that every entry carries, so that equal solids give equal files."""


def solid_name(label: str, piece: SolidPiece) -> str:
    """Return a file's name without ending: the back, the piece, its box in mm."""
    slug = re.sub(r"[^a-z0-9]+", "-", label.casefold()).strip("-")[:40] or "back"
    along, across, up = piece.size_mm
    return f"{slug}-{piece.name}-{along:.1f}x{across:.1f}x{up:.1f}mm"


def as_3mf(piece: SolidPiece, title: str) -> bytes:
    """Return a piece as 3MF, in millimetres, on the plate with its base at 0 (3MF Core Specification 1.3)."""
    points = _on_plate(piece)
    vertices = "".join(f'<vertex x="{x:.5f}" y="{y:.5f}" z="{z:.5f}"/>' for x, y, z in points)
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in piece.faces)
    model = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<model unit="millimeter" xml:lang="en-GB" xmlns="{CORE}">'
        f'<metadata name="Title">{escape(title)}</metadata>'
        '<metadata name="Application">saddlebench</metadata>'
        f'<resources><object id="1" type="model" name={quoteattr(title)}><mesh><vertices>{vertices}'
        f"</vertices><triangles>{triangles}</triangles></mesh></object></resources>"
        '<build><item objectid="1"/></build></model>'
    )
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED, compresslevel=4) as package:
        for name, text in (
            ("[Content_Types].xml", CONTENT_TYPES),
            ("_rels/.rels", RELATIONS),
            ("3D/3dmodel.model", model),
        ):
            package.writestr(zipfile.ZipInfo(name, DAY_ONE), text, zipfile.ZIP_DEFLATED)
    return held.getvalue()


def as_stl(piece: SolidPiece) -> bytes:
    """Return a piece as binary STL, its numbers in mm; the format has no unit."""
    return bytes(Trimesh(_on_plate(piece), piece.faces, process=False).export(file_type="stl"))


def as_glb(piece: SolidPiece) -> bytes:
    """Return a piece as GLB: metres, y up, as glTF 2.0 (section 3.4) wants it; the head looks along +z."""
    points = _on_plate(piece)
    turned = points[:, [1, 2, 0]] / 1000.0
    return bytes(Trimesh(turned, piece.faces, process=False).export(file_type="glb"))


def _on_plate(piece: SolidPiece) -> np.ndarray:
    """Return a piece's vertices (n, 3) float [mm], its box from 0: slicers look for it there."""
    return np.asarray(piece.vertices - piece.vertices.min(axis=0))
