"""Photos on the pages: added, asked about, drawn on, compared, given out; films by parts; the shot list."""

import hashlib
import io
import re
import uuid as uuids
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from photo_files import edges, exif_of_a_phone, jpeg
from PIL import Image
from web_cast import Cast

from saddlebench.practice.enums import Subject
from saddlebench.practice.keeping.files import stored_path, thumbnail_path
from saddlebench.practice.queries.photos import PhotoShown, photos_of
from support.films import film

PART = {"HTTP_HX_REQUEST": "true"}
Counting = Callable[[], AbstractContextManager[list[object]]]


@pytest.fixture
def visit(cast: Cast, tmp_path: Path) -> Iterator[str]:
    before = settings.SADDLEBENCH_HOME
    settings.SADDLEBENCH_HOME = tmp_path
    yield cast.here[Subject.VISIT]
    settings.SADDLEBENCH_HOME = before


@pytest.fixture
def fitter(cast: Cast) -> Client:
    return cast.browser("fitter")


def _add(
    client: Client, visit: str, *files: bytes, shot: str = "near_side", name: str = "a.jpg", form: str = ""
) -> object:
    posted = {
        "shot": shot,
        "form": form or str(uuids.uuid4()),
        "file": [SimpleUploadedFile(name, one) for one in files],
    }
    return client.post(reverse("photos:add", args=[visit]), posted, **PART)


def _photos(cast: Cast, visit: str) -> tuple[PhotoShown, ...]:
    return photos_of(cast.actors["owner"], visit=uuids.UUID(visit))


def test_a_photo_is_taken_in_stored_under_our_name_and_given_out(
    cast: Cast, fitter: Client, visit: str
) -> None:
    original = jpeg(edges(), exif_of_a_phone(orientation=6))
    form = str(uuids.uuid4())
    for _ in range(2):
        answer = _add(fitter, visit, original, name="../../near me.jpg", form=form)
        assert answer.status_code == 200  # type: ignore[attr-defined]
    (shown,) = _photos(cast, visit)
    assert shown.original_sha256 == hashlib.sha256(original).hexdigest()
    assert (shown.shot, shown.width_px, shown.height_px, shown.flaws) == ("near_side", 900, 1200, ())
    told = fitter.get(f"/horses/{cast.here[Subject.HORSE]}/timeline/").content.decode()
    assert "Near side, standing square" in told
    home = Path(settings.SADDLEBENCH_HOME)
    kept = [path.relative_to(home) for path in home.rglob("*") if path.is_file()]
    assert sorted(kept) == sorted(
        path.relative_to(home)
        for path in (stored_path(home, shown.sha256, "image/jpeg"), thumbnail_path(home, shown.sha256))
    )
    given = fitter.get(reverse("photos:file", args=[shown.uuid]))
    content = b"".join(given.streaming_content)  # type: ignore[attr-defined]
    assert hashlib.sha256(content).hexdigest() == shown.sha256
    assert given["Content-Type"] == "image/jpeg"
    assert "immutable" in given["Cache-Control"]
    assert "near me" not in given["Content-Disposition"]
    assert given["X-Content-Type-Options"] == "nosniff"


def test_a_lost_small_copy_is_made_again(cast: Cast, fitter: Client, visit: str) -> None:
    _add(fitter, visit, jpeg(edges()))
    (shown,) = _photos(cast, visit)
    thumbnail_path(Path(settings.SADDLEBENCH_HOME), shown.sha256).unlink()
    given = fitter.get(reverse("photos:thumb", args=[shown.uuid]))
    assert max(Image.open(io.BytesIO(given.content)).size) == 480


def test_a_flawed_photo_is_kept_asked_about_and_kept_anyway(cast: Cast, fitter: Client, visit: str) -> None:
    answer = _add(fitter, visit, jpeg(edges(800, 600).point(lambda dot: dot * 0.1)))
    text = answer.content.decode()  # type: ignore[attr-defined]
    assert "Too dark, Too small to print" in re.sub(r"\s+", " ", text)
    assert "Keep anyway" in text
    (shown,) = _photos(cast, visit)
    step = reverse("visit:step", args=[visit, "photos"])
    assert "1 photo may not be good enough" in fitter.get(step).content.decode()
    fitter.post(reverse("photos:keep_anyway", args=[shown.uuid]))
    after = fitter.get(step).content.decode()
    assert "may not be good enough" not in after
    assert _photos(cast, visit)[0].kept_anyway == ("dark", "small")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"<svg/>", "no picture or film that can be kept"),
        (b"\xff\xd8\xff cut", "no picture that can be read"),
        (film(seconds=999), "longer than 3 minutes"),
    ],
)
def test_what_cannot_be_taken_is_said_beside_its_shot(
    cast: Cast, fitter: Client, visit: str, content: bytes, said: str
) -> None:
    answer = _add(fitter, visit, content)
    assert answer.status_code == 422  # type: ignore[attr-defined]
    assert said in answer.content.decode()  # type: ignore[attr-defined]
    assert _photos(cast, visit) == ()
    assert fitter.post(reverse("photos:add", args=[visit]), {"shot": "front"}).status_code == 422


