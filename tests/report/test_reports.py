"""The three reports: pages, words, descriptions of pictures, hostile names, and how they look."""

import io
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pikepdf
import pypdf
import pypdfium2
import pytest
from PIL import Image

from saddlebench.engine.change.results import NotComparable
from saddlebench.engine.errors import Problem, Undetermined
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.settled import Settlement
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.engine.units import Length
from saddlebench.exchange import phrases
from saddlebench.exchange.letterhead import checked_logo
from saddlebench.exchange.readers import Language, read_by
from saddlebench.exchange.trend_words import name_of, swing_words
from saddlebench.exchange.vocabulary import AMERICAN, speaking
from saddlebench.report import (
    Fact,
    Letterhead,
    Noted,
    Paper,
    Setting,
    checked_photo,
    owner_report,
    vet_report,
    workshop_report,
)
from saddlebench.report.pictures import MOST_DOUBTS_DRAWN
from support.reports import (
    change_study,
    doubtful_study,
    figures_of,
    fit_study,
    followed,
    pages_of,
    roles_of,
    setting,
    text_of,
)

MAKERS: dict[str, Callable[[Setting], bytes]] = {
    "owner": lambda held: owner_report(fit_study(), held),
    "workshop": lambda held: workshop_report(fit_study(), held),
    "vet": lambda held: vet_report(change_study(), held),
}
HOSTILE = (
    '#panic("no") #read("/etc/passwd") *bold* _it_ $x^2$ ] } \\ `raw` <label> @ref // c '
    "\u0000\u202e 日本 {{x}} {name} "
)


def picture(size: tuple[int, int] = (64, 48), kind: str = "PNG") -> bytes:
    held = io.BytesIO()
    Image.new("RGB", size, (20, 90, 140)).save(held, format=kind)
    return held.getvalue()


@pytest.fixture(scope="module", params=[(who, language) for who in MAKERS for language in Language])
def made(request: pytest.FixtureRequest) -> tuple[str, Language, bytes]:
    who, language = request.param
    return who, language, MAKERS[who](setting(language))


def test_it_is_tagged_titled_and_in_a_stated_language(made: tuple[str, Language, bytes]) -> None:
    who, language, document = made
    with pikepdf.open(io.BytesIO(document)) as pdf:
        assert pdf.check_pdf_syntax() == []
        assert bool(pdf.Root.MarkInfo.Marked)
        assert str(pdf.Root.Lang).startswith(language.value)
        assert bool(pdf.Root.ViewerPreferences.DisplayDocTitle)
        # ISO 14289-1, 5: the file says itself what it conforms to.
        with pdf.open_metadata() as meta:
            assert meta["pdfuaid:part"] == "1"
            assert meta["dc:title"]
    roles = roles_of(document)
    assert roles.count("/H1") == 1
    assert "/H2" in roles
    if who != "owner":
        assert "/TH" in roles


def test_every_picture_is_described_in_words(made: tuple[str, Language, bytes]) -> None:
    who, _, document = made
    described = figures_of(document)
    doubts = [words for words in described if words.startswith(("What the doubt", "Woher der Zweifel"))]
    assert len(described) - len(doubts) == {"owner": 1, "workshop": 3, "vet": 3}[who]
    assert len(doubts) <= (MOST_DOUBTS_DRAWN if who == "workshop" else 0)
    assert all(len(words) > 40 for words in described)


@pytest.mark.parametrize("paper", Paper)
def test_pages_have_the_papers_exact_size(paper: Paper) -> None:
    # Written out: ISO 216 (210 by 297 mm) and 8.5 by 11 inches, in points of 1/72 inch.
    width, height = {Paper.A4: (595.2756, 841.8898), Paper.LETTER: (612.0, 792.0)}[paper]
    for page in pages_of(owner_report(fit_study(), setting(paper=paper))):
        assert float(page.mediabox.width) == pytest.approx(width, abs=1e-3)
        assert float(page.mediabox.height) == pytest.approx(height, abs=1e-3)
    assert paper.size_mm == pytest.approx((width / 72.0 * 25.4, height / 72.0 * 25.4), abs=1e-3)


def test_every_font_is_embedded_and_from_inside_the_typesetter(made: tuple[str, Language, bytes]) -> None:
    fonts = [
        font.get_object()
        for page in pages_of(made[2])
        for font in page["/Resources"].get("/Font", {}).values()  # type: ignore[union-attr]
    ]
    assert fonts
    for font in fonts:
        (below,) = font["/DescendantFonts"]
        descriptor = below.get_object()["/FontDescriptor"]
        assert {"/FontFile2", "/FontFile3"} & set(descriptor)
        assert str(font["/BaseFont"]).split("+")[-1].startswith(("LibertinusSerif", "DejaVuSansMono"))


