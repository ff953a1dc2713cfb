"""Two vocabularies of English: every page, drawing and document speaks the practice's own."""

import gzip
import io
import re
import uuid as uuids
from html import unescape

import pypdf
import pytest
from django.test import Client
from django.urls import reverse
from study_cast import record_checked
from web_cast import Cast

from saddlebench.exchange.limits import limit_groups
from saddlebench.exchange.vocabulary import AMERICAN, BRITISH, said, speaking, spoken
from saddlebench.practice import services
from saddlebench.practice.enums import Purpose, Role, Subject
from saddlebench.practice.models import Membership
from saddlebench.practice.queries.standing import standings
from saddlebench.practice.queries.visits import visit_page
from saddlebench.web.visit.path import SADDLE_PARTS, STEPS

OTHER = {
    AMERICAN: re.compile(r"girth strap|numnah|colour|\bcentre\b|\bgrey\b", re.IGNORECASE),
    BRITISH: re.compile(r"billet|\bcolors?\b|\bcenter\b|\bgray\b", re.IGNORECASE),
}


def _visible(page: str) -> str:
    """Return what a page says: its text, and what is read aloud of its pictures and fields."""
    body = re.sub(r"<(script|style)\b.*?</\1>", " ", page, flags=re.DOTALL)
    spoken_of = " ".join(re.findall(r'(?:alt|aria-label|placeholder|title)="([^"]*)"', body))
    return unescape(f"{re.sub(r'<[^>]+>', ' ', body)} {spoken_of}")


def _pages(cast: Cast) -> list[str]:
    visit = cast.here[Subject.VISIT]
    tried = services.try_saddle(
        cast.actors["owner"], *(_uuid(cast, one) for one in (Subject.VISIT, Subject.SADDLE))
    ).uuid
    saddle, horse = cast.here[Subject.SADDLE], cast.here[Subject.HORSE]
    return [
        *(reverse("visit:step", args=[visit, one.name]) for one in STEPS),
        *(reverse("visit:saddle", args=[visit, tried, one.name]) for one in SADDLE_PARTS),
        reverse("visit:summary", args=[visit]),
        reverse("records:horse", args=[horse]),
        reverse("records:edit_horse", args=[horse]),
        reverse("records:saddle", args=[saddle]),
        reverse("records:edit_saddle", args=[saddle]),
        reverse("records:new_saddle"),
        reverse("records:saddles"),
        reverse("capture:measure_saddle", args=[saddle]),
        reverse("study:new", args=[horse]),
        reverse("study:limits"),
        *(reverse("study:limit", args=[one.slug]) for one in limit_groups() if "straps" in one.slug),
    ]


def _uuid(cast: Cast, subject: Subject) -> uuids.UUID:
    return uuids.UUID(cast.here[subject])


@pytest.mark.parametrize("vocabulary", [BRITISH, AMERICAN])
def test_no_page_speaks_the_other_vocabulary(cast: Cast, vocabulary: str) -> None:
    services.change_practice(cast.actors["owner"], vocabulary=vocabulary)
    client = cast.browser("owner")
    wrong = {}
    seen = ""
    for path in _pages(cast):
        answer = client.get(path)
        assert answer.status_code == 200, path
        text = _visible(answer.content.decode())
        seen += text
        found = OTHER[vocabulary].findall(text)
        if found:
            wrong[path] = found
    assert wrong == {}
    # The walk went where the words are.
    assert ("Billets" in seen) == (vocabulary == AMERICAN)
    assert ("Girth straps" in seen) == (vocabulary == BRITISH)


