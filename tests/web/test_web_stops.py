"""A stop ends the fitting: no fit check is asked for, computed or recorded, by whatever way it comes."""

import uuid as uuids

import pytest
from django.test import Client
from django.urls import reverse
from web_cast import Cast, do_waiting

from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.models import Job, Opinion, Study
from saddlebench.practice.services import Entered, StoppedError, enter

STUDY = Document(text='{"format": "saddlebench fit check", "version": 1, "findings": []}')


@pytest.fixture
def fitter(cast: Cast) -> Client:
    return cast.browser("fitter")


def _say(cast: Cast, field: str, value: object, *, seen: int = 99) -> None:
    entry = Entered(field=field, value=value, key=uuids.uuid4(), seen=seen)  # type: ignore[arg-type]
    enter(cast.actors["fitter"], Subject.VISIT, uuids.UUID(cast.here[Subject.VISIT]), [entry])


def _versions(cast: Cast) -> dict[str, uuids.UUID]:
    found = {
        name: queries.versions_of(cast.actors["fitter"], subject, uuids.UUID(cast.here[subject]))
        for name, subject in (("back", Subject.BACK), ("saddle", Subject.SADDLE))
    }
    return {name: rows[0].uuid for name, rows in found.items()}


def _ask(cast: Cast, client: Client, *, visit: str) -> object:
    versions = {name: str(uuid) for name, uuid in _versions(cast).items()}
    posted = {
        "form": str(uuids.uuid4()),
        "rider_mass": "70",
        "pads": "no_pad",
        "visit": visit,
        "says.rocking": "fine",
        **versions,
    }
    return client.post(reverse("study:new", args=[cast.here[Subject.HORSE]]), posted)


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("stops_vet_first", ["lame_or_unsteady"], "the vet comes first"),
        ("sedated", True, "not today"),
        ("stops_do_not_ride", ["strap_in_doubt"], "not to be ridden in"),
    ],
)
@pytest.mark.parametrize("names_its_visit", [True, False])
def test_a_check_is_refused_at_once_and_in_words(
    cast: Cast, fitter: Client, field: str, value: object, said: str, *, names_its_visit: bool
) -> None:
    studies = Study.objects.count()
    _say(cast, field, value)
    visit = cast.here[Subject.VISIT] if names_its_visit else ""
    form = fitter.get(reverse("study:new", args=[cast.here[Subject.HORSE]]), {"visit": visit})
    asked = _ask(cast, fitter, visit=visit)
    for answer in (form, asked):
        assert answer.status_code == 409  # type: ignore[attr-defined]
        assert said in answer.content.decode()  # type: ignore[attr-defined]
    assert (Job.objects.count(), Opinion.objects.count(), Study.objects.count()) == (0, 0, studies)


def test_a_stop_that_comes_while_a_check_waits_ends_it_in_the_same_words(cast: Cast, fitter: Client) -> None:
    studies = Study.objects.count()
    asked = _ask(cast, fitter, visit=cast.here[Subject.VISIT])
    assert asked.status_code == 302  # type: ignore[attr-defined]
    _say(cast, "stops_vet_first", ["lame_or_unsteady"])
    do_waiting()
    text = fitter.get(asked["Location"]).content.decode()  # type: ignore[index]
    assert "the vet comes first" in text
    assert Study.objects.count() == studies


def test_what_was_computed_meanwhile_is_not_recorded(cast: Cast) -> None:
    _say(cast, "stops_vet_first", ["lame_or_unsteady"])
    versions = {f"{name}_version": uuid for name, uuid in _versions(cast).items()}
    for visit in (uuids.UUID(cast.here[Subject.VISIT]), None):
        with pytest.raises(StoppedError, match="the vet comes first"):
            services.record_study(cast.actors["fitter"], STUDY, **versions, visit_uuid=visit)
    with pytest.raises(StoppedError, match="the vet comes first"):
        services.record_run(
            cast.actors["fitter"], uuids.UUID(cast.here[Subject.STUDY]), STUDY, **versions, why="x", seen=1
        )


def test_with_the_stop_taken_off_the_fitting_goes_on(cast: Cast, fitter: Client) -> None:
    _say(cast, "stops_vet_first", ["lame_or_unsteady"])
    _say(cast, "stops_vet_first", [])
    assert _ask(cast, fitter, visit=cast.here[Subject.VISIT]).status_code == 302  # type: ignore[attr-defined]


def test_a_new_visit_without_a_stop_lets_the_horse_be_judged(cast: Cast, fitter: Client) -> None:
    _say(cast, "stops_vet_first", ["lame_or_unsteady"])
    visit = fitter.post(
        reverse("visit:new"),
        {"horse_uuid": cast.here[Subject.HORSE], "purpose": "recheck", "date": "2026-05-02"},
    )
    assert visit.status_code == 302
    assert _ask(cast, fitter, visit="").status_code == 302  # type: ignore[attr-defined]
