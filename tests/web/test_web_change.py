"""What changed: compared, shown with what cannot be told, refused with reasons, silent about nothing."""

import re
import uuid as uuids
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from change_cast import BEFORE, BUILT, TRAINED, Story, new_horse, record_repeats, record_story
from study_cast import documents, services_current
from web_cast import Cast, do_waiting

from saddlebench.demo.two_years import measured_at_visit
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.study import ErrorsUsed
from saddlebench.exchange.back_job import measured as measured_back
from saddlebench.exchange.job import StudyRequest
from saddlebench.exchange.records import BackDocument, StudyDocument, as_json, parse_document
from saddlebench.exchange.records.then_and_now import ThenAndNowDocument
from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.models import BackNumbers, BackVersion, Comparison, Job, Recheck
from saddlebench.practice.queries.choosing import wanted_on
from saddlebench.practice.services.checking import rerun_check
from saddlebench.practice.services.comparing import judge_then_and_now
from saddlebench.practice.services.comparing_fitters import compare_fitters
from saddlebench.practice.services.figures import Figure
from saddlebench.practice.services.measured_backs import readied, record_of
from saddlebench.practice.services.numbers import horse_in_numbers, keep_numbers
from saddlebench.web.change import work


def compared(cast: Cast, horse: str, versions: tuple[str, ...], who: str = "fitter") -> str:
    answer = cast.browser(who).post(f"/horses/{horse}/changed/compare/", {"version": versions})
    assert answer.status_code == 302, answer.content.decode()
    return str(answer["Location"])


def test_two_records_are_compared_at_once_and_the_page_says_where_and_by_how_much(cast: Cast) -> None:
    story = record_story(cast)
    client = cast.browser("fitter")
    chosen = client.get(f"/horses/{story.horse}/changed/").content.decode()
    assert chosen.count(" checked") == 2
    address = compared(cast, story.horse, story.versions)
    page = client.get(address).content.decode()
    assert "The back has changed in" in page
    assert "mm fuller" in page
    assert "◆" in page
    assert "cannot be told" in page
    assert "With these two records a change over 100" in page
    assert "not a diagnosis" in page
    for name in ("map", "sections", "section", "numbers"):
        drawn = client.get(f"{address}{name}.svg?width=page")
        assert drawn["Content-Type"] == "image/svg+xml"
        assert "<svg" in drawn.content.decode()
    assert client.get(f"{address}other.svg").status_code == 422
    # The list says the answer, and the same asked again is there already.
    assert "The back has changed in" in client.get(f"/horses/{story.horse}/changed/").content.decode()
    assert compared(cast, story.horse, tuple(reversed(story.versions))) == address
    assert Comparison.objects.count() == 1


def test_the_same_back_measured_twice_stays_silent(cast: Cast) -> None:
    story = record_story(cast, (0, 8), seed=200, is_unchanged=True)
    page = cast.browser("reader").get(compared(cast, story.horse, story.versions)).content.decode()
    assert "No change can be told from measuring error." in page
    assert "No patch" in page
    assert "No number changed by more than measuring explains" in page
    assert "◆" not in page


def _part_of(k: int, first: float, last: float) -> Document:
    record = measured_at_visit(TRAINED, k, 100).record
    held = tuple(one for one in record.readings.stations if first <= one.distance_mm <= last)
    part = replace(record, readings=replace(record.readings, stations=held))
    return Document(text=as_json(BackDocument.of(part)))


def test_records_that_say_nothing_of_each_other_say_why(cast: Cast) -> None:
    actor, horse = cast.actors["fitter"], new_horse(cast, "fitter", "Bracken")
    ends = ((BEFORE, -200.0, 0.0), (BUILT, 430.0, 700.0))
    versions = tuple(
        str(
            services.record_back(
                actor, uuids.UUID(horse), _part_of(k, first, last), measured_on=date(2024, 5, 6 + k)
            ).version.uuid
        )
        for k, first, last in ends
    )
    page = cast.browser("fitter").get(compared(cast, horse, versions)).content.decode()
    assert "These records cannot be compared." in page
    assert "Why they cannot be compared" in page
    assert "<picture" not in page


def test_one_record_or_a_record_that_is_none_is_refused_in_words(cast: Cast) -> None:
    story = record_story(cast, (BEFORE,))
    client = cast.browser("fitter")
    path = f"/horses/{story.horse}/changed/compare/"
    one = client.post(path, {"version": story.versions})
    assert one.status_code == 422
    assert "1 back record is chosen" in one.content.decode()
    assert client.post(path, {"version": ["nonsense", *story.versions]}).status_code == 422
    assert client.post(path, {"version": [str(uuids.uuid4()), *story.versions]}).status_code == 404
    assert client.get(path).status_code == 405


