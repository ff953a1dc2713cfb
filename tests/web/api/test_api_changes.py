"""Changes, trends and hands checked for other programs: asked, watched, fetched."""

import uuid as uuids
from urllib.parse import urlencode

import pytest
from api_cast import caller
from change_cast import record_repeats, record_story
from web_cast import Cast, do_waiting

from saddlebench.practice.models import BackNumbers


def test_two_records_are_compared_and_fetched_with_their_pictures(cast: Cast) -> None:
    story = record_story(cast)
    program = caller(cast, "fitter")
    listed = program.send("GET", f"horses/{story.horse}/comparables").json()
    assert [one["version"] for one in listed["backs"]] == list(reversed(story.versions))
    name = str(uuids.uuid4())
    body = {"uuid": name, "horse": story.horse, "versions": list(story.versions)}
    made = program.send("POST", "changes", body)
    assert made.status_code == 201, made.content.decode()
    assert made.json()["uuid"] == name
    assert "The back has changed in" in made.json()["result"]["headline"]
    assert program.send("POST", "changes", body).json()["uuid"] == name
    fetched = caller(cast, "reader").send("GET", f"changes/{name}").json()
    assert fetched["result"]["compared"]["patches"]
    assert fetched["backs"][0]["figure"] is None
    assert (fetched["older_figures"], fetched["photos"]) == ([], [])
    picture = program.send("GET", f"changes/{name}/pictures/map")
    assert picture["Content-Type"] == "image/svg+xml"
    assert program.send("GET", f"changes/{name}/report").content.startswith(b"%PDF")
    for path in ("", "/pictures/map", "/report"):
        assert caller(cast, "other").send("GET", f"changes/{name}{path}").status_code == 404
    # Asked again with nothing changed since, the same is given; a record that was withdrawn is named.
    again = program.send("POST", f"changes/{name}/again", {})
    assert (again.status_code, again.json()["uuid"]) == (201, name)
    assert caller(cast, "other").send("POST", f"changes/{name}/again", {}).status_code == 404
    one = program.send("POST", "changes", {"horse": story.horse, "versions": [story.versions[0]]})
    assert one.status_code == 422
    theirs = caller(cast, "other").send("POST", "changes", {**body, "uuid": str(uuids.uuid4())})
    assert theirs.status_code == 404


def test_a_trend_says_what_is_not_in_numbers_until_a_job_has_worked_it_out(cast: Cast) -> None:
    story = record_story(cast, (0, 3, 6))
    program = caller(cast, "fitter")
    before = program.send("GET", f"horses/{story.horse}/trend").json()
    assert (before["visits"], len(before["missing"]), before["trends"]) == (0, 3, [])
    job = program.send("POST", f"horses/{story.horse}/numbers", {})
    assert job.status_code == 202
    do_waiting()
    after = program.send("GET", f"horses/{story.horse}/trend?kept=young").json()
    assert after["visits"] == 3
    assert after["look_again"]["reasons"][0].startswith("Common practice for a horse that is young")
    assert {"what", "points", "overall"} <= set(after["trends"][0])
    assert after["older_figures"] == []
    # Where other errors were in use than today, that is said until all is put into numbers anew.
    for row in BackNumbers.objects.filter(horse__uuid=story.horse):
        row.numbers |= {"figure": "own repeats were in use then", "times": 0.7}
        row.save()
    older = program.send("GET", f"horses/{story.horse}/trend").json()["older_figures"]
    assert len(older) == 3
    assert older[0]["then"] == "own repeats, 0.70 times what the instrument states"
    assert older[0]["now"] == "the errors that the instrument states"
    page = cast.browser("fitter").get(f"/horses/{story.horse}/trend/").content.decode()
    assert page.count("It rests on older figures.") == 1
    assert "Put them into numbers anew" in page
    reader = cast.browser("reader").get(f"/horses/{story.horse}/trend/").content.decode()
    assert "It rests on older figures." in reader
    assert "Put them into numbers anew" not in reader
    assert program.send("POST", f"horses/{story.horse}/numbers", {"again": True}).status_code == 202
    do_waiting()
    assert program.send("GET", f"horses/{story.horse}/trend").json()["older_figures"] == []
    assert "older figures" not in cast.browser("fitter").get(f"/horses/{story.horse}/trend/").content.decode()


