"""Check the documentation's links: every target and heading is there, and every page is linked from another.

Run without arguments; prints what is wrong, and fails if anything is. Code blocks are not read.
"""

import re
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
NAMED = re.compile(r"`(docs/[\w\-/]+\.md)`")
FENCED = re.compile(r"```.*?```", re.DOTALL)
HEADING = re.compile(r"^#+ (.*)$", re.MULTILINE)


def pages() -> list[Path]:
    """Return every page of the documentation, the README and the changelog."""
    return [*sorted((ROOT / "docs").rglob("*.md")), ROOT / "README.md", ROOT / "CHANGELOG.md"]


def anchor_of(heading: str) -> str:
    """Return the anchor that a heading gets when Markdown is shown as a page."""
    plain = re.sub(r"[^\w\- ]", "", heading.strip().lower())
    return plain.replace(" ", "-")


def anchors_of(page: Path) -> set[str]:
    """Return the anchors of a page's headings."""
    return {anchor_of(one) for one in HEADING.findall(FENCED.sub("", page.read_text(encoding="utf-8")))}


def targets_of(page: Path) -> Iterator[tuple[str, Path, str]]:
    """Return what a page links to: as written, the file, the heading; addresses elsewhere are left out."""
    text = FENCED.sub("", page.read_text(encoding="utf-8"))
    for link in LINK.findall(text):
        if not re.match(r"[a-z]+:", link):
            name, _, anchor = link.partition("#")
            yield link, (page.parent / name).resolve() if name else page, anchor
    for name in NAMED.findall(text):
        yield name, ROOT / name, ""


def problems() -> Iterator[str]:
    """Return what is wrong, one sentence each."""
    linked: set[Path] = set()
    for page in pages():
        here = page.relative_to(ROOT)
        for link, target, anchor in targets_of(page):
            if not target.exists():
                yield f"{here}: there is no {link}"
            elif anchor and target.suffix == ".md" and anchor not in anchors_of(target):
                yield f"{here}: {link} has no such heading"
            if target != page:
                linked.add(target)
    for page in pages():
        # The folder of decisions is linked as a whole.
        if page not in linked and page.parent.name not in {"decisions", ROOT.name}:
            yield f"{page.relative_to(ROOT)}: no other page links to it"


def main() -> int:
    """Print what is wrong; return 1 if anything is."""
    found = list(problems())
    for one in found:
        print(one)
    return int(bool(found))


if __name__ == "__main__":
    sys.exit(main())