def test_more_records_are_long_work_and_every_visit_is_told(cast: Cast) -> None:
    story = record_story(cast, (0, 4, 9))
    client = cast.browser("fitter")
    answer = client.post(f"/horses/{story.horse}/changed/compare/", {"version": story.versions})
    assert answer["Location"].startswith("/jobs/")
    do_waiting()
    job = Job.objects.get()
    assert job.state == "done", job.said
    page = client.get(job.leads_to).content.decode()
    assert "Every visit against the first" in page
    assert page.count("3 June 2024") + page.count("21 October 2024") >= 1


def test_a_trend_shows_each_number_and_when_to_look_again(cast: Cast) -> None:
    story = record_story(cast, (0, 1, 3, 5, 7, 9), numbers=True)
    client = cast.browser("fitter")
    page = client.get(f"/horses/{story.horse}/trend/").content.decode()
    assert "Look again by" in page
    assert "No fit check says what the present saddle tolerates" in page
    # In training a back grows where the saddle lies: a year of visits tells the width there, and little else.
    moved = page[page.index('id="moved"') : page.index("All numbers")]
    assert re.search(r"[1-3] of 29 numbers moved", moved)
    assert re.search(r"width 30 mm below the midline</strong>[^<]*\+1\d\smm", moved)
    assert "by more than all visits and numbers of an unchanged back" in page
    assert "Common practice for a horse that is steady and adult" in page
    assert "6 visits" in page
    young = client.get(f"/horses/{story.horse}/trend/?kept=young").content.decode()
    assert "Common practice for a horse that is young" in young
    drawn = client.get(f"/horses/{story.horse}/trend/chart.svg?width=phone").content.decode()
    assert "<svg" in drawn
    day = re.search(r'name="on" value="([\d-]+)"', page)
    assert day
    answer = client.post(f"/horses/{story.horse}/trend/diary/", {"on": day[1], "key": str(uuids.uuid4())})
    assert answer.status_code == 302
    assert Recheck.objects.get(horse__uuid=story.horse).due_by.isoformat() == day[1]
    assert client.post(f"/horses/{story.horse}/trend/diary/", {"on": "soon"}).status_code == 422
    assert cast.browser("reader").post(f"/horses/{story.horse}/trend/diary/").status_code == 403


def test_records_not_yet_in_numbers_are_said_and_worked_out_when_asked(cast: Cast) -> None:
    story = record_story(cast, (0, 3, 6, 9))
    client = cast.browser("fitter")
    page = client.get(f"/horses/{story.horse}/trend/").content.decode()
    assert "Records not in numbers yet, and not in this trend: 4." in page
    client.post(f"/horses/{story.horse}/trend/numbers/", {"key": str(uuids.uuid4())})
    do_waiting()
    assert Job.objects.get().state == "done"
    assert "Look again by" in client.get(f"/horses/{story.horse}/trend/").content.decode()


def test_a_record_is_put_into_numbers_beside_the_pages_and_a_bad_one_is_said(cast: Cast) -> None:
    story = record_story(cast, (0,))
    keep_numbers.call(story.versions[0])
    assert BackNumbers.objects.get().numbers["visit"]["day"] == "2024-05-06"
    held = horse_in_numbers(cast.actors["fitter"], uuids.UUID(cast.here[Subject.HORSE]))
    assert len(held.missing) == 1
    keep_numbers.call(str(held.missing[0]))
    bad = horse_in_numbers(cast.actors["fitter"], uuids.UUID(cast.here[Subject.HORSE]))
    assert (bad.missing, len(bad.unreadable)) == ((), 1)
    keep_numbers.call(str(uuids.uuid4()))