def test_a_hand_is_checked_and_its_figure_told(cast: Cast) -> None:
    story = record_repeats(cast, 3)
    program = caller(cast, "fitter")
    assert program.send("GET", "own-figures").json() == []
    made = program.send("POST", "hand-checks", {"horse": story.horse, "versions": list(story.versions)})
    assert made.status_code == 201, made.content.decode()
    name = made.json()["uuid"]
    assert made.json()["result"]["sentences"]
    assert program.send("POST", f"hand-checks/{name}/again").json()["uuid"] == name
    assert program.send("GET", f"hand-checks/{name}").json()["result"] == made.json()["result"]
    (figure,) = program.send("GET", "own-figures").json()
    assert figure["exercises"] == [name]
    assert figure["fitter"] == "Fitter Invented"
    assert caller(cast, "other").send("GET", f"hand-checks/{name}").status_code == 404
    assert caller(cast, "other").send("GET", "own-figures").json() == []


def test_fitters_are_compared_beside_and_their_repeats_told(cast: Cast) -> None:
    story = record_repeats(cast, 3)
    program = caller(cast, "fitter")
    (day,) = program.send("GET", "repeat-days").json()
    assert day["horse"]["uuid"] == story.horse
    assert sorted(day["versions"]) == sorted(story.versions)
    asked = program.send("POST", "fitter-comparisons", {"versions": day["versions"]})
    assert asked.status_code == 202, asked.content.decode()
    do_waiting()
    name = asked.json()["uuid"]
    told = program.send("GET", f"fitter-comparisons/{name}").json()["result"]
    assert told["repeats"] == 3
    assert told["sentences"]
    assert all(one["of_tolerance"] is None for one in told["numbers"])
    asked = f"fitter-comparisons/{name}?tolerance=mm%3D4000&tolerance=withers+width%3D0%2C5"
    numbers = program.send("GET", asked).json()["result"]["numbers"]
    width = next(one for one in numbers if one["what"] == "withers width")
    sd = (width["reproducibility"] or width["repeatability"])["standard_deviation"]
    assert width["of_tolerance"] == pytest.approx(6.0 * sd / 0.5)
    assert all(one["tolerance"] == 4000.0 for one in numbers if one["unit"] == "mm" and one is not width)
    for wrong, said in (("mm", "does not say what it is for"), ("mm=-1", "no width"), ("tail=3", "tail")):
        refused = program.send("GET", f"fitter-comparisons/{name}?{urlencode({'tolerance': wrong})}")
        assert refused.status_code == 422
        assert said in refused.content.decode()
    again = program.send("POST", f"fitter-comparisons/{name}/again", {})
    assert again.status_code == 202
    assert caller(cast, "other").send("POST", f"fitter-comparisons/{name}/again", {}).status_code == 404
    picture = program.send("GET", f"fitter-comparisons/{name}/picture")
    assert picture["Content-Type"] == "image/svg+xml"
    assert program.send("POST", "fitter-comparisons", {"versions": []}).status_code == 422
    other = caller(cast, "other")
    assert other.send("GET", f"fitter-comparisons/{name}").status_code == 404
    assert other.send("GET", "repeat-days").json() == []


def test_saddles_then_and_now_refuse_too_many_before_they_wait(cast: Cast) -> None:
    story = record_story(cast, (0,))
    body = {"horse": story.horse, "back_versions": [], "saddle_versions": [], "rider_kg": 70}
    refused = caller(cast, "fitter").send("POST", "then-and-now", body)
    assert refused.status_code == 422
    assert "no back is chosen" in refused.content.decode()
