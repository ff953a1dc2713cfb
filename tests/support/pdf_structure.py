"""Faults of a tagged PDF that a machine can find, after the Matterhorn Protocol 1.1 (PDF Association, 2021),
which lists the ways to fail ISO 14289-1:2014 (PDF/UA-1). The numbers are its failure conditions.

Read with pikepdf, which is built on qpdf; nothing of the typesetter takes part.
"""

import io
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import pikepdf

PAINTING = {"Tj", "TJ", "'", '"', "f", "F", "f*", "B", "B*", "b", "b*", "S", "s", "Do", "sh", "EI"}
STANDARD = frozenset(
    {
        *("Document", "Part", "Art", "Sect", "Div", "BlockQuote", "Caption", "TOC", "TOCI", "Index"),
        *("Private", "NonStruct", "P", "H", "H1", "H2", "H3", "H4", "H5", "H6", "L", "LI", "Lbl", "LBody"),
        *("Table", "TR", "TH", "TD", "THead", "TBody", "TFoot", "Span", "Quote", "Note", "Reference"),
        *("BibEntry", "Code", "Link", "Annot", "Ruby", "RB", "RT", "RP", "Warichu", "WT", "WP", "Figure"),
        *("Formula", "Form"),
    }
)
"""ISO 32000-1:2008, 14.8.4."""
CHILDREN = {
    "L": {"LI", "Caption"}, "LI": {"Lbl", "LBody"}, "TR": {"TH", "TD"},
    "Table": {"TR", "THead", "TBody", "TFoot", "Caption"},
    "THead": {"TR"}, "TBody": {"TR"}, "TFoot": {"TR"},
}  # fmt: skip


@dataclass(frozen=True)
class Element:
    """A structure element in the order of reading."""

    kind: str
    held: Any
    children: tuple[str, ...]


def faults_of(document: bytes) -> list[str]:
    """Return every fault that is found; an empty list for a sound file."""
    with pikepdf.open(io.BytesIO(document)) as pdf:
        elements = list(_elements(pdf))
        return [
            *(f"qpdf: {one}" for one in pdf.check_pdf_syntax()),
            *_of_document(pdf),
            *(fault for number, page in enumerate(pdf.pages, 1) for fault in _untagged(page, number)),
            *_of_elements(pdf, elements),
            *_of_headings(elements),
            *_of_fonts(pdf),
        ]


def _of_document(pdf: pikepdf.Pdf) -> Iterator[str]:
    root = pdf.Root
    with pdf.open_metadata() as metadata:
        if metadata.get("pdfuaid:part") != "1":
            yield "06-002: the metadata does not say PDF/UA-1"
        if not metadata.get("dc:title"):
            yield "06-003: the metadata has no title"
    if not bool(root.get("/MarkInfo", {}).get("/Marked", False)):
        yield "06: it is not marked as tagged"
    if not bool(root.get("/ViewerPreferences", {}).get("/DisplayDocTitle", False)):
        yield "07-001: the title is not to be shown"
    if not str(root.get("/Lang", "")):
        yield "11-006: the language is not stated"
    if "/StructTreeRoot" not in root:
        yield "09: there is no structure"


def _untagged(page: pikepdf.Page, number: int) -> Iterator[str]:
    depth = 0
    for operands, operator in pikepdf.parse_content_stream(page):
        name = str(operator)
        del operands
        if name in ("BDC", "BMC"):
            depth += 1
        elif name == "EMC":
            depth -= 1
        elif name in PAINTING and depth < 1:
            yield f"01-005: page {number} paints something that is neither content nor artefact"
            return
    if page.get("/Tabs") not in (None, "/S") and "/Annots" in page:
        yield f"28-008: page {number} has another order for the tabulator than the structure's"


def _elements(pdf: pikepdf.Pdf) -> Iterator[Element]:
    roles = {str(a): str(b) for a, b in dict(pdf.Root.StructTreeRoot.get("/RoleMap", {})).items()}

    def kids(held: Any) -> list[Any]:
        below = held.get("/K", [])
        many = list(below) if isinstance(below, pikepdf.Array) else [below]
        return [one for one in many if isinstance(one, pikepdf.Dictionary) and "/S" in one]

    def kind(held: Any) -> str:
        name = str(held.S)
        return roles.get(name, name).removeprefix("/")

    waiting = list(reversed(kids(pdf.Root.StructTreeRoot)))
    while waiting:
        held = waiting.pop()
        below = kids(held)
        yield Element(kind=kind(held), held=held, children=tuple(map(kind, below)))
        waiting += reversed(below)


def _of_elements(pdf: pikepdf.Pdf, elements: list[Element]) -> Iterator[str]:
    del pdf
    if not elements:
        yield "09: nothing is in the structure"
    for one in elements:
        if one.kind not in STANDARD:
            yield f"02-001: {one.kind} is no standard type"
        if one.kind == "Figure" and not str(one.held.get("/Alt", "")).strip():
            yield "13-004: a figure is not described"
        odd = set(one.children) - CHILDREN.get(one.kind, set(one.children))
        if odd:
            yield f"09-004: a {one.kind} holds {', '.join(sorted(odd))}"
        if one.kind == "TH" and "/Scope" not in str(one.held.get("/A", "")):
            yield "15-003: a table's head does not say of what it is the head"


def _of_headings(elements: list[Element]) -> Iterator[str]:
    levels = [int(one.kind[1]) for one in elements if one.kind[0] == "H" and one.kind[1:].isdigit()]
    if levels and levels[0] != 1:
        yield "14-002: the first heading is not of the first level"
    if any(after > before + 1 for before, after in pairwise(levels)):
        yield "14-003: a level of headings is left out"


def _of_fonts(pdf: pikepdf.Pdf) -> Iterator[str]:
    for held in pdf.objects:
        if not isinstance(held, pikepdf.Dictionary) or held.get("/Type") != "/Font":
            continue
        if held.get("/Subtype") == "/Type0" and "/ToUnicode" not in held:
            yield "10-001: a font's signs have no letters"
        described = held.get("/FontDescriptor")
        if described is not None and not {"/FontFile", "/FontFile2", "/FontFile3"} & set(described.keys()):
            yield "31-009: a font is not embedded"