def test_one_bad_file_does_not_stop_the_others(cast: Cast, fitter: Client, visit: str) -> None:
    answer = _add(fitter, visit, jpeg(edges()), b"nothing", jpeg(edges(seed=2)), shot="")
    assert answer.status_code == 422  # type: ignore[attr-defined]
    assert len(_photos(cast, visit)) == 2


def test_without_script_a_photo_is_sent_by_a_button(cast: Cast, fitter: Client, visit: str) -> None:
    posted = {"shot": "front", "file": SimpleUploadedFile("a.jpg", jpeg(edges()))}
    answer = fitter.post(reverse("photos:add", args=[visit]), posted)
    assert answer["Location"] == reverse("visit:step", args=[visit, "photos"])
    assert "The photo is kept." in fitter.get(answer["Location"]).content.decode()


def test_a_film_is_kept_and_played_by_parts(cast: Cast, fitter: Client, visit: str) -> None:
    _add(fitter, visit, film(), shot="", name="a.mp4")
    (shown,) = _photos(cast, visit)
    assert (shown.media_type, shown.is_film) == ("video/mp4", True)
    assert "<video" in fitter.get(reverse("visit:step", args=[visit, "photos"])).content.decode()
    path = reverse("photos:file", args=[shown.uuid])
    whole = b"".join(fitter.get(path).streaming_content)  # type: ignore[attr-defined]
    part = fitter.get(path, HTTP_RANGE="bytes=10-19")
    assert part.status_code == 206
    assert part.content == whole[10:20]
    assert part["Content-Range"] == f"bytes 10-19/{len(whole)}"
    rest = fitter.get(path, HTTP_RANGE="bytes=10-")
    assert rest.content == whole[10:]
    assert fitter.get(path, HTTP_RANGE=f"bytes={len(whole)}-").status_code == 416
    misread = fitter.get(path, HTTP_RANGE="bytes=nonsense")
    assert b"".join(misread.streaming_content) == whole  # type: ignore[attr-defined]
    assert fitter.get(reverse("photos:thumb", args=[shown.uuid])).status_code == 404


def test_marks_are_drawn_measured_and_rubbed_off(cast: Cast, fitter: Client, visit: str) -> None:
    _add(fitter, visit, jpeg(edges(1000, 1000)))
    (shown,) = _photos(cast, visit)
    draw = reverse("photos:draw", args=[shown.uuid])
    known = {"kind": "known", "x1": "10", "y1": "50", "x2": "60", "y2": "50", "known_mm": "250"}
    distance = {"kind": "distance", "x1": "10", "y1": "10", "x2": "40", "y2": "50"}
    assert fitter.post(draw, known).status_code == 302
    text = fitter.post(draw, distance, **PART).content.decode()
    # 500 dots are 250 mm; 300 and 400 dots across and down are 500 dots.
    assert "Distance of 250 mm" in text
    assert 'points="100.0,100.0 400.0,500.0"' in text
    (_, mark) = _photos(cast, visit)[0].drawn
    rubbed = fitter.post(reverse("photos:rub_off", args=[shown.uuid]), {"mark": mark["key"]}, **PART)
    assert "Distance of" not in rubbed.content.decode()
    refused = fitter.post(draw, {**distance, "x2": "140"}, **PART)
    assert refused.status_code == 422
    assert "outside the picture" in refused.content.decode()
    assert fitter.post(draw, {"kind": "scribble"}).status_code == 422
    assert fitter.post(draw, {**distance, "x1": "left"}).status_code == 422


def test_a_note_and_a_shot(cast: Cast, fitter: Client, visit: str) -> None:
    _add(fitter, visit, jpeg(edges()))
    (shown,) = _photos(cast, visit)
    path = reverse("photos:describe", args=[shown.uuid])
    fitter.post(path, {"shot": "behind", "note": "Off hip lower", "note.was": ""})
    (after,) = _photos(cast, visit)
    assert (after.shot, after.note) == ("behind", "Off hip lower")
    assert fitter.post(path, {"shot": "x", "note": "y" * 10_001, "note.was": after.note}).status_code == 422


def test_two_photos_are_laid_side_by_side_the_earlier_first(cast: Cast, fitter: Client, visit: str) -> None:
    for seed in (1, 2):
        _add(fitter, visit, jpeg(edges(seed=seed)))
    first, second = (str(one.uuid) for one in _photos(cast, visit))
    horse = cast.here[Subject.HORSE]
    path = reverse("photos:compare_horse", args=[horse])
    text = fitter.get(path, {"photo": [second, first]}).content.decode()
    assert text.index(first) < text.index(second)
    assert 'type="range"' in text
    assert fitter.get(path, {"photo": [first]}).status_code == 422
    assert fitter.get(path, {"photo": [first, "x"]}).status_code == 404


