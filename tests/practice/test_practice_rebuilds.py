"""Rebuilding a back: readings as set are merged, a measured rebuild is never the horse's own back."""

import os
import time
import uuid as uuids
from datetime import date
from pathlib import Path

import pytest
from practice_cast import Cast
from practice_invented import BACK, invented_yard

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.keeping.made import KEPT_DAYS, made_path, take_out_old_made
from saddlebench.practice.models import Back, BackVersion, Capture, Rebuild, RebuildCheck

COMB = Document(text='{"family": "pin comb"}')
DAY = date(2026, 3, 1)
NAMED = Document(
    text='{"format": "saddlebench back record", "version": 1, "notes": "card, cut by Wilma Fernlea"}'
)


@pytest.fixture
def back(cast: Cast) -> BackVersion:
    yard = invented_yard(cast.fitter)
    return services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=DAY).version


def rebuild(cast: Cast, back: BackVersion) -> Rebuild:
    return services.start_rebuild(cast.fitter, back.back.uuid, 1, COMB, tolerance_mm=2.0)


def check(cast: Cast, back: BackVersion, document: Document = BACK) -> RebuildCheck:
    rebuilt = services.Rebuilt(document=document, measured_on=DAY, instrument="a comb")
    return services.record_rebuild_check(cast.fitter, back.back.uuid, 1, rebuilt, tolerance_mm=2.0)


def test_what_two_people_set_is_merged_and_a_reading_can_be_taken_back(cast: Cast, back: BackVersion) -> None:
    uuid = rebuild(cast, back).uuid
    services.keep_as_set(cast.fitter, uuid, {"s1/near/0": True, "s1/near/1": 12.5})
    services.keep_as_set(cast.workshop, uuid, {"s2/near/0": 3.0, "s1/near/1": None})
    assert queries.rebuild_page(cast.fitter, uuid).as_set == {"s1/near/0": True, "s2/near/0": 3.0}


@pytest.mark.parametrize(
    ("name", "value"),
    [("S1", 1.0), ("s1", 1.0), ("s1/../x", 1.0), ("s1/near/0", False), ("s1/near/0", float("inf"))],
)
def test_what_is_no_reading_is_refused_and_nothing_kept(
    cast: Cast, back: BackVersion, name: str, value: float
) -> None:
    uuid = rebuild(cast, back).uuid
    with pytest.raises(InputProblemsError):
        services.keep_as_set(cast.fitter, uuid, {"s1/near/1": 2.0, name: value})
    assert queries.rebuild_page(cast.fitter, uuid).as_set == {}


@pytest.mark.parametrize("tolerance", [0.0, 21.0, float("nan")])
def test_a_tolerance_out_of_range_is_refused(cast: Cast, back: BackVersion, tolerance: float) -> None:
    with pytest.raises(InputProblemsError, match="outside"):
        services.start_rebuild(cast.fitter, back.back.uuid, 1, COMB, tolerance_mm=tolerance)


def test_a_measured_rebuild_is_never_one_of_the_horses_backs(cast: Cast, back: BackVersion) -> None:
    horse = back.back.horse
    capture = services.start_capture(
        cast.fitter, horse.uuid, COMB, measured_on=DAY, rebuild_of=(back.back.uuid, 1)
    )
    with pytest.raises(InputProblemsError, match="rebuild"):
        services.finish_capture(cast.fitter, capture.uuid, BACK)
    done = services.finish_rebuild_capture(cast.fitter, capture.uuid, BACK, "Comb", tolerance_mm=2.0)
    again = services.finish_rebuild_capture(cast.fitter, capture.uuid, BACK, "Comb", tolerance_mm=2.0)
    assert again == done
    assert Back.objects.count() == 1
    page = queries.rebuild_check_page(cast.fitter, done.uuid)
    assert (page.capture, page.source.number, page.document) == (capture.uuid, 1, BACK.text)
    assert [one.uuid for one in queries.checks_of(cast.fitter, back.back.uuid)] == [done.uuid]


def test_a_horse_measured_is_no_rebuild(cast: Cast, back: BackVersion) -> None:
    capture = services.start_capture(cast.fitter, back.back.horse.uuid, COMB, measured_on=DAY)
    with pytest.raises(services.NotFoundError):
        services.finish_rebuild_capture(cast.fitter, capture.uuid, BACK, "Comb", tolerance_mm=2.0)


def test_a_rebuild_put_away_is_off_the_list(cast: Cast, back: BackVersion) -> None:
    made = rebuild(cast, back)
    assert len(queries.rebuilds_of(cast.fitter, back.back.uuid)) == 1
    services.put_rebuild_away(cast.workshop, made.uuid)
    assert queries.rebuilds_of(cast.fitter, back.back.uuid) == ()
    with pytest.raises(services.NotFoundError):
        queries.rebuild_page(cast.fitter, made.uuid)


def test_a_version_that_is_not_there_is_not_rebuilt(cast: Cast, back: BackVersion) -> None:
    with pytest.raises(services.NotFoundError):
        services.start_rebuild(cast.fitter, back.back.uuid, 2, COMB, tolerance_mm=2.0)
    with pytest.raises(services.NotFoundError):
        queries.rebuild_source(cast.fitter, back.back.uuid, 2)


def test_erasing_a_person_takes_their_horses_rebuilds_along_and_everything_made(
    cast: Cast, back: BackVersion, home: Path
) -> None:
    rebuild(cast, back)
    check(cast, back)
    services.start_capture(
        cast.fitter, back.back.horse.uuid, COMB, measured_on=DAY, rebuild_of=(back.back.uuid, 1)
    )
    made = made_path(home, cast.fitter.practice_id, uuids.uuid4())
    made.parent.mkdir(parents=True)
    made.write_bytes(b"Juniper")
    client = back.back.horse.client
    assert client is not None
    services.erase_person(cast.owner, client.uuid, home)
    assert not made.exists()
    assert not any(model.objects.exists() for model in (Rebuild, RebuildCheck, Capture, Back))


def test_erasing_a_person_takes_their_name_out_of_other_horses_checks(
    cast: Cast, back: BackVersion, home: Path
) -> None:
    client = back.back.horse.client
    assert client is not None
    new = services.take_on_client(cast.fitter, {"label": "Perran Holt"})
    check(cast, back, NAMED)
    services.erase_person(cast.owner, client.uuid, home, new_owners={back.back.horse.uuid: new.uuid})
    left = RebuildCheck.objects.get()
    assert "Fernlea" not in left.document
    assert left.sha256 == Document(text=left.document).sha256


def test_what_was_made_long_ago_is_taken_out(tmp_path: Path) -> None:
    old, new = (made_path(tmp_path, 1, uuids.uuid4()) for _ in range(2))
    old.parent.mkdir(parents=True)
    for path in (old, new):
        path.write_bytes(b"x")
    long_ago = time.time() - (KEPT_DAYS + 1) * 24 * 3600
    os.utime(old, (long_ago, long_ago))
    take_out_old_made(tmp_path, 1)
    assert (old.exists(), new.exists()) == (False, True)
