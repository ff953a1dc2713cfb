"""The phone's pages for somebody who reads German: with the laptop in reach, and from the phone alone."""

import re
from collections.abc import Iterator

import pytest
from browser_program import BUNDLE, Look, Program, context_of, follow, sign_in
from phone_page import IN_CHARGE, tap
from playwright.sync_api import Browser, Page, expect

pytestmark = pytest.mark.browser


@pytest.fixture
def telefon(browser: Browser, program: Program) -> Iterator[Page]:
    if not BUNDLE.with_name("phone-app.js").is_file():
        pytest.skip("NO BUNDLE: the phone's page is not looked at in a browser; build it (make bundle)")
    size = {"width": 390, "height": 844}
    context = context_of(browser, program.url, viewport=size, is_mobile=True, has_touch=True, locale="de-DE")
    page = context.new_page()
    yield page
    context.close()


def test_a_back_is_begun_without_signal_in_german(telefon: Page, look: Look) -> None:
    sign_in(telefon)
    telefon.goto("/phone/")
    telefon.evaluate(IN_CHARGE)
    expect(telefon.locator("html")).to_have_attribute("lang", "de")
    expect(telefon.get_by_role("heading", name="Termine", exact=True)).to_be_visible()
    expect(telefon.locator(".bar-line strong")).to_have_text("Alles ist gesendet")
    look(telefon, "phone-de-today")

    telefon.context.set_offline(True)
    telefon.reload()
    expect(telefon.get_by_role("heading", name="Am Pferd")).to_be_visible()
    telefon.get_by_role("link", name="Einen Termin beginnen").click()
    telefon.get_by_label("Pferd").fill("Sedge")
    look(telefon, "phone-de-start")
    telefon.get_by_role("button", name="Beginnen").click()
    expect(telefon.get_by_role("heading", name="Sedge")).to_be_visible()
    look(telefon, "phone-de-visit")
    follow(telefon, telefon.get_by_role("link", name=re.compile("^✕ Diesen Termin anhalten")))
    look(telefon, "phone-de-stop")
    telefon.go_back()
    telefon.locator("a.row-link").nth(2).click()
    expect(telefon.get_by_role("heading", level=1)).to_be_visible()
    look(telefon, "phone-de-step")
    telefon.go_back()

    follow(telefon, telefon.get_by_role("link", name="Den Rücken vermessen"))
    look(telefon, "phone-de-measure-start")
    telefon.get_by_label("Messgerät").select_option("chain-12x30")
    telefon.get_by_label("Schnitte").fill("3")
    telefon.get_by_role("button", name="Beginnen").click()
    expect(telefon.get_by_role("heading", name="Teile")).to_be_visible()
    expect(telefon.locator(".verdict-card")).to_contain_text("Noch nicht genug, um damit zu arbeiten")
    look(telefon, "phone-de-measure")
    telefon.goto(f"{telefon.url}/part/s1r0")
    expect(telefon.locator(".pad-side")).to_have_text("LINKS")
    tap(telefon, "12,5")
    expect(telefon.locator(".saved-line")).to_contain_text("auf diesem Telefon aufgehoben")
    tap(telefon, "9999")
    expect(telefon.get_by_text("liegt nicht zwischen")).to_be_visible()
    look(telefon, "phone-de-pad")
    telefon.locator('.pad-key[data-key="before"]').tap()

    telefon.goto("/phone/#/unsent")
    expect(telefon.get_by_role("heading", name="Was auf diesem Telefon aufgehoben ist")).to_be_visible()
    look(telefon, "phone-de-unsent")
    telefon.context.set_offline(False)
    telefon.evaluate("window.dispatchEvent(new Event('online'))")
    expect(telefon.locator(".bar-line strong")).to_have_text("Alles ist gesendet")


def test_trusting_and_reading_in_are_german(telefon: Page, look: Look) -> None:
    sign_in(telefon)
    telefon.goto("/phone/read-in/")
    expect(telefon.get_by_role("heading", name="Einlesen, was ein Telefon aufgehoben hat")).to_be_visible()
    look(telefon, "phone-de-read-in")
    telefon.goto("/trust/")
    expect(telefon.locator("html")).to_have_attribute("lang", "de")
    look(telefon, "phone-de-trust")
