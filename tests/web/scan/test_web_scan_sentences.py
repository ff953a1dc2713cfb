"""Every sentence that can come up from below a scan's pages has its German.

They are read from the source: what is wrong, what to do, how far long work is; values are stood in for.
"""

from pathlib import Path

import pytest

import saddlebench
from support.untold import has_german, sentences_of, untold

SOURCE = Path(saddlebench.__file__).parent
MODULES = (
    *sorted((SOURCE / "engine" / "scan").rglob("*.py")),
    *sorted((SOURCE / "engine" / "back").glob("scan*.py")),
    SOURCE / "engine" / "back" / "posture.py",
    *(one for one in sorted((SOURCE / "exchange" / "scans").glob("*.py")) if one.name != "marks.py"),
    SOURCE / "practice" / "services" / "scans.py",
    *sorted((SOURCE / "web" / "scan").glob("*.py")),
    SOURCE / "web" / "base" / "measured_saddle.py",
)
"""All that speaks on these pages; files of marks are read by commands alone."""


@pytest.mark.parametrize("path", MODULES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_every_sentence_has_its_german(path: Path) -> None:
    assert untold(path) == set()


def test_the_sentences_are_found_and_an_untold_one_would_be() -> None:
    found = [one for path in MODULES for one in sentences_of(path)]
    assert len(found) > 100
    assert ["the points lie in one line"] in found
    assert not has_german(["nobody ever told this ", None, " in German"])
