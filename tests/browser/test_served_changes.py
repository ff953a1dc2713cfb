"""What changed on the served demo: a story that a vet could check, and silence where nothing changed."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_program import Look, Program, context_of, follow, free_port
from playwright.sync_api import Page, expect

from saddlebench.demo.two_years import (
    FOLDER,
    STORIES,
    write_repeats,
    write_same_back_again,
    write_visits,
)
from saddlebench.demo.yard import YARD

pytestmark = pytest.mark.browser
TRAINED, GROWN = STORIES
VISITS = (0, 3, 6, 9, 12, 15, 17)
"""Trained until the tenth, then rested for four months, then trained again."""


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The trained horse's records as the demo's job writes them, some visits of them; the rest stands in."""
    folder = tmp_path_factory.mktemp("yard")
    names = {"back": "back record", "saddle": "saddle record", "fit": "fit check"}
    for horse in YARD:
        (folder / horse.slug).mkdir()
        for file, name in names.items():
            record = {"format": f"saddlebench {name}", "version": 1, "label": horse.name}
            (folder / horse.slug / f"{file}.json").write_text(json.dumps(record), encoding="utf-8")
    held = folder / FOLDER / TRAINED.name.lower()
    held.mkdir(parents=True)
    write_visits(TRAINED, held, 0, VISITS, lambda _k: None)
    write_same_back_again(TRAINED, held, 0)
    write_repeats(TRAINED, held, 0)
    growing = folder / FOLDER / GROWN.name.lower()
    growing.mkdir()
    write_visits(GROWN, growing, 1, (0, 9), lambda _k: None)
    write_same_back_again(GROWN, growing, 1)
    return folder


@pytest.fixture(scope="module")
def program(yard: Path) -> Iterator[Program]:
    more = ("--demo", "--demo-folder", str(yard))
    running = Program(home=yard / "elsewhere", port=free_port(), more=more)
    running.start()
    yield running
    running.kill()


def enter(page: Page, program: Program) -> None:
    printed = re.search(
        r"Sign in as (\S+) with the throw-away password (\S+)", program.log.read_text(encoding="utf-8")
    )
    assert printed
    page.goto("/")
    page.get_by_label("E-mail").fill(printed[1])
    page.get_by_label("Password").fill(printed[2])
    follow(page, page.get_by_role("button", name="Sign in"))


def records_of(page: Page, horse: str) -> None:
    page.goto(f"/horses/?q={horse.replace(' ', '+')}")
    page.locator("main .rows a").filter(has_text=horse).first.click()
    page.get_by_role("link", name="What changed").click()


def compare(page: Page, days: tuple[str, ...]) -> None:
    for box in page.locator("input[name=version]").all():
        box.uncheck()
    for day in days:
        page.locator("label.pick").filter(has_text=day).first.locator("input").check()
    page.get_by_role("button", name="Compare").click()
    page.wait_for_url("**/changes/*/")


def test_a_year_of_training_is_told_with_what_is_not_known(phone: Page, program: Program, look: Look) -> None:
    enter(phone, program)
    records_of(phone, TRAINED.label)
    look(phone, "changed-records")
    compare(phone, ("6 May 2024", "19 May 2025"))
    expect(phone.locator("#answer")).to_contain_text("The back has changed in")
    # The muscle beside the spine was built some 240 mm behind the mark, on both sides.
    patches = phone.locator(".patches li").all_inner_texts()
    assert any("fuller" in one for one in patches), patches
    assert all("less" not in one for one in patches), patches
    places = [int(found[1]) for one in patches if (found := re.search(r"(\d+).mm behind the shoulder", one))]
    assert all(80 <= one <= 420 for one in places), patches
    assert all("in 95 of 100 cases" in one for one in patches), patches
    expect(phone.locator("#cannot")).to_contain_text("Less than that may have happened unseen")
    expect(phone.locator("#cannot")).to_contain_text("A wide change, fading over some")
    expect(phone.locator(".cautions")).to_contain_text("not a diagnosis")
    expect(phone.locator("#made-of")).to_contain_text("To lie on the earlier record")
    look(phone, "changed-training")
    # The same page for whoever reads German.
    browser = phone.context.browser
    assert browser is not None
    signed_in = phone.context.storage_state()
    context = context_of(browser, program.url, locale="de-DE", storage_state=signed_in)
    german = context.new_page()
    german.goto(phone.url)
    expect(german.locator("html")).to_have_attribute("lang", "de")
    expect(german.locator("#answer")).to_contain_text("Der Rücken hat sich")
    expect(german.locator("#cannot")).to_contain_text("Weniger kann unbemerkt geschehen sein")
    expect(german.locator(".cautions")).to_contain_text("keine Diagnose")
    context.close()


