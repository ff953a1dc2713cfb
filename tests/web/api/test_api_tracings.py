"""Tracings and angles on photos over the interface: a plain paper read by its corners, added to, kept."""

import pytest
from api_cast import Caller, caller, key
from web_cast import Cast, do_waiting

from saddlebench.practice.enums import Subject
from support.traced_paper import plain_photo


@pytest.fixture(scope="module")
def plain() -> tuple[bytes, list[tuple[float, float]]]:
    return plain_photo()


def with_the_horse(cast: Cast, fitter: Caller, content: bytes) -> str:
    """Keep a photo with the horse, and return its name."""
    name = key()
    sent = fitter.send("PUT", f"photos/{name}?horse={cast.here[Subject.HORSE]}", content)
    assert sent.status_code == 201, sent.content
    return name


def test_a_plain_paper_waits_for_its_corners_is_read_by_them_and_kept(
    cast: Cast, plain: tuple[bytes, list[tuple[float, float]]]
) -> None:
    fitter, name = caller(cast, "fitter"), key()
    photo = with_the_horse(cast, fitter, plain[0])
    body = {
        "uuid": name,
        "horse": cast.here[Subject.HORSE],
        "measured_on": "2026-05-04",
        "instrument": "curve-mm",
        "photos": [photo],
        "distances": [80.0],
    }
    assert fitter.post("tracings", body).status_code == 202
    do_waiting()
    assert fitter.get(f"tracings/{name}").json() == []
    unread = fitter.get(f"tracings/{name}/unread").json()
    assert [(one["number"], one["photo"]) for one in unread] == [(1, photo)]
    assert "square marks" in unread[0]["reason"]
    corners = f"tracings/{name}/photos/1/corners"
    unsized = fitter.post(corners, {"uuid": key(), "corners": plain[1]})
    assert unsized.status_code == 422
    assert "how large the paper is" in unsized.content.decode()
    given = {"uuid": key(), "corners": plain[1], "width": 420.0, "height": 297.0}
    assert fitter.post(corners, given).status_code == 202
    do_waiting()
    assert fitter.get(f"tracings/{name}/unread").json() == []
    (read,) = fitter.get(f"tracings/{name}").json()
    (curve,) = read["curves"]
    assert curve["station"] == 1
    assert curve["point_sd_mm"] > 0.5
    assert all(y == pytest.approx(-0.0028 * x**2, abs=2.0) for x, y in curve["points"])
    # The same photo again is not read twice.
    assert fitter.post(f"tracings/{name}/photos", {"uuid": key(), "photos": [photo]}).status_code == 202
    do_waiting()
    assert [one["number"] for one in fitter.get(f"tracings/{name}").json()] == [1]
    (kept,) = fitter.post(f"tracings/{name}/keep").json()
    assert kept["kept"]


def test_angles_on_a_photo_are_told_with_their_error(
    cast: Cast, plain: tuple[bytes, list[tuple[float, float]]]
) -> None:
    fitter = caller(cast, "fitter")
    photo = with_the_horse(cast, fitter, plain[0])
    line = {"kind": "shoulder", "points": [[0.3, 0.6], [0.45, 0.4]]}
    assert fitter.put(f"photos/{photo}/marks/{key()}", line).status_code == 200
    (held,) = fitter.get(f"photos/{photo}/angles").json()
    level = {"kind": "level", "points": [[0.1, 0.9], [0.9, 0.9]], "known_mm": 1800}
    assert fitter.put(f"photos/{photo}/marks/{key()}", level).status_code == 200
    (found,) = fitter.get(f"photos/{photo}/angles").json()
    # In dots the line rises 0.2 × 1224 over 0.15 × 1632.
    for one, against in ((held, "lower edge"), (found, "level line marked")):
        assert one["kind"] == "shoulder"
        assert one["deg"] == pytest.approx(45.0, abs=0.5)
        assert 1.0 < one["sd_deg"] < 5.0
        assert against in one["said"]
