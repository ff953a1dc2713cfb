"""The document: pages, words, hostile names, and how it looks at low resolution."""

import io
import re
from dataclasses import replace

import numpy as np
import pypdf
import pypdfium2
import pytest

from exchange.studies import study
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.settled import Settlement
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.exchange import phrases
from saddlebench.report import Pictures, owner_and_workshop, pictures_of
from saddlebench.report.document import as_document

A4_POINTS = (210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0)
HOSTILE = (
    '#panic("no") #read("/etc/passwd") *bold* _it_ $x^2$ ] } \\ `raw` <label> @ref // c '
    "\u0000\u202e 日本 🐎 {{x}} "
)
NOT_FOR_PEOPLE = re.compile(r"\b(poses?|draws?|residuals?|settl\w+|converg\w+)\b", re.IGNORECASE)


@pytest.fixture(scope="module")
def pictures():
    return pictures_of(study())


@pytest.fixture(scope="module")
def document(pictures):
    return as_document(study(), pictures)


def pages_of(document):
    return pypdf.PdfReader(io.BytesIO(document)).pages


def text_of(page):
    return " ".join(page.extract_text().replace("\u00a0", " ").split())


def test_it_has_two_pages_of_exactly_a4(document):
    pages = pages_of(document)
    assert len(pages) == 2
    for page in pages:
        # PDF sizes are written in single precision.
        assert float(page.mediabox.width) == pytest.approx(A4_POINTS[0], abs=1e-3)
        assert float(page.mediabox.height) == pytest.approx(A4_POINTS[1], abs=1e-3)


def test_the_owners_page_says_what_how_sure_what_next_and_the_cautions(document):
    text = text_of(pages_of(document)[0])
    assert "Juniper (invented), 3 May 2026" in text
    for heading in ("What is fine", "How sure", "What next", "Cautions."):
        assert heading in text
    for caution in study().cautions:
        assert caution.replace("'", "’") in text or caution in text
    for verdict in Verdict:
        assert verdict in text
    assert "varied 16 times" in text


def test_the_workshops_page_has_every_finding_with_its_number_and_limit(document):
    text = text_of(pages_of(document)[1])
    for finding in study().findings:
        assert phrases.title_of(finding) in text
        assert phrases.limits_of(finding.decided_by.limit).replace("\u00a0", " ") in text
        if isinstance(finding.decided_by.measure, Measure):
            assert phrases.number_of(finding.decided_by.measure).replace("\u00a0", " ") in text
    assert "Near is the horse’s left" in text or "Near is the horse's left" in text
    assert "Hand under the panels, girthed: near (left)" in text


def test_no_word_of_the_engine_is_on_the_pages(document):
    assert [text for page in pages_of(document) if NOT_FOR_PEOPLE.search(text := text_of(page))] == []


def test_equal_studies_give_equal_bytes(document, pictures):
    assert as_document(study(), pictures) == document


def test_only_fonts_inside_the_typesetter_are_used(document):
    names = {
        str(font["/BaseFont"]).split("+")[-1]
        for page in pages_of(document)
        for font in (held.get_object() for held in page["/Resources"]["/Font"].values())
    }
    assert names
    assert all(name.startswith(("LibertinusSerif", "DejaVuSansMono")) for name in names), names


def test_hostile_names_are_set_as_text(pictures):
    inputs = replace(
        study().inputs, back_label=HOSTILE + "b" * 400, saddle_label=HOSTILE, back_version=HOSTILE
    )
    hostile = replace(study(), inputs=inputs, engine_version=HOSTILE, cautions=(HOSTILE,))
    pages = pages_of(as_document(hostile, pictures))
    assert len(pages) == 2
    text = text_of(pages[0])
    assert '#panic("no")' in text
    assert "root:" not in text
    assert "*bold* _it_" in text


def test_a_saddle_that_was_never_brought_to_rest_has_no_pictures_and_still_two_pages():
    bare = replace(study(), settlement=Settlement(steps=()))
    none = pictures_of(bare)
    assert none == Pictures()
    assert len(pages_of(as_document(bare, none))) == 2


def test_the_worst_case_of_findings_still_fits_two_pages(pictures):
    worst = tuple(replace(one, verdict=Verdict.NOT_RIGHT) for one in study().findings)
    full = replace(study(), put=replace(study().put, findings=worst))
    pages = pages_of(as_document(full, pictures))
    assert len(pages) == 2
    assert "Also: " in text_of(pages[0])


def test_without_confidence_it_says_so(pictures):
    plain = tuple(
        replace(one, confidence=Undetermined("not asked for"), doubt=None) for one in study().findings
    )
    text = text_of(
        pages_of(as_document(replace(study(), put=replace(study().put, findings=plain)), pictures))[0]
    )
    assert "How sure the findings are was not computed." in text


def test_rendered_pages_keep_their_margins_white_and_show_their_pictures(document):
    with pypdfium2.PdfDocument(document) as pdf:
        for page in pdf:
            image = np.asarray(page.render(scale=1.0).to_pil().convert("RGB")).astype(float)
            dark = (image.min(axis=2) < 200.0).astype(float)
            # Left and right margins are 15 mm, 42 points; text starts inside.
            assert dark[:, :38].sum() == 0.0
            assert dark[:, -38:].sum() == 0.0
            assert 0.02 < dark.mean() < 0.5
            spread = np.ptp(image, axis=2)
            # The pressure's colours: more than 1 % of the page is strongly coloured.
            assert (spread > 60.0).mean() > 0.005


def test_it_is_written_whole_and_alone(tmp_path, pictures):
    path = tmp_path / "report.pdf"
    owner_and_workshop(study(), path, pictures=pictures)
    assert [held.name for held in tmp_path.iterdir()] == ["report.pdf"]
    assert path.read_bytes().startswith(b"%PDF")
