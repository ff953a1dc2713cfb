"""Pieces of the page that goes with a pack: every text escaped, every word of the program's own told."""

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from pathlib import Path

from saddlebench.exchange.vocabulary import said

Files = Mapping[str, bytes | Path]


def read(files: Files, name: str) -> str:
    """Return a file of a pack as text."""
    content = files[name]
    return (content.read_bytes() if isinstance(content, Path) else content).decode("utf-8")


def rows(facts: Iterable[tuple[str, object]]) -> str:
    """Return facts as a table of two columns; names are the program's, values as written."""
    told = "".join(
        f'<tr><th scope="row">{escape(said(name))}</th><td>{escape(str(value))}</td></tr>'
        for name, value in facts
        if value not in ("", None)
    )
    return f'<div class="wide"><table>{told}</table></div>' if told else ""


def table(heads: Sequence[str], lines: Iterable[Sequence[str]]) -> str:
    """Return a table with heads of the program's own."""
    head = "".join(f'<th scope="col">{escape(said(one))}</th>' for one in heads)
    body = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + "</tr>" for cells in lines
    )
    return f'<div class="wide"><table><tr>{head}</tr>{body}</table></div>'


def link(file: str, words: str) -> str:
    """Return a link to a file of the pack."""
    return f'<a href="{escape(file)}">{escape(words)}</a>'


def listed(words: Iterable[str]) -> str:
    """Return a list; its lines are markup already."""
    told = "".join(f"<li>{one}</li>" for one in words)
    return f"<ul>{told}</ul>" if told else ""