def test_the_shot_list_is_the_owners_to_write(cast: Cast, visit: str) -> None:
    owner = cast.browser("owner")
    path = reverse("photos:shots")
    assert owner.post(path, {"shots": "Front\nBroken tree"}).status_code == 302
    text = cast.browser("fitter").get(reverse("visit:step", args=[visit, "photos"])).content.decode()
    assert "Broken tree" in text
    assert "Sweat and dirt pattern" not in text
    refused = owner.post(path, {"shots": "Front\nfront"})
    assert refused.status_code == 422
    assert "stands there twice" in refused.content.decode()


def test_twice_the_photos_take_as_many_queries(
    cast: Cast, fitter: Client, visit: str, count_queries: Counting
) -> None:
    paths = (
        reverse("visit:step", args=[visit, "photos"]),
        reverse("photos:of_horse", args=[cast.here[Subject.HORSE]]),
    )
    small = [jpeg(edges(64, 48, seed=seed)) for seed in range(6)]

    def counted() -> list[int]:
        numbers = []
        for path in paths:
            with count_queries() as found:
                fitter.get(path)
            numbers.append(len(found))
        return numbers

    _add(fitter, visit, *small[:2])
    counted()
    before = counted()
    _add(fitter, visit, *small[2:])
    assert counted() == before


def test_a_photo_is_withdrawn_and_put_back(cast: Cast, fitter: Client, visit: str) -> None:
    _add(fitter, visit, jpeg(edges()))
    (shown,) = _photos(cast, visit)
    assert fitter.post(reverse("records:withdraw", args=["photo", shown.uuid])).status_code == 302
    assert _photos(cast, visit) == ()
    assert fitter.get(reverse("photos:file", args=[shown.uuid])).status_code == 404
    fitter.post(reverse("records:put_back", args=["photo", shown.uuid]))
    assert len(_photos(cast, visit)) == 1


def test_a_saddle_has_photos_of_its_own_taken_by_the_workshop_too(cast: Cast, visit: str) -> None:
    saddle = cast.here[Subject.SADDLE]
    workshop, page = cast.browser("workshop"), reverse("photos:of_saddle", args=[saddle])
    assert page in workshop.get(reverse("records:saddle", args=[saddle])).content.decode()
    add = reverse("photos:add_to_saddle", args=[saddle])
    for seed in (1, 2):
        posted = {"file": SimpleUploadedFile("a.jpg", jpeg(edges(seed=seed)))}
        assert workshop.post(add, posted)["Location"] == page
    first, second = photos_of(cast.actors["owner"], saddle=uuids.UUID(saddle))
    assert (first.horse, first.visit) == (None, None)
    text = workshop.get(page).content.decode()
    assert str(first.uuid) in text
    assert "Lay two side by side" in text
    compare = reverse("photos:compare_saddle", args=[saddle])
    assert workshop.get(compare, {"photo": [str(second.uuid), str(first.uuid)]}).status_code == 200
    horse = reverse("photos:compare_horse", args=[cast.here[Subject.HORSE]])
    assert workshop.get(horse, {"photo": [str(second.uuid), str(first.uuid)]}).status_code == 404
    timeline = cast.browser("fitter").get(reverse("records:timeline", args=[cast.here[Subject.HORSE]]))
    assert reverse("photos:photo", args=[first.uuid]) in timeline.content.decode()


def test_a_horse_is_photographed_without_a_visit(cast: Cast, visit: str) -> None:
    horse = cast.here[Subject.HORSE]
    fitter, page = cast.browser("fitter"), reverse("photos:of_horse", args=[horse])
    add = reverse("photos:add_to_horse", args=[horse])
    assert add in fitter.get(page).content.decode()
    assert add not in cast.browser("reader").get(page).content.decode()
    posted = {"file": SimpleUploadedFile("a.jpg", jpeg(edges(seed=1)))}
    assert fitter.post(add, posted)["Location"] == page
    part = fitter.post(add, {"file": SimpleUploadedFile("b.jpg", jpeg(edges(seed=2)))}, **PART)
    first, second = photos_of(cast.actors["owner"], horse=uuids.UUID(horse))
    assert {one.visit for one in (first, second)} == {None}
    text = part.content.decode()
    assert str(second.uuid) in text
    assert str(first.uuid) not in text
    assert all(str(one.uuid) in fitter.get(page).content.decode() for one in (first, second))
    bad = fitter.post(add, {"file": SimpleUploadedFile("a.jpg", b"<svg/>")}, **PART)
    assert bad.status_code == 422
    assert photos_of(cast.actors["owner"], horse=uuids.UUID(horse)) == (first, second)


def test_a_saddles_photo_that_cannot_be_taken_is_said_and_who_may_not_may_not(cast: Cast, visit: str) -> None:
    add = reverse("photos:add_to_saddle", args=[cast.here[Subject.SADDLE]])
    bad = cast.browser("fitter").post(add, {"file": SimpleUploadedFile("a.jpg", b"<svg/>")}, **PART)
    assert bad.status_code == 422
    assert "no picture or film that can be kept" in bad.content.decode()
    good = {"file": SimpleUploadedFile("a.jpg", jpeg(edges()))}
    assert cast.browser("reader").post(add, good).status_code == 403
    assert cast.browser("other").post(add, good).status_code == 404
