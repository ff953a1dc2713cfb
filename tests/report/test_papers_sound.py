"""Every paper as PDF/UA-1: sound by qpdf, and without the faults that the Matterhorn Protocol lists."""

import io

import pikepdf
import pypdf
import pytest

from saddlebench.exchange.readers import Language, Reader, read_by
from saddlebench.report import owner_report, workshop_report
from support.papers import PAPERS_MADE
from support.pdf_structure import faults_of
from support.reports import fit_study, setting

SIZES_MM = {
    "a label": (40.0, 90.0),
    "a trace sheet of a topline": (215.9, 279.4),
    "a trace sheet of a saddle": (297.0, 420.0),
}
"""ISO 216: A4 is 210 by 297 mm, A3 297 by 420. ANSI/ASME Y14.1: A is 8.5 by 11 inches. 72 points an inch."""


@pytest.mark.parametrize("name", PAPERS_MADE)
def test_a_paper_has_no_fault(name: str) -> None:
    with read_by(Reader(language=Language.GERMAN)):
        document = PAPERS_MADE[name]()
    assert faults_of(document) == []
    with pikepdf.open(io.BytesIO(document)) as pdf:
        assert str(pdf.Root.Lang).startswith("de")
    sizes = {tuple(map(float, page.mediabox[2:])) for page in pypdf.PdfReader(io.BytesIO(document)).pages}
    assert {tuple(sorted((round(a * 25.4 / 72, 1), round(b * 25.4 / 72, 1)))) for a, b in sizes} == {
        SIZES_MM.get(name, (210.0, 297.0))
    }


@pytest.mark.parametrize("make", [owner_report, workshop_report])
def test_a_report_has_no_fault(make: object) -> None:
    assert faults_of(make(fit_study(), setting())) == []  # type: ignore[operator]


def test_the_check_finds_what_is_planted() -> None:
    whole = owner_report(fit_study(), setting())
    with pikepdf.open(io.BytesIO(whole)) as pdf:
        pdf.Root.ViewerPreferences.DisplayDocTitle = False
        del pdf.Root.Lang
        for held in pdf.objects:
            if isinstance(held, pikepdf.Dictionary) and held.get("/S") == "/Figure" and "/Alt" in held:
                del held["/Alt"]
        page = pdf.pages[0]
        page.contents_add(b"0 0 10 10 re f", prepend=True)
        out = io.BytesIO()
        pdf.save(out)
    found = {fault[:6] for fault in faults_of(out.getvalue())}
    assert {"07-001", "11-006", "13-004", "01-005"} <= found
