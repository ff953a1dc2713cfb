"""One page to look at what the demo made: plain HTML beside the pictures, no script, no network."""

from collections.abc import Sequence
from html import escape
from pathlib import Path

from saddlebench.demo.day import HorseDone
from saddlebench.demo.two_years import StoryDone
from saddlebench.engine.errors import Undetermined
from saddlebench.exchange.change_words import headline, sentences
from saddlebench.exchange.phrases import SCREENING_NOTE, SYMBOLS, number_of, sorted_worst_first, title_of
from saddlebench.exchange.whole_file import write_whole

_STYLE = """
body { font: 16px/1.5 system-ui, sans-serif; color: #1d2730; background: #fff }
body { margin: 0 auto; padding: 1rem; max-width: 70rem }
h1 { font-size: 1.5rem } h2 { font-size: 1.2rem; margin: 0 0 .25rem }
article { border-top: 1px solid #c4ccd4; padding: 1.25rem 0 }
img { width: 100%; height: auto; border: 1px solid #dde3e8 }
ul { padding-left: 1.2rem; margin: .5rem 0 } li { margin: .15rem 0 }
a { color: #0b5394; display: inline-block; padding: .7rem 1rem .7rem 0; min-height: 1.2rem }
.story, .quality { margin: .25rem 0 }
@media (min-width: 60rem) { .side-by-side { display: grid; grid-template-columns: 1fr 2fr; gap: 1.5rem } }
"""
WORST = 6


def write_page(done: Sequence[HorseDone], path: Path, stories: Sequence[StoryDone] = ()) -> None:
    """Write the page beside the horses' folders."""
    articles = "\n".join(
        [
            *(_article(one, path.parent) for one in done),
            *(_two_years(one, path.parent) for one in stories),
        ]
    )
    text = f"""<!DOCTYPE html>
<html lang="en">
<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>The invented yard</title><style>{_STYLE}</style></head>
<body>
<h1>The invented yard</h1>
<p>No horse, person or saddle on this page exists. {escape(SCREENING_NOTE)}</p>
{articles}
</body>
</html>
"""
    write_whole(path, text.encode("utf-8"))


def _article(done: HorseDone, root: Path) -> str:
    folder = done.folder.relative_to(root).as_posix()
    head = f"<h2>{escape(done.horse.name)}</h2><p class=story>{escape(done.horse.story)}</p>"
    quality = f"<p class=quality>Back record: {escape(done.quality.words)}.</p>"
    if isinstance(done.fit, Undetermined):
        return f"<article>{head}{quality}<p><strong>{escape(done.fit.reason)}</strong></p></article>"
    items = "".join(
        f"<li>{SYMBOLS[f.verdict]} {escape(title_of(f))}: <strong>{f.verdict}</strong>, "
        f"{escape(number_of(f.decided_by.measure))}</li>"
        for f in sorted_worst_first(done.fit.findings)[:WORST]
    )
    pair = escape(f"{done.fit.saddle} on {done.horse.name}")
    document = done.document.relative_to(root).as_posix() if done.document else ""
    picture = f"{folder}/pictures/overview.png"
    links = "".join(
        f"<a href='{target}'>{words}</a>"
        for target, words in (
            (document, "Report for the owner (PDF)"),
            (document.replace(".pdf", "-workshop.pdf"), "Report for the workshop (PDF)"),
            (f"{folder}/pictures/sections.svg", "Sections"),
            (f"{folder}/pictures/plan.svg", "Plan"),
            (f"{folder}/pictures/side.svg", "Side view"),
            (f"{folder}/pictures/load.svg", "Load along the panels"),
            (f"{folder}/pictures/findings.svg", "All findings"),
            *_order_links(done, folder),
            *_kit_links(done, root),
        )
    )
    count = f"<p>The worst of {len(done.fit.findings)} findings:</p>"
    image = f"<img src='{picture}' alt='{pair}: back, saddle, sections and worst findings'>"
    return (
        f"<article><div class=side-by-side><div>{head}{quality}{count}<ul>{items}</ul><p>{links}</p></div>"
        f"<div><a href='{picture}'>{image}</a></div></div></article>"
    )


def _two_years(done: StoryDone, root: Path) -> str:
    folder = done.folder.relative_to(root).as_posix()
    said = sentences(done.study)
    items = "".join(f"<li>{escape(sentence)}</li>" for sentence in said[1:])
    again = f"The first back measured twice, nothing changed: {headline(done.again)}"
    links = "".join(
        f"<a href='{folder}/pictures/{name}.svg'>{words}</a>"
        for name, words in (("change-sections", "Sections of both days"), ("change-numbers", "By how much"))
    )
    picture = f"{folder}/pictures/change-map.svg"
    image = f"<img src='{picture}' alt='{escape(done.story.name)}: map of what changed'>"
    return (
        f"<article><div class=side-by-side><div><h2>{escape(done.story.name)}, over the years</h2>"
        f"<p class=story>{escape(done.story.words)}</p><p><strong>{escape(said[0])}</strong></p>"
        f"<ul>{items}</ul><p>{escape(again)}</p><p>{links}</p></div>"
        f"<div><a href='{picture}'>{image}</a></div></div></article>"
    )


def _kit_links(done: HorseDone, root: Path) -> tuple[tuple[str, str], ...]:
    if done.kit is None:
        return ()
    kit = done.kit.folder.relative_to(root).as_posix()
    return (
        (f"{kit}/READ-ME-FIRST.txt", "Replica kit: settings, templates, ribs, solid"),
        (f"{kit}/templates/templates-hollow-a4.pdf", "Templates at true size"),
        (f"{kit}/{done.kit.check_sheet.name}", escape(f"A rebuild, checked: {done.kit.said}")),
    )


def _order_links(done: HorseDone, folder: str) -> tuple[tuple[str, str], ...]:
    if done.plan is None or isinstance(done.plan, Undetermined):
        return ()
    return (
        (f"{folder}/{done.plan.sheet.name}", "Work order for the saddler"),
        (f"{folder}/pictures/underside.svg", "Underside on the bench"),
        (f"{folder}/pictures/before-and-after.svg", "Pressure before and after"),
    )
