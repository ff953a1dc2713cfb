"""A back by tape and hand on the phone: read at the horse with no signal, and typed in from a yard card."""

import json
import re

import pytest
from browser_program import BUNDLE, Look, Program, sign_in
from phone_page import begin_back, in_tables, kept_on_phone, ready, sent, start_visit, tap
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser
CARD_DAY, CARD_HOUR = "2026-03-09", "14:20"
CARD_DAY_WORDS = "Mon, 9 Mar 2026"
MARKS = ("-20", "240", "390", "0", "5")
WIDTHS_AND_ANGLES = (
    ("s1r0", ("110", "320", "57", "55")),
    ("s2r0", ("150", "370", "46", "45")),
    ("s3r0", ("180", "410", "40", "38")),
    ("s4r0", ("200", "420", "36", "35")),
    ("s1r1", ("112", "318", "56", "55")),
)
HEIGHTS = ("1530", "1500", "1480", "1490")


@pytest.fixture
def alone(phone: Page) -> Page:
    """The phone's page with everything along, and no server in reach."""
    if not BUNDLE.with_name("phone-app.js").is_file():
        pytest.skip("NO BUNDLE: the phone's page is not looked at in a browser; build it (make bundle)")
    sign_in(phone)
    ready(phone)
    phone.context.set_offline(True)
    return phone


def read_part(page: Page, measuring: str, part: str, numbers: tuple[str, ...]) -> None:
    page.goto(f"{measuring}/part/{part}")
    for number in numbers:
        tap(page, number)
    kept_on_phone(page)


def capture_of(program: Program, measuring: str) -> tuple[str, dict[str, object]]:
    uuid = measuring.rsplit("/", 1)[1].replace("-", "")
    [(day,)] = in_tables(program, "select measured_on from practice_capture where uuid = ?", uuid)
    rows = in_tables(
        program,
        "select field, value from practice_entry"
        " where subject_uuid = ? and outcome = 'saved' and field like 'source/%' order by id",
        uuid,
    )
    return day, {field: json.loads(value) for field, value in rows}


def test_a_back_by_tape_and_hand_with_no_signal_says_how_coarse_it_is(alone: Page, look: Look) -> None:
    start_visit(alone, "Sedge")
    begin_back(alone, "tape-hand", "4", first="0", apart="130")
    measuring = alone.url
    read_part(alone, measuring, "marks", MARKS)
    read_part(alone, measuring, "topline", HEIGHTS)
    alone.goto(f"{measuring}/part/s1r0")
    expect(alone.locator(".pad-words")).to_have_text("Width 30 mm down")
    for digit in "110":
        alone.locator(f'.pad-key[data-key="{digit}"]').tap()
    look(alone, "phone-tape-width")
    alone.locator('.pad-key[data-key="next"]').tap()
    tap(alone, "320")
    expect(alone.locator(".pad-side")).to_have_text("NEAR (left)")
    look(alone, "phone-tape-angle")
    for angle in WIDTHS_AND_ANGLES[0][1][2:]:
        tap(alone, angle)
    kept_on_phone(alone)
    for part, numbers in WIDTHS_AND_ANGLES[1:]:
        read_part(alone, measuring, part, numbers)
    # Four numbers make no curve, and nobody is asked for points that a tape does not give.
    expect(alone.get_by_role("heading", name="Read to its end")).to_be_visible()
    expect(alone.locator(".remarks").first).to_be_empty()
    look(alone, "phone-tape-section-end")
    alone.goto(measuring)
    lead = alone.locator(".verdict-card .lead")
    expect(lead).to_contain_text("enough for a first look, not for an order")
    expect(alone.locator(".verdict-card")).to_contain_text("Section 1, measured twice, differs by")
    look(alone, "phone-tape-verdict")


def test_a_card_is_typed_in_on_the_phone_with_its_day_and_hour(
    alone: Page, program: Program, look: Look
) -> None:
    start_visit(alone, "Rush")
    alone.get_by_role("link", name="Measure the back").tap()
    alone.get_by_label("Instrument").select_option("tape-hand")
    expect(alone.get_by_label("Begun at")).to_be_hidden()
    alone.get_by_label("Typed in from a yard card").check()
    alone.get_by_label("Day on the card").fill("")
    alone.get_by_role("button", name="Begin").tap()
    expect(alone.get_by_text("Write the day that the card has.")).to_be_visible()
    alone.get_by_label("Day on the card").fill(CARD_DAY)
    alone.get_by_label("Begun at").fill(CARD_HOUR)
    look(alone, "phone-card-start")
    alone.get_by_role("button", name="Begin").tap()
    expect(alone.get_by_text(f"from a yard card of {CARD_DAY_WORDS}, begun at {CARD_HOUR}")).to_be_visible()
    look(alone, "phone-card-begun")
    measuring = alone.url
    sent(alone)
    day, held = capture_of(program, measuring)
    assert day == CARD_DAY
    assert (held["source/card"], held["source/begun_at"]) == (True, CARD_HOUR)
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", str(held["source/typed_on"]))


def test_a_measuring_begun_without_the_tick_is_marked_afterwards(
    alone: Page, program: Program, look: Look
) -> None:
    start_visit(alone, "Fescue")
    begin_back(alone, "tape-hand", "4", first="0", apart="130")
    measuring = alone.url
    alone.get_by_text("Typed in from a yard card?").tap()
    alone.get_by_label("Yes", exact=True).check()
    day = alone.get_by_label("Day on the card")
    day.fill(CARD_DAY)
    day.blur()
    line = alone.locator('[data-field="source/measured_on"] .kept-line')
    expect(line).to_contain_text("kept on this phone")
    alone.get_by_label("Begun at").fill(CARD_HOUR)
    alone.get_by_label("Begun at").blur()
    expect(alone.locator('[data-field="source/begun_at"] .kept-line')).to_contain_text("kept on this phone")
    expect(alone.get_by_text(f"from a yard card of {CARD_DAY_WORDS}, begun at {CARD_HOUR}")).to_be_visible()
    look(alone, "phone-card-after")
    alone.reload()
    expect(alone.get_by_text(f"from a yard card of {CARD_DAY_WORDS}, begun at {CARD_HOUR}")).to_be_visible()
    sent(alone)
    at, held = capture_of(program, measuring)
    assert at == CARD_DAY
    assert (held["source/card"], held["source/begun_at"]) == (True, CARD_HOUR)