def test_equal_input_gives_equal_bytes() -> None:
    assert MAKERS["owner"](setting()) == MAKERS["owner"](setting())


def test_the_owner_has_one_page_with_what_how_sure_what_next_and_the_cautions() -> None:
    document = owner_report(fit_study(), setting())
    assert len(pages_of(document)) == 1
    text = text_of(document)
    for heading in ("What is fine", "How sure", "What next", "Cautions."):
        assert heading in text
    for caution in fit_study().cautions:
        assert caution.replace("'", "’") in text or caution in text
    assert "varied 16 times" in text


@pytest.mark.parametrize("language", Language)
@pytest.mark.parametrize("paper", Paper)
def test_the_worst_case_still_fits_the_owners_page(language: Language, paper: Paper) -> None:
    worst = tuple(replace(one, verdict=Verdict.NOT_RIGHT) for one in fit_study().findings)
    full = replace(fit_study(), put=replace(fit_study().put, findings=worst))
    document = owner_report(full, setting(language, paper))
    assert len(pages_of(document)) == 1
    assert {Language.ENGLISH: "Also: ", Language.GERMAN: "Außerdem: "}[language] in text_of(document)
    assert len(figures_of(document)) == 1


@pytest.mark.parametrize("language", Language)
def test_the_workshop_has_every_finding_with_its_number_and_limit(language: Language) -> None:
    held = setting(language)
    text = text_of(workshop_report(fit_study(), held)).replace(" ", "")
    with read_by(held.reader):
        for finding in fit_study().findings:
            measure = finding.decided_by.measure
            words = [phrases.title_of(finding), phrases.limits_of(finding.decided_by.limit)]
            if isinstance(measure, Measure):
                words.append(phrases.number_of(measure))
            for one in words:
                assert one.replace("\u00a0", "").replace(" ", "") in text


def test_the_vet_reads_change_sides_notes_photos_and_cautions() -> None:
    noted = (Noted(what="Muscle behind the shoulder", earlier="full", later="hollow left"),)
    photos = (
        checked_photo(picture(kind="JPEG"), "from the left", is_later=False),
        checked_photo(picture(), "from the left", is_later=True),
    )
    document = vet_report(change_study(), setting(), noted=noted, photos=photos)
    text = text_of(document)
    for words in ("The back has changed", "Near against off", "Muscle behind the shoulder", "hollow left"):
        assert words in text
    assert "not a diagnosis" in text
    assert "With these two records" in text
    described = figures_of(document)
    assert [one for one in described if one.endswith(": from the left")] == [
        f"{day}: from the left" for day in ("2 March 2026", "29 August 2026")
    ]


@pytest.mark.parametrize("paper", list(Paper))
def test_the_vet_reads_every_number_over_the_visits(paper: Paper) -> None:
    document = vet_report(change_study(), setting(paper=paper), followed=followed())
    text = text_of(document)
    trends = followed().trends
    assert "14 visits, 6 May 2024 to 3 November 2025" in text
    for one in trends:
        assert name_of(one.quantity) in text
    assert "1 of 3 numbers moved" in text
    assert swing_words(trends[0]).replace("\u00a0", " ") in text
    assert "21 October 2024: behind the shoulder: withers angle." in text
    assert "Common practice for a horse that is young" in text
    assert "one path in five leaves what the saddle tolerates" in text
    assert any("first to last" in one for one in figures_of(document))
    without = vet_report(change_study(), setting(paper=paper))
    assert "Over the visits" not in text_of(without)
    assert len(pages_of(document)) >= len(pages_of(without))


def test_a_doubt_is_told_with_the_repeat_that_helps_in_both_reports() -> None:
    held = doubtful_study()
    whole = text_of(workshop_report(held, setting()))
    assert "Measure station 3 (240 mm behind the shoulder mark) again on the off side (right)" in whole
    assert "this can then be told in about 70 of 100 cases" in whole
    assert "No repeat lessens an assumption" in whole
    described = figures_of(workshop_report(held, setting()))
    assert sum("What the doubt comes from" in one for one in described) == 3
    owner = owner_report(held, setting())
    assert "Likely to be told then" in text_of(owner)
    assert len(pages_of(owner)) == 1
    # Where nothing is in doubt, nothing is said of it.
    told = tuple(replace(one, is_told=True) for one in held.put.doubts)
    clear = replace(held, put=replace(held.put, doubts=told))
    assert "What the doubt comes from" not in text_of(workshop_report(clear, setting()))


