"""A practice sets its letterhead: lines and a checked logo, seen on its reports and on nobody else's."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image
from study_cast import record_checked
from web_cast import Cast

from saddlebench.practice.models import AuditRow, Practice
from saddlebench.practice.queries.letterhead import letterhead_of
from support.reports import figures_of, text_of

PATH = "/practice/letterhead/"


def picture(kind: str = "PNG", size: tuple[int, int] = (80, 60)) -> SimpleUploadedFile:
    held = io.BytesIO()
    Image.new("RGB", size, (20, 90, 140)).save(held, format=kind)
    return SimpleUploadedFile(f"logo.{kind.lower()}", held.getvalue())


def test_lines_and_logo_are_kept_seen_and_taken_off(cast: Cast) -> None:
    client = cast.browser("owner")
    answer = client.post(PATH, {"lines": "Mill Lane 3\r\n\r\nTel. 12", "logo": picture("JPEG")})
    assert answer.status_code == 302
    head = letterhead_of(cast.actors["reader"])
    assert head.lines == ("Mill Lane 3", "Tel. 12")
    assert head.logo.startswith(b"\x89PNG")
    assert AuditRow.objects.filter(deed="set_letterhead").count() == 1
    page = client.get(PATH).content.decode()
    assert "Mill Lane 3\nTel. 12</textarea>" in page
    assert client.get(f"{PATH}logo.png").content == head.logo
    # Without another file the logo stays.
    client.post(PATH, {"lines": "Mill Lane 4"})
    assert letterhead_of(cast.actors["reader"]).logo == head.logo
    client.post(PATH, {"lines": "Mill Lane 4", "without_logo": "yes"})
    assert letterhead_of(cast.actors["reader"]).logo == b""
    assert client.get(f"{PATH}logo.png").status_code == 404


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"lines": "\n".join("abcdefgh")}, "6 lines of 90 letters"),
        ({"lines": "a", "logo": SimpleUploadedFile("x.png", b"\x89PNG no")}, "cannot be read as a picture"),
        ({"lines": "a", "logo": picture(size=(9, 9))}, "9 × 9 pixels"),
    ],
)
def test_what_cannot_be_set_is_said_and_nothing_is_kept(
    cast: Cast, given: dict[str, object], why: str
) -> None:
    client = cast.browser("owner")
    answer = client.post(PATH, given)
    assert answer.status_code == 422
    assert why in answer.content.decode()
    assert letterhead_of(cast.actors["owner"]).lines == ()


@pytest.mark.parametrize(
    ("who", "codes"),
    [("fitter", (403, 403)), ("workshop", (403, 403)), ("reader", (403, 403)), ("nobody", (302, 401))],
)
def test_only_owners_set_it(cast: Cast, who: str, codes: tuple[int, int]) -> None:
    client = cast.browser(who)
    assert (client.get(PATH).status_code, client.post(PATH, {"lines": "x"}).status_code) == codes
    assert Practice.objects.exclude(letterhead=[]).count() == 0


def test_it_stands_on_the_practices_own_reports_alone(cast: Cast) -> None:
    checked = record_checked(cast)
    path = f"/checks/{checked.study}/runs/1/report.pdf"
    before = cast.browser("fitter").get(path)
    cast.browser("other").post(PATH, {"lines": "Elsewhere 1"})
    assert cast.browser("fitter").get(path)["ETag"] == before["ETag"]
    cast.browser("owner").post(PATH, {"lines": "Mill Lane 3", "logo": picture()})
    after = cast.browser("fitter").get(path)
    assert after["ETag"] != before["ETag"]
    assert "Mill Lane 3" in text_of(after.content)
    assert letterhead_of(cast.actors["fitter"]).name in figures_of(after.content)