def test_four_months_of_rest_are_told_as_a_loss_in_the_same_place(
    laptop: Page, program: Program, look: Look
) -> None:
    enter(laptop, program)
    records_of(laptop, TRAINED.label)
    compare(laptop, ("19 May 2025", "22 Sep 2025"))
    expect(laptop.locator("#answer")).to_contain_text("The back has changed in")
    patches = laptop.locator(".patches li").all_inner_texts()
    assert patches
    assert all("less" in one for one in patches), patches
    places = [int(found[1]) for one in patches if (found := re.search(r"(\d+).mm behind the shoulder", one))]
    assert all(80 <= one <= 420 for one in places), patches
    expect(laptop.locator(".cautions")).to_contain_text("the veterinary surgeon")
    look(laptop, "changed-rest")


def test_a_growth_spurt_is_told_where_the_young_horse_grew(phone: Page, program: Program, look: Look) -> None:
    enter(phone, program)
    records_of(phone, GROWN.label)
    phone.get_by_role("button", name="Compare").click()
    phone.wait_for_url("**/changes/*/")
    expect(phone.locator("#answer")).to_contain_text("The back has changed in")
    patches = phone.locator(".patches li").all_inner_texts()
    # Nothing of the young horse shrank.
    assert all("fuller" in one for one in patches), patches
    expect(phone.locator(".cautions")).to_contain_text("against what surrounds it")
    expect(phone.locator("#cannot")).to_contain_text("Less than that may have happened unseen")
    look(phone, "changed-growth")


@pytest.mark.parametrize("name", [TRAINED.label, GROWN.label])
def test_the_same_back_with_fresh_errors_stays_silent(
    laptop: Page, program: Program, look: Look, name: str
) -> None:
    enter(laptop, program)
    records_of(laptop, f"{name}: measured twice")
    laptop.get_by_role("button", name="Compare").click()
    laptop.wait_for_url("**/changes/*/")
    expect(laptop.locator("#answer")).to_have_text("No change can be told from measuring error.")
    assert laptop.locator(".patches li").count() == 0
    assert "◆" not in laptop.locator("main").inner_text()
    look(laptop, f"changed-silent-{name.split(maxsplit=1)[0].lower()}")


def test_the_section_follows_the_slider(laptop: Page, program: Program) -> None:
    enter(laptop, program)
    records_of(laptop, TRAINED.label)
    compare(laptop, ("6 May 2024", "19 May 2025"))
    laptop.locator("#in-s").fill("300")
    expect(laptop.locator("[data-at]")).to_have_text("300 mm")
    expect(laptop.locator("[data-section]")).to_have_attribute("alt", re.compile("300 mm behind"))


def test_the_trend_says_when_to_look_again_and_the_diary_takes_it(
    phone: Page, program: Program, look: Look
) -> None:
    enter(phone, program)
    records_of(phone, TRAINED.label)
    follow(phone, phone.get_by_role("link", name="Trend"))
    work = phone.get_by_role("button", name="Work them out")
    if work.is_visible():
        work.click()
    expect(phone.locator("#again")).to_contain_text("Common practice for a horse that is")
    expect(phone.locator("main")).to_contain_text("Repeats of a day left out: 2.")
    # Built up in training, lost in the rest: first to last alone would hide it.
    moved = phone.locator("#moved li").filter(has_text="Lowest: width 30 mm below the midline")
    expect(moved).to_contain_text("2025 +")
    expect(phone.get_by_role("img", name="The numbers that moved")).to_have_js_property(
        "complete", value=True
    )
    look(phone, "trend")
    phone.get_by_role("button", name="Put it in the diary").click()
    expect(phone.locator("#said")).to_contain_text("In the diary: look again by")


def test_a_hand_is_checked_by_its_repeats(phone: Page, program: Program, look: Look) -> None:
    enter(phone, program)
    records_of(phone, TRAINED.label)
    phone.get_by_role("link", name="Check me").click()
    expect(phone.locator("main")).to_contain_text("3 repeats")
    look(phone, "check-me")
    phone.get_by_role("button", name="How good am I?").click()
    phone.wait_for_url("**/check-me/*/")
    expect(phone.locator("#answer")).to_contain_text("Over the whole back your repeats scatter")
    look(phone, "check-me-result")
    phone.goto("/check-me/")
    look(phone, "check-me-figures")
    phone.get_by_role("link", name="Compare fitters and instruments").click()
    expect(phone.get_by_role("checkbox").first).to_be_checked()
    look(phone, "fitters-choose")
    phone.get_by_role("button", name="Compare them").click()
    phone.wait_for_url("**/check-me/fitters/*/")
    expect(phone.locator(".answer")).to_contain_text("twice by the same fitter: within")
    expect(phone.get_by_role("img", name="Every number: how far two readings lie apart")).to_be_visible()
    look(phone, "fitters")