def test_records_that_cannot_be_compared_are_said_so_with_why() -> None:
    why = Problem(
        what="The later record has too few readings where the earlier one measured",
        cure="Measure the same part of the back again, with sections no more than 80 mm apart.",
    )
    bare = replace(change_study(), whole=NotComparable(earlier=0, later=1, problems=(why,)), steps=())
    document = vet_report(bare, setting(Language.GERMAN))
    text = text_of(document)
    assert "nicht vergleichbar" in text
    assert "80 mm" in text
    assert figures_of(document) == []


def test_lengths_follow_the_reader() -> None:
    metric = text_of(workshop_report(fit_study(), setting()))
    inches = text_of(workshop_report(fit_study(), setting(length=Length.INCH)))
    german = text_of(workshop_report(fit_study(), setting(Language.GERMAN, length=Length.INCH)))
    # 30 mm is 1.18 in (1 in = 25.4 mm exactly).
    assert "fine from 30 mm" in metric
    assert "fine from 1.18″" in inches
    assert "in Ordnung ab 1,18″" in german
    assert " mm" not in inches.replace(" mm behind", "")


def test_both_vocabularies_of_english_are_spoken() -> None:
    with speaking(AMERICAN):
        document = owner_report(fit_study(), setting(paper=Paper.LETTER))
    assert "Billets over the girth groove" in text_of(document)
    assert "Girth straps over the girth groove" in text_of(owner_report(fit_study(), setting()))


def test_the_letterhead_stands_on_the_first_page_with_its_logo_described() -> None:
    head = Letterhead(name="Rowan (invented)", lines=("Mill Lane 3",), logo=checked_logo(picture()))
    held = replace(setting(), letterhead=head, facts=(Fact(name="Horse", value="Juniper"),))
    document = owner_report(fit_study(), held)
    text = text_of(document)
    assert text.startswith("Rowan (invented) Mill Lane 3")
    assert "Horse Juniper" in text
    assert "Rowan (invented)" in figures_of(document)
    assert pypdf.PdfReader(io.BytesIO(document)).metadata.author == "Rowan (invented)"  # type: ignore[union-attr]


def test_hostile_names_are_set_as_text() -> None:
    inputs = replace(fit_study().inputs, back_label=HOSTILE + "b" * 400, saddle_label=HOSTILE)
    hostile = replace(fit_study(), inputs=inputs, engine_version=HOSTILE)
    held = replace(
        setting(Language.GERMAN),
        letterhead=Letterhead(name=HOSTILE, lines=(HOSTILE,)),
        facts=(Fact(name="Horse", value=HOSTILE),),
    )
    text = text_of(owner_report(hostile, held))
    assert '#panic("no")' in text.replace("„", '"').replace("“", '"').replace("”", '"')
    assert "root:" not in text
    assert "*bold* _it_" in text
    noted = (Noted(what=HOSTILE, earlier=HOSTILE, later=HOSTILE),)
    assert "*bold* _it_" in text_of(vet_report(replace(change_study(), horse=HOSTILE), held, noted=noted))


def test_a_saddle_that_was_never_brought_to_rest_has_a_report_without_pictures() -> None:
    bare = replace(fit_study(), settlement=Settlement(steps=()))
    assert figures_of(owner_report(bare, setting())) == []
    # What drives the doubt can be drawn all the same.
    described = figures_of(workshop_report(bare, setting()))
    assert all(words.startswith("What the doubt comes from") for words in described)


def test_without_confidence_it_says_so() -> None:
    plain = tuple(
        replace(one, confidence=Undetermined("not asked for"), doubt=None) for one in fit_study().findings
    )
    bare = replace(fit_study(), put=replace(fit_study().put, findings=plain))
    assert "How sure the findings are was not computed." in text_of(owner_report(bare, setting()))


def test_rendered_pages_keep_their_margins_white_and_show_their_pictures() -> None:
    with pypdfium2.PdfDocument(owner_report(fit_study(), setting(Language.GERMAN))) as pdf:
        (page,) = pdf
        image = np.asarray(page.render(scale=1.0).to_pil().convert("RGB")).astype(float)
    dark = (image.min(axis=2) < 200.0).astype(float)
    # Left and right margins are 15 mm, 42 points; text starts inside.
    assert dark[:, :38].sum() == 0.0
    assert dark[:, -38:].sum() == 0.0
    assert 0.02 < dark.mean() < 0.5
    # The pressure's colours: more than 0.5 % of the page is strongly coloured.
    assert (np.ptp(image, axis=2) > 60.0).mean() > 0.005
