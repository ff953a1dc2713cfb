"""Signed out, cut off or killed in the middle: nothing typed is lost, and the page says what was saved."""

import re

import pytest
from browser_program import OWNER, PASSWORD, Look, Program, context_of, follow, sign_in
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser
SAVED = re.compile(r"saved at \d\d:\d\d")


def open_horse(page: Page, rest: str = "") -> None:
    page.goto("/horses/?q=juniper")
    follow(page, page.get_by_role("link", name=re.compile("Juniper")))
    page.goto(page.url + rest)


def sign_in_again(page: Page) -> None:
    dialog = page.get_by_role("dialog")
    expect(dialog).to_be_visible()
    dialog.get_by_label("E-mail").fill(OWNER)
    dialog.get_by_label("Password").fill(PASSWORD)
    dialog.get_by_role("button", name="Sign in and go on").click()
    expect(dialog).to_be_hidden()


def test_a_field_saves_itself_through_signing_in_again_and_a_kill(
    phone: Page, program: Program, look: Look
) -> None:
    sign_in(phone)
    open_horse(phone, "edit/")
    breed, colour, note = (phone.get_by_label(one) for one in ("Breed", "Colour and marks", "Note"))
    breed.fill("Connemara")
    breed.blur()
    expect(phone.locator("#field-breed").get_by_text(SAVED)).to_be_visible()

    # Signed out meanwhile: the dialog opens over the page, and the same entry is sent again.
    phone.context.clear_cookies(name="saddlebench_session")
    colour.fill("dun")
    colour.blur()
    expect(phone.get_by_role("dialog")).to_be_visible()
    look(phone, "sign-in-again")
    sign_in_again(phone)
    expect(phone.locator("#field-colour").get_by_text(SAVED)).to_be_visible()

    # Killed and started again: what was called saved is there, and the open page goes on.
    program.kill()
    program.start()
    note.fill("Shy of the comb.")
    note.blur()
    expect(phone.locator("#field-note").get_by_text(SAVED)).to_be_visible()
    look(phone, "edit-horse-saved")
    phone.reload()
    expect(phone.get_by_label("Breed")).to_have_value("Connemara")
    expect(phone.get_by_label("Colour and marks")).to_have_value("dun")
    expect(phone.get_by_label("Note")).to_have_value("Shy of the comb.")


def test_two_people_in_one_field_are_both_shown(laptop: Page, phone: Page, look: Look) -> None:
    for page, email in ((laptop, OWNER), (phone, "fitter@tussock.example")):
        sign_in(page, email)
        open_horse(page, "edit/")
    for page, text in ((laptop, "Showing"), (phone, "Hacking")):
        page.get_by_label("Discipline").fill(text)
        page.get_by_label("Discipline").blur()
        expect(page.locator("#field-discipline .about p").last).to_be_visible()
    expect(phone.get_by_text("Orla Invented entered “Showing”")).to_be_visible()
    expect(phone.get_by_label("Discipline")).to_have_value("Hacking")
    look(phone, "edit-horse-both")


def test_a_form_not_yet_sent_is_offered_back_after_a_reload(laptop: Page) -> None:
    sign_in(laptop)
    laptop.goto("/people/new/")
    laptop.get_by_label(re.compile("^Name")).fill("Half Written")
    laptop.get_by_label("Town").fill("Dunmoor")
    laptop.reload()
    expect(laptop.get_by_text(re.compile(r"Typed here at \d\d:\d\d and not saved"))).to_be_visible()
    laptop.get_by_role("button", name="Put it back").click()
    expect(laptop.get_by_label(re.compile("^Name"))).to_have_value("Half Written")
    laptop.get_by_role("button", name="Save").last.click()
    expect(laptop.get_by_role("heading", name="Half Written")).to_be_visible()
    laptop.goto("/people/new/")
    expect(laptop.get_by_text("and not saved")).to_have_count(0)


def test_without_script_every_step_still_works(laptop: Page, program: Program) -> None:
    browser = laptop.context.browser
    assert browser is not None
    context = context_of(browser, program.url, java_script_enabled=False)
    page = context.new_page()
    sign_in(page)
    page.goto("/horses/new/")
    page.get_by_label(re.compile("^Name")).fill("Plain")
    page.get_by_label("Find: owner or client").fill("wilma")
    page.get_by_role("button", name="Find").nth(1).click()
    page.get_by_role("radio", name=re.compile("^Wilma Fernlea,")).check()
    page.get_by_role("button", name="Save").last.click()
    expect(page.get_by_role("heading", name="Plain")).to_be_visible()
    page.get_by_role("button", name="Withdraw").click()
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("heading", name="Plain")).to_be_visible()
    page.locator(".me summary").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    context.close()


def test_the_keyboard_alone_takes_on_a_client(laptop: Page) -> None:
    sign_in(laptop)
    laptop.goto("/people/new/")
    laptop.keyboard.press("Tab")
    expect(laptop.get_by_text("To the content")).to_be_focused()
    laptop.get_by_label(re.compile("^Name")).focus()
    laptop.keyboard.type("Key Board")
    laptop.keyboard.press("Enter")
    expect(laptop.get_by_role("heading", name="Key Board")).to_be_visible()
