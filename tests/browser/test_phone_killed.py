"""The browser killed in the middle of an entry, as a flat battery does: what was said to be kept is there.

The benchmark `benchmarks.phone` does the same fifty times.
"""

from pathlib import Path

import pytest
from browser_program import BUNDLE, Program
from phone_killing import kill_and_look

pytestmark = pytest.mark.browser
KILLS = 2


def test_every_reading_that_was_said_to_be_kept_is_there(
    chromium: str, program: Program, tmp_path: Path
) -> None:
    if not BUNDLE.with_name("phone-app.js").is_file():
        pytest.skip("NO BUNDLE: the phone's page is not looked at in a browser; build it (make bundle)")
    rounds = kill_and_look(chromium, program, tmp_path / "phone", KILLS)
    assert len(rounds) == KILLS
    for one in rounds:
        assert one.killed > 0
        assert one.acknowledged
        assert one.lost == {}
    assert rounds[-1].sent_once