def test_a_hand_is_checked_and_enough_repeats_replace_the_stated_errors(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Whose errors are in use shows without tries, which take the time.
    monkeypatch.setattr(work, "TRIES", 0)
    story = record_repeats(cast, 5)
    client = cast.browser("fitter")
    guide = client.get(f"/horses/{story.horse}/check-me/?day=2024-05-06").content.decode()
    assert "5 repeats" in guide
    assert "Measure repeat 6" in guide
    assert "instrument=comb-41x10" in guide
    answer = client.post(
        f"/horses/{story.horse}/check-me/result/", {"version": story.versions, "marks_again": "yes"}
    )
    assert answer.status_code == 302, answer.content.decode()
    page = client.get(answer["Location"]).content.decode()
    assert "Over the whole back your repeats scatter" in page
    for name in ("numbers", "surface"):
        assert "<svg" in client.get(f"{answer['Location']}{name}.svg?width=page").content.decode()
    before = record_story(cast, (BEFORE, BUILT))
    compared_before = compared(cast, before.horse, before.versions)
    judged_before = judged_then_and_now(cast, before)
    assert "older figures" not in client.get(compared_before).content.decode()
    second = record_repeats(cast, 5, seed=400)
    client.post(
        f"/horses/{second.horse}/check-me/result/", {"version": second.versions, "marks_again": "yes"}
    )
    figures = client.get("/check-me/").content.decode()
    assert "In use: own repeats" in figures
    # Two exercises together are enough, and what is compared from now on names them.
    later = record_story(cast)
    made = client.get(compared(cast, later.horse, later.versions)).content.decode()
    assert "times the stated errors of Fitter Invented" in made
    one = BackVersion.objects.select_related("back__made_by").get(uuid=later.versions[0])
    (used,) = readied(cast.actors["fitter"], [one])
    assert used.figure is not None
    assert len(used.figure.exercises) == 2
    _goes_by_own_errors(cast, one, used.figure)
    _says_it_rests_on_older_figures(cast, compared_before, "version")
    _says_it_rests_on_older_figures(cast, judged_before, "back")
    anew = parse_document(
        ThenAndNowDocument, Comparison.objects.filter(kind="then_and_now").latest("id").document, ""
    )
    own = ErrorsUsed(
        whose="Fitter Invented with " + used.figure.instrument, times=round(used.figure.own.applied, 6)
    )
    assert anew.own_errors == (own, own)
    # Withdrawing a back takes its exercise out of the figures.
    assert figures.count("5 repeats") == 2
    services.withdraw(cast.actors["fitter"], Subject.BACK, _back_of(second.versions[0]))
    assert client.get("/check-me/").content.decode().count("5 repeats") == 1


def judged_then_and_now(cast: Cast, story: Story, tries: int = 0) -> str:
    """Judge an invented saddle on a story's days, and return the page's address."""
    actor = cast.actors["fitter"]
    saddle = services.take_on_saddle(actor, {"label": "Invented narrow", "family": "panelled"})
    measured = services.record_saddle(actor, saddle.uuid, documents()[1])
    made = judge_then_and_now(
        actor,
        uuids.UUID(story.horse),
        backs=[uuids.UUID(one) for one in story.versions],
        saddles=[measured.version.uuid],
        request=StudyRequest(rider=Rider(mass_kg=70.0), draws=tries),
    )
    return f"/then-and-now/{made.uuid}/"


def _says_it_rests_on_older_figures(cast: Cast, address: str, field: str) -> None:
    """A comparison of before an exercise says so, and is worked out again with what is in use today."""
    page = cast.browser("fitter").get(address).content.decode()
    assert "It rests on older figures." in page
    assert re.search(r"then [^;]+; now own repeats, [\d.]+ times what the instrument states", page)
    assert 'action="' not in cast.browser("reader").get(address).content.decode().split('id="again"')[1][:900]
    asked = page.split('id="again"')[1].split("</form>")[0]
    action = re.search(r'action="([^"]+)"', asked)
    assert action
    hidden: dict[str, list[str]] = {}
    for name, value in re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]+)"', asked):
        hidden.setdefault(name, []).append(value)
    assert len(hidden[field]) == 2
    answer = cast.browser("fitter").post(action[1], hidden)
    assert answer.status_code == 302, answer.content.decode()
    if answer["Location"].startswith("/jobs/"):
        do_waiting()
        job = Job.objects.latest("id")
        assert job.state == "done", job.said
        again = job.leads_to
    else:
        again = answer["Location"]
    assert again != address
    anew = cast.browser("reader").get(again).content.decode()
    assert "older figures" not in anew
    assert "times the stated errors of Fitter Invented" in anew
    # The earlier one stays as it was made.
    assert "It rests on older figures." in cast.browser("reader").get(address).content.decode()