@pytest.mark.parametrize("vocabulary", [BRITISH, AMERICAN])
def test_a_fit_check_its_drawings_and_its_document_follow(cast: Cast, vocabulary: str) -> None:
    checked = record_checked(cast)
    services.change_practice(cast.actors["owner"], vocabulary=vocabulary)
    client = cast.browser("owner")
    text = _visible(client.get(f"/checks/{checked.study}/").content.decode())
    assert OTHER[vocabulary].findall(text) == []
    pages = pypdf.PdfReader(io.BytesIO(_body(client, f"/checks/{checked.study}/runs/1/report.pdf"))).pages
    document = " ".join(page.extract_text() for page in pages)
    own = {AMERICAN: "Billets over the girth groove", BRITISH: "Girth straps over the girth groove"}
    assert own[vocabulary] in text
    assert own[vocabulary].split(" over")[0] in document
    assert OTHER[vocabulary].findall(document) == []


def test_the_same_drawing_in_other_words_is_another_file(cast: Cast) -> None:
    checked = record_checked(cast)
    client = cast.browser("owner")
    tags = []
    for vocabulary in (BRITISH, AMERICAN):
        services.change_practice(cast.actors["owner"], vocabulary=vocabulary)
        tags.append(client.get(f"/checks/{checked.study}/runs/1/findings.svg")["ETag"])
    assert tags[0] != tags[1]


def _body(client: Client, path: str) -> bytes:
    answer = client.get(path)
    assert answer.status_code == 200
    return gzip.decompress(answer.content) if answer.get("Content-Encoding") == "gzip" else answer.content


def test_words_keep_their_capitals_and_speaking_ends() -> None:
    with speaking(AMERICAN):
        assert said("Girth straps and a numnah of any colour") == "Billets and a saddle pad of any color"
        assert said("coloured greyhound") == "coloured greyhound"
    assert spoken() == BRITISH
    assert said("Girth straps") == "Girth straps"


def test_what_a_person_wrote_is_not_touched(cast: Cast) -> None:
    services.change_practice(cast.actors["owner"], vocabulary=AMERICAN)
    visit = services.start_visit(
        cast.actors["owner"],
        on=visit_page(cast.actors["owner"], _uuid(cast, Subject.VISIT)).day,
        purpose=Purpose.FIRST,
        label="Grey cob with a numnah",
    )
    text = cast.browser("owner").get(reverse("visit:visit", args=[visit.uuid])).content.decode()
    assert "Grey cob with a numnah" in text


def test_a_member_reads_their_own_words_and_nobody_elses_change(cast: Cast) -> None:
    fitter, owner = cast.browser("fitter"), cast.browser("owner")
    saddle = reverse("records:edit_saddle", args=[cast.here[Subject.SADDLE]])
    assert fitter.post(reverse("accounts:words"), {"vocabulary": AMERICAN}).status_code == 302
    assert "Color" in _visible(fitter.get(saddle).content.decode())
    assert "Colour" in _visible(owner.get(saddle).content.decode())
    services.change_practice(cast.actors["owner"], vocabulary=AMERICAN)
    owner.post(reverse("accounts:words"), {"vocabulary": BRITISH})
    assert "Colour" in _visible(owner.get(saddle).content.decode())
    owner.post(reverse("accounts:words"), {"vocabulary": ""})
    assert "Color" in _visible(owner.get(saddle).content.decode())
    mine = owner.get(reverse("accounts:mine")).content.decode()
    assert re.search(r'value="" checked> As the practice: ', mine)


def test_own_words_are_kept_when_the_role_changes_and_refused_when_unknown(cast: Cast) -> None:
    reader = cast.browser("reader")
    reader.post(reverse("accounts:words"), {"vocabulary": AMERICAN})
    assert reader.post(reverse("accounts:words"), {"vocabulary": "welsh"}).status_code == 422
    member = Membership.objects.get(user_id=cast.actors["reader"].user_id, ended_at=None)
    services.change_role(cast.actors["owner"], member.uuid, Role.FITTER)
    held = standings(member.user_id)[0]
    assert (held.own_vocabulary, held.vocabulary, held.practice_vocabulary) == (
        AMERICAN,
        AMERICAN,
        BRITISH,
    )
    owners = cast.browser("owner").get(reverse("accounts:practice")).content.decode()
    assert 'value="british" checked' in owners
