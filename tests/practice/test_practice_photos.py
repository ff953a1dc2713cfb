"""Photos: the shot list, flaws found and kept, marks drawn at once, notes that both stay."""

from collections.abc import Callable
from pathlib import Path

import pytest
from practice_cast import Cast, key
from practice_invented import invented_yard

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import services
from saddlebench.practice.catalogue.shots import USUAL_SHOTS
from saddlebench.practice.enums import Purpose, VisitState
from saddlebench.practice.keeping.files import StoredFile, erase, sniff, store, stored_path, thumbnail_path
from saddlebench.practice.models import Photo
from saddlebench.practice.queries.photos import photo, photos_of, shot_list
from saddlebench.practice.queries.visit_list import visit_list
from saddlebench.practice.rules import Actor, NotAllowedError
from saddlebench.practice.services import NotFoundError, PhotoFacts
from saddlebench.practice.services.photos import (
    attach_photo,
    describe_photo,
    draw_on_photo,
    keep_photo_anyway,
    rub_off_photo,
    set_shots,
)

_FILE = StoredFile(sha256="0" * 64, media_type="image/jpeg", size_bytes=9)
_LINE = [(0.1, 0.2), (0.9, 0.2)]
pytestmark = pytest.mark.usefixtures("db")


def _photo(cast: Cast, flaws: tuple[str, ...] = ()) -> Photo:
    yard = invented_yard(cast.fitter)
    shown = PhotoFacts(original_sha256="1" * 64, flaws=flaws)
    return attach_photo(cast.fitter, _FILE, shown, visit=yard.visit.uuid)


def test_a_practice_takes_the_usual_shots_until_it_writes_its_own(cast: Cast) -> None:
    assert shot_list(cast.reader) == USUAL_SHOTS
    kept = set_shots(cast.owner, "Near side, standing square\n\nLeft ear\nLeft ear!\n")
    assert [(shot.name, shot.words) for shot in kept] == [
        ("near_side", "Near side, standing square"),
        ("left_ear", "Left ear"),
        ("left_ear_2", "Left ear!"),
    ]
    assert shot_list(cast.reader) == kept
    # A photo's shot is kept by its name: the same words keep it.
    assert set_shots(cast.owner, "Left ear!")[0].name == "left_ear_2"
    assert set_shots(cast.owner, "  ") == USUAL_SHOTS


def test_every_line_of_a_shot_list_that_cannot_be_kept_is_named(cast: Cast) -> None:
    with pytest.raises(InputProblemsError) as refused:
        set_shots(cast.owner, "\n".join(["Front", "x" * 81, "front", *(f"Shot {n}" for n in range(40))]))
    said = str(refused.value)
    assert "81 characters" in said
    assert "stands there twice" in said
    assert "43 shots" in said
    assert shot_list(cast.owner) == USUAL_SHOTS


def test_a_flaw_is_asked_about_until_it_is_kept_anyway(cast: Cast) -> None:
    taken = _photo(cast, flaws=("dark", "small"))
    assert photo(cast.reader, taken.uuid).flaws == ("dark", "small")
    keep_photo_anyway(cast.fitter, taken.uuid)
    shown = photo(cast.reader, taken.uuid)
    assert (shown.flaws, shown.kept_anyway) == ((), ("dark", "small"))


def test_a_flaw_that_no_check_knows_is_refused(cast: Cast) -> None:
    with pytest.raises(InputProblemsError, match="cannot be kept"):
        _photo(cast, flaws=("purple",))


def test_two_people_draw_on_one_photo_and_both_marks_stay(cast: Cast) -> None:
    taken = _photo(cast)
    mine, theirs = key(), key()
    draw_on_photo(cast.fitter, taken.uuid, "line", _LINE, key=mine)
    draw_on_photo(cast.owner, taken.uuid, "distance", _LINE, key=theirs)
    draw_on_photo(cast.fitter, taken.uuid, "line", _LINE, key=mine)
    drawn = photo(cast.reader, taken.uuid).drawn
    assert [one["key"] for one in drawn] == [str(theirs), str(mine)]
    rub_off_photo(cast.fitter, taken.uuid, theirs)
    assert [one["kind"] for one in photo(cast.reader, taken.uuid).drawn] == ["line"]