def _goes_by_own_errors(cast: Cast, version: BackVersion, figure: Figure) -> None:
    """A fit check says whose errors it went by; made again, and planned from, it goes by the same."""
    actor = cast.actors["fitter"]
    _, saddle_text = documents()
    saddle = uuids.UUID(cast.here[Subject.SADDLE])
    measured = services.record_saddle(actor, saddle, saddle_text, seen=services_current(cast, "fitter"))
    request = StudyRequest(rider=Rider(mass_kg=70.0), draws=8)
    document = services.compute_check(
        actor, request, back_version=version.uuid, saddle_version=measured.version.uuid
    )
    own = parse_document(StudyDocument, document.text, "check").inputs.own_errors
    assert own == ErrorsUsed(
        whose="Fitter Invented with " + figure.instrument, times=round(figure.own.applied, 6)
    )
    stated = estimate_of(version, None)
    ours = estimate_of(version, own)
    wider = np.nanmean(ours.surface.sd_mm) / np.nanmean(stated.surface.sd_mm)
    assert (wider > 1.0) == (own.times > 1.0)
    on_list = wanted_on(actor, version.uuid, Rider(mass_kg=70.0)).estimated
    np.testing.assert_allclose(on_list.surface.sd_mm, ours.surface.sd_mm)
    run = services.record_study(
        actor, document, back_version=version.uuid, saddle_version=measured.version.uuid
    ).version
    assert rerun_check(actor, run).is_same
    page = cast.browser("reader").get(f"/checks/{run.study.uuid}/").content.decode()
    assert "own repeats, Fitter Invented with" in page


def estimate_of(version: BackVersion, own: ErrorsUsed | None) -> EstimatedBack:
    return measured_back(record_of(version), own).estimated


def _back_of(version: str) -> uuids.UUID:
    return BackVersion.objects.get(uuid=version).back.uuid


def test_the_report_for_the_vet_is_a_pdf_in_the_language_chosen(cast: Cast) -> None:
    story = record_story(cast)
    client = cast.browser("reader")
    address = compared(cast, story.horse, story.versions)
    report = client.get(f"{address}report.pdf")
    assert report["Content-Type"] == "application/pdf"
    assert report.content.startswith(b"%PDF")
    german = client.get(f"{address}report.pdf?language=de&paper=us-letter")
    assert german.content.startswith(b"%PDF")
    assert german["ETag"] != report["ETag"]


def test_a_saddle_is_judged_on_the_back_of_every_day(cast: Cast) -> None:
    story = record_story(cast)
    actor = cast.actors["fitter"]
    saddle = services.take_on_saddle(actor, {"label": "Invented narrow", "family": "panelled"})
    services.use_saddle_on(actor, saddle.uuid, [uuids.UUID(story.horse)])
    measured = services.record_saddle(actor, saddle.uuid, documents()[1])
    client = cast.browser("fitter")
    assert "Invented narrow" in client.get(f"/horses/{story.horse}/then-and-now/").content.decode()
    path = f"/horses/{story.horse}/then-and-now/judge/"
    chosen = {"back": story.versions, "saddle": [str(measured.version.uuid)], "rider": "70"}
    for wrong in ({"rider": "many"}, {"rider": "900"}, {"saddle": []}, {"back": []}):
        assert client.post(path, {**chosen, **wrong}).status_code == 422
    asked = client.post(path, {**chosen, "key": str(uuids.uuid4())})
    assert asked["Location"].startswith("/jobs/")
    # The job itself, without the tries that the page asks for: what is looked at is the table.
    made = judge_then_and_now(
        actor,
        uuids.UUID(story.horse),
        backs=[uuids.UUID(one) for one in story.versions],
        saddles=[measured.version.uuid],
        request=StudyRequest(rider=Rider(mass_kg=70.0), draws=0),
    )
    page = client.get(f"/then-and-now/{made.uuid}/").content.decode()
    assert "6 May 2024" in page
    assert "19 May 2025" in page
    assert 'class="verdict' in page
    assert "not for the pads or the flock that it had then" in page
    assert "not varied" in page


def test_repeats_are_held_against_the_tolerance_that_is_stated(cast: Cast) -> None:
    story = record_repeats(cast, 3)
    made = compare_fitters(cast.actors["fitter"], [uuids.UUID(one) for one in story.versions])
    client, path = cast.browser("reader"), f"/check-me/fitters/{made.uuid}/"
    plain = client.get(path).content.decode()
    assert "How good is good enough?" in plain
    assert "Of the tolerance" not in plain
    wide = client.get(path, {"mm": "4000"}).content.decode()
    assert "Of the tolerance" in wide
    assert "and is too coarse for 0." in wide
    narrow = client.get(path, {"mm": "0,5", "deg": "90"}).content.decode()
    assert "Too coarse for the tolerance stated" in narrow
    assert 'value="0,5"' in narrow
    # A number with a tolerance of its own leaves that of all lengths.
    own = client.get(path, {"mm": "0.5", "deg": "90", "of0": "4000"}).content.decode()
    assert own.count("too coarse for it") == narrow.count("too coarse for it") - 1
    bad = client.get(path, {"mm": "much", "deg": "-3"})
    assert bad.status_code == 422
    assert "is no width" in bad.content.decode()
