"""Fitters and instruments compared on the pages and for other programs."""

import json
import re
import uuid as uuids

import pytest
from change_cast import new_horse, visit_document
from web_cast import Cast, do_waiting

from saddlebench.engine.change.repeat.study import RepeatStudy
from saddlebench.exchange.records import parse_document
from saddlebench.exchange.records.repeat import RepeatDocument
from saddlebench.practice import services
from saddlebench.practice.enums import ComparisonKind, Subject
from saddlebench.practice.models import BackVersion, Comparison
from saddlebench.practice.services.comparing_fitters import compare_fitters
from saddlebench.practice.services.deeds import NotFoundError


def record_day(cast: Cast, label: str, who: tuple[str, ...], *, seed: int = 700) -> tuple[str, list[str]]:
    """Record a horse measured by several on one day, and return it with the versions."""
    horse = new_horse(cast, "fitter", label)
    _, day = visit_document(0)
    versions = []
    for k, by in enumerate(who):
        document, _ = visit_document(0, seed + k, is_unchanged=True)
        made = services.record_back(
            cast.actors[by], uuids.UUID(horse), document, measured_on=day, label=f"by {by}, {k}"
        )
        versions.append(str(made.version.uuid))
    return horse, versions


def study_in(row: Comparison) -> RepeatStudy:
    return parse_document(RepeatDocument, row.document, "study").study


def test_two_fitters_are_compared_by_the_days_they_measured_the_same_back(cast: Cast) -> None:
    horse, versions = record_day(cast, "Bracken", ("fitter", "fitter", "owner", "owner"))
    client = cast.browser("fitter")
    page = client.get("/check-me/fitters/").content.decode()
    assert "4 records by Fitter Invented, Orla Invented" in page
    answer = client.post(
        "/check-me/fitters/compare/", {"day": f"{horse}.2024-05-06", "key": str(uuids.uuid4())}
    )
    assert answer.status_code == 302, answer.content.decode()
    do_waiting()
    row = Comparison.objects.get(kind=ComparisonKind.FITTERS.value)
    study = study_in(row)
    assert (study.fitters, study.n_repeats) == (("Fitter Invented", "Orla Invented"), 4)
    shown = client.get(f"/check-me/fitters/{row.uuid}/").content.decode()
    assert "twice by the same fitter: within" in shown
    assert "by any of them: within" in shown
    assert "So few repeats tell it roughly: the true limits may be" in shown
    assert "Screening" in shown or "screening" in shown
    drawn = client.get(f"/check-me/fitters/{row.uuid}/numbers.svg")
    assert drawn["Content-Type"] == "image/svg+xml"
    assert "Compared: Fitter Invented, Orla Invented" in client.get("/check-me/fitters/").content.decode()
    # The same asked again is there already.
    again = compare_fitters(cast.actors["owner"], [uuids.UUID(one) for one in versions])
    assert again.pk == row.pk
    # No horse is named in what is kept: an erasure has nothing to look for there.
    assert "Bracken" not in json.dumps(row.made_of) + row.document + row.label
    services.withdraw(cast.actors["fitter"], Subject.BACK, _back_of(versions[0]))
    assert "corrected or withdrawn since" in client.get(f"/check-me/fitters/{row.uuid}/").content.decode()


def test_several_backs_say_whether_readings_tell_backs_apart(cast: Cast) -> None:
    _, first = record_day(cast, "Bracken", ("fitter", "fitter", "owner", "owner"))
    _, second = record_day(cast, "Juniper", ("fitter", "fitter", "owner", "owner"), seed=800)
    _, third = record_day(cast, "Sorrel", ("fitter", "fitter", "owner", "owner"), seed=900)
    named = [uuids.UUID(one) for one in (*first, *second, *third)]
    row = compare_fitters(cast.actors["fitter"], named)
    study = study_in(row)
    assert study.backs == ("back 1", "back 2", "back 3")
    width = next(one for one in study.quantities if one.quantity.what == "withers width")
    # The three are one back under three names: neither may say that readings tell them apart.
    assert width.gauge.distinct_categories == 1  # type: ignore[union-attr]
    assert width.correlation[1].low < 0.0  # type: ignore[index]
    shown = cast.browser("reader").get(f"/check-me/fitters/{row.uuid}/").content.decode()
    assert "Two by two" in shown
    assert re.search(r"between [−\d.]+ mm and [−\d.]+ mm; on average", shown.replace("\u00a0", " "))


def test_what_cannot_be_compared_is_refused_in_words(cast: Cast) -> None:
    horse, versions = record_day(cast, "Bracken", ("fitter", "owner"))
    client = cast.browser("fitter")
    nothing = client.post("/check-me/fitters/compare/", {"key": str(uuids.uuid4())})
    assert nothing.status_code == 422
    assert "no day is chosen" in nothing.content.decode()
    assert cast.browser("reader").post("/check-me/fitters/compare/").status_code == 403
    elsewhere = cast.browser("other")
    assert horse not in elsewhere.get("/check-me/fitters/").content.decode()
    with pytest.raises(NotFoundError):
        compare_fitters(cast.actors["other"], [uuids.UUID(one) for one in versions])
    with pytest.raises(Exception, match="no back was measured twice"):
        compare_fitters(cast.actors["fitter"], [uuids.UUID(versions[0])])
    row = compare_fitters(cast.actors["fitter"], [uuids.UUID(one) for one in versions])
    assert elsewhere.get(f"/check-me/fitters/{row.uuid}/").status_code == 404
    # Each measured once: nothing says how the same fitter repeats, and the page says so.
    assert "let each measure the back twice" in client.get(f"/check-me/fitters/{row.uuid}/").content.decode()


def _back_of(version: str) -> uuids.UUID:
    return BackVersion.objects.get(uuid=version).back.uuid