def test_a_photo_has_one_known_length(cast: Cast) -> None:
    taken = _photo(cast)
    draw_on_photo(cast.fitter, taken.uuid, "known", _LINE, key=key(), known_mm="200")
    draw_on_photo(cast.fitter, taken.uuid, "known", _LINE, key=key(), known_mm="30,5")
    assert [one["known_mm"] for one in photo(cast.reader, taken.uuid).drawn] == [30.5]


@pytest.mark.parametrize(
    ("kind", "points", "known", "said"),
    [
        ("scribble", _LINE, None, "no kind of mark"),
        ("angle", _LINE, None, "2 points are set, this needs 3"),
        ("line", [(0.1, 0.1), (1.2, 0.1)], None, "outside the picture"),
        ("line", [(0.1, 0.1), (0.1, 0.1)], None, "one place"),
        ("known", _LINE, None, "is needed"),
        ("known", _LINE, "1", "outside 5 to 5000 mm"),
    ],
)
def test_a_mark_that_means_nothing_is_refused(
    cast: Cast, kind: str, points: list[tuple[float, float]], known: str | None, said: str
) -> None:
    taken = _photo(cast)
    with pytest.raises(InputProblemsError, match=said):
        draw_on_photo(cast.fitter, taken.uuid, kind, points, key=key(), known_mm=known)
    assert photo(cast.reader, taken.uuid).drawn == ()


def test_two_notes_written_at_once_both_stay(cast: Cast) -> None:
    taken = _photo(cast)
    describe_photo(cast.owner, taken.uuid, shot="front", note="Rests a hind", seen="")
    describe_photo(cast.fitter, taken.uuid, shot="front", note="White hairs near", seen="")
    assert photo(cast.owner, taken.uuid).note == "Rests a hind\nWhite hairs near"
    describe_photo(cast.owner, taken.uuid, shot="front", note="Both", seen="Rests a hind\nWhite hairs near")
    assert photo(cast.owner, taken.uuid).note == "Both"
    assert photo(cast.workshop, taken.uuid).note == ""


_WRITES: dict[str, Callable[[Actor | None, Photo], object]] = {
    "keep": lambda actor, taken: keep_photo_anyway(actor, taken.uuid),
    "describe": lambda actor, taken: describe_photo(actor, taken.uuid, shot="", note="", seen=""),
    "draw": lambda actor, taken: draw_on_photo(actor, taken.uuid, "line", _LINE, key=key()),
    "rub off": lambda actor, taken: rub_off_photo(actor, taken.uuid, key()),
}


@pytest.mark.parametrize("write", _WRITES)
def test_who_may_not_change_a_photo_does_not(cast: Cast, write: str) -> None:
    taken = _photo(cast)
    for who in (cast.workshop, cast.reader, None):
        with pytest.raises(NotAllowedError):
            _WRITES[write](who, taken)
    with pytest.raises(NotFoundError):
        _WRITES[write](cast.other, taken)
    with pytest.raises(NotAllowedError):
        set_shots(cast.fitter, "Front")
    with pytest.raises(NotFoundError):
        photo(cast.other, taken.uuid)
    assert photos_of(cast.other, visit=taken.visit.uuid if taken.visit else None) == ()


def test_a_visit_starts_with_a_name_alone_and_is_listed(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    services.start_visit(
        cast.fitter, on=yard.visit.date, purpose=Purpose.FIRST, label="Grey cob", state=VisitState.OPEN
    )
    names = [row.horse for row in visit_list(cast.reader).under_way]
    assert "Grey cob" in names
    assert all(row.place == "" for row in visit_list(cast.workshop).under_way)
    assert visit_list(cast.other).under_way == ()


def test_an_erased_file_takes_its_small_copy_along(tmp_path: Path) -> None:
    kept = store(tmp_path, b"\xff\xd8\xff invented")
    small = thumbnail_path(tmp_path, kept.sha256)
    small.parent.mkdir(parents=True)
    small.write_bytes(b"small")
    erase(tmp_path, kept.sha256, kept.media_type)
    assert not small.exists()
    assert not stored_path(tmp_path, kept.sha256, kept.media_type).exists()


def test_a_film_of_a_phone_is_told_by_its_first_bytes() -> None:
    assert sniff(b"\x00\x00\x00\x14ftypqt  \x00\x00") == "video/quicktime"
    assert sniff(b"\x00\x00\x00\x14ftypiso6\x00\x00") == "video/mp4"
