"""A phone whose browser is killed by its process's id while numbers are being keyed in, and started again."""

import os
import random
import signal
import time
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from browser_program import OWNER, PASSWORD, PATIENT_MS, QUIET, Program, sign_in
from phone_page import begin_back, in_tables, journal, kept_on_phone, ready, sent, start_visit, tap
from playwright.sync_api import BrowserContext, Error, Page, Playwright, expect, sync_playwright

READINGS_A_ROUND, SECTIONS = 3, 10
"""Fifty killings key in up to two hundred readings; ten sections hold 240."""


@dataclass
class Round:
    """One killing."""

    killed: int = 0
    """The process that was ended."""
    acknowledged: dict[str, float] = field(default_factory=dict)
    """By reading: what the page had said to be kept when the browser was killed."""
    lost: dict[str, float] = field(default_factory=dict)
    """Those of them that are not there afterwards."""
    sent_once: bool = False


def kill_and_look(chromium: str, program: Program, profile: Path, kills: int, seed: int = 3) -> list[Round]:
    """Key readings in, kill the browser in the middle of one, and look what is there: again and again."""
    dice, rounds = random.Random(seed), []  # noqa: S311
    acknowledged: dict[str, float] = {}
    with sync_playwright() as playwright:
        context = started(playwright, chromium, program, profile)
        page = context.pages[0]
        sign_in(page)
        ready(page)
        context.set_offline(True)
        start_visit(page, "Mallow")
        begin_back(page, count=str(SECTIONS))
        address = page.url
        for _ in range(kills):
            one = Round()
            _key_in(page, address, acknowledged, dice)
            one.killed = kill(profile)
            with suppress(Error):
                context.close()
            one.acknowledged = dict(acknowledged)
            context = started(playwright, chromium, program, profile)
            context.set_offline(True)
            page = context.pages[0]
            page.goto("/phone/")
            expect(page.locator(".bar-line strong")).to_contain_text("not sent")
            there = {row["field"]: row["value"] for row in journal(page) if row["kind"] == "reading"}
            one.lost = {name: value for name, value in acknowledged.items() if there.get(name) != value}
            rounds.append(one)
        context.set_offline(False)
        # What a browser had not yet written of its cookies is lost with it: the journal is not.
        sign_in_again(page)
        sent(page)
        rounds[-1].sent_once = _is_sent_once(program, acknowledged)
        context.close()
    return rounds


def started(playwright: Playwright, chromium: str, program: Program, profile: Path) -> BrowserContext:
    """Start a phone's browser whose profile outlives it."""
    context = playwright.chromium.launch_persistent_context(
        str(profile),
        executable_path=chromium,
        args=list(QUIET),
        viewport={"width": 390, "height": 844},
        is_mobile=True,
        has_touch=True,
        base_url=program.url,
    )
    context.set_default_timeout(PATIENT_MS)
    return context


def _key_in(page: Page, address: str, acknowledged: dict[str, float], dice: random.Random) -> None:
    """Key readings in; the last one is left in the middle: pressed, and not waited for."""
    page.goto(address)
    page.get_by_role("link", name="Go on:").or_(
        page.locator(".row-link", has_text="Section 1")
    ).last.wait_for()
    section = len(acknowledged) // READINGS_A_ROUND % SECTIONS + 1
    page.goto(f"{address}/part/s{section}r0")
    for _ in range(READINGS_A_ROUND):
        # What was being keyed in at the killing stands there again, said to be so: it is taken back.
        while page.locator(".pad-number:not(.empty)").count():
            page.locator('.pad-key[data-key="back"]').tap()
        value = dice.randrange(10, 300) / 10
        side = page.locator(".pad-side").inner_text().split(" ")[0].lower()
        joint = page.locator(".pad-words").inner_text().split(" ")[-1]
        tap(page, str(value))
        kept_on_phone(page)
        acknowledged[f"s{section}r0/{side}/{joint}"] = value
    with suppress(Error):
        page.locator('.pad-key[data-key="1"]').tap()
        page.locator('.pad-key[data-key="next"]').tap(no_wait_after=True)
        time.sleep(dice.random() * 0.02)


def kill(profile: Path) -> int:
    """End the browser of this profile, and nothing else, by its process's id; return the id."""
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        with suppress(OSError):
            words = (entry / "cmdline").read_bytes().split(b"\0")
            is_mine = f"--user-data-dir={profile}".encode() in words
            if is_mine and not any(word.startswith(b"--type=") for word in words):
                os.kill(int(entry.name), signal.SIGKILL)
                time.sleep(0.3)
                return int(entry.name)
    return 0


def sign_in_again(page: Page) -> None:
    """Sign in, if the killed browser forgot that it was."""
    page.goto("/sign-in/?next=/phone/")
    if page.get_by_label("Password").count():
        page.get_by_label("E-mail").fill(OWNER)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url("**/phone/")
    page.goto("/phone/")


def _is_sent_once(program: Program, acknowledged: dict[str, float]) -> bool:
    keys = in_tables(program, "select count(*), count(distinct key) from practice_entry")
    named = in_tables(program, "select distinct field from practice_entry where outcome = 'saved'")
    return keys[0][0] == keys[0][1] and set(acknowledged) <= {name for (name,) in named}
