"""The invented horses' two years: told where it happened, silent where one back is measured twice."""

from pathlib import Path

import pytest

from saddlebench.demo.page import write_page
from saddlebench.demo.two_years import REST, STORIES, StoryDone, measured_at_visit
from saddlebench.demo.visits import unchanged
from saddlebench.engine.change.results import ChangeStudy, Comparison
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.study import study_change
from saddlebench.exchange.change_words import NOTHING_TOLD, headline, sentences
from saddlebench.exchange.drawings.change_album import write_change_album

TRAINED, GROWN = STORIES
QUICK = ChangeSettings(simulations=600, draws=64)


def told(story: object, visits: tuple[int, ...]) -> ChangeStudy:
    number = STORIES.index(story)
    return study_change([measured_at_visit(story, k, 100 + number) for k in visits], settings=QUICK)


@pytest.fixture(scope="module")
def training() -> ChangeStudy:
    return told(TRAINED, (0, REST[0]))


def test_a_year_of_training_is_told_on_both_sides(training: ChangeStudy) -> None:
    whole = training.whole
    assert isinstance(whole, Comparison)
    assert all(patch.depth.low > 0.0 for patch in whole.scan.patches[:2])
    assert {patch.from_midline_mm > 0.0 for patch in whole.scan.patches[:2]} == {True, False}


def test_the_rest_is_told_as_a_loss() -> None:
    whole = told(TRAINED, REST).whole
    assert isinstance(whole, Comparison)
    assert whole.scan.patches
    assert all(patch.depth.high < 0.0 for patch in whole.scan.patches[:2])


def test_the_growth_spurt_is_told_of_the_young_one() -> None:
    whole = told(GROWN, (0, 8)).whole
    assert isinstance(whole, Comparison)
    assert whole.scan.patches[0].depth.low > 0.0


def test_the_same_back_measured_twice_says_nothing() -> None:
    for number, story in enumerate(STORIES):
        backs = [measured_at_visit(story, k, 200 + number, unchanged) for k in (0, 8)]
        assert headline(study_change(backs, settings=QUICK)) == NOTHING_TOLD


def test_the_page_shows_map_and_words(training: ChangeStudy, tmp_path: Path) -> None:
    folder = tmp_path / "two-years" / "bracken"
    write_change_album(training, folder / "pictures")
    done = StoryDone(story=TRAINED, folder=folder, study=training, again=training, then_and_now=(), days=())
    write_page([], tmp_path / "index.html", [done])
    page = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert sentences(training)[0] in page
    assert "two-years/bracken/pictures/change-map.svg" in page
    assert (folder / "pictures" / "change-map.svg").is_file()
