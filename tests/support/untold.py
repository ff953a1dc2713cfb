"""Sentences that modules can say, read from their source, and whether each has its German.

What is wrong, what to do, how far long work is; values are stood in for.
"""

import ast
import re
from collections.abc import Iterator
from itertools import product
from pathlib import Path

from django.utils.translation import override

from saddlebench.exchange.retelling import noting_missed
from saddlebench.web.base.spoken import told

SPEAK = {"input_problem", "NotMeasured", "Undetermined", "tell", "say", "_refused", "_wrong"}
STAND_INS = ("3", "near", "withers", "faces", "on the near side", "mm", "Juniper", "")
MOST_VALUES = 3


def said_by(node: ast.expr) -> list[list[str | None]]:
    """Return what an expression can say: parts of text, None where a value stands."""
    match node:
        case ast.Constant(value=str() as text):
            return [[text]]
        case ast.JoinedStr():
            return [[part for value in node.values for part in _part(value)]]
        case ast.IfExp():
            return said_by(node.body) + said_by(node.orelse)
        case _:
            return []


def _part(value: ast.expr) -> list[str | None]:
    if isinstance(value, ast.Constant):
        return [str(value.value)]
    # What is formatted as a number is one.
    return ["3"] if isinstance(value, ast.FormattedValue) and value.format_spec else [None]


def sentences_of(path: Path) -> Iterator[list[str | None]]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for scope in [one for one in ast.walk(tree) if isinstance(one, ast.FunctionDef)]:
        named: dict[str, list[list[str | None]]] = {}
        for one in ast.walk(scope):
            if isinstance(one, ast.Assign) and isinstance(one.targets[0], ast.Name):
                named.setdefault(one.targets[0].id, []).extend(said_by(one.value))
        for call in [one for one in ast.walk(scope) if isinstance(one, ast.Call)]:
            name = getattr(call.func, "id", getattr(call.func, "attr", ""))
            keywords = {"what", "cure", *({"words"} if name == "ask_job" else ())}
            asked = [one.value for one in call.keywords if one.arg in keywords]
            asked += call.args if name in SPEAK or name.endswith("Error") else []
            for one in asked:
                yield from named.get(one.id, []) if isinstance(one, ast.Name) else said_by(one)


def messages_of(path: Path) -> list[str]:
    """Return what a page or a module of pages asks to be translated."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".html":
        whole = re.findall(r'\{% translate "([^"]*)"', text)
        blocks = re.findall(
            r"\{% blocktranslate[^%]*%\}(.*?)\{% endblocktranslate %\}", text, flags=re.DOTALL
        )
        blocks = [one.partition("{% plural %}")[0] for one in blocks]
        # Django doubles what is no placeholder before it looks a message up.
        doubled = [one.replace("%", "%%") for one in (*whole, *blocks)]
        return [re.sub(r"\{\{ (\w+) \}\}", r"%(\1)s", one) for one in doubled]
    called = [one for one in ast.walk(ast.parse(text)) if isinstance(one, ast.Call) and one.args]
    named = [one.args[0] for one in called if getattr(one.func, "id", "") in {"_", "gettext", "ngettext"}]
    return [one.value for one in named if isinstance(one, ast.Constant)]


def plain_words_of(path: Path) -> set[str]:
    """Return the words that stand in a template as they are: between its tags, or in what is read out."""
    text = re.sub(
        r"\{% comment %\}.*?\{% endcomment %\}", "", path.read_text(encoding="utf-8"), flags=re.DOTALL
    )
    read_out = " ".join(re.findall(r'\b(?:aria-label|alt|placeholder|title)="([^"{]+)', text))
    text = re.sub(r"\{% blocktranslate.*?%\}.*?\{% endblocktranslate %\}", "", text, flags=re.DOTALL)
    given = " ".join(re.findall(r'\{% include[^%]*\b(?:words|alt|first|second)="([^"]+)"', text))
    text = re.sub(r"\{[%{#].*?[%}#]\}|<[^>]*>|&\w+;", " ", text, flags=re.DOTALL)
    return set(re.findall(r"[A-Za-z]{3,}", f"{text} {read_out} {given}"))


def has_german(sentence: list[str | None]) -> bool:
    values = sentence.count(None)
    for stood_in in product(STAND_INS, repeat=min(values, MOST_VALUES)):
        waiting = iter(stood_in)
        text = "".join(next(waiting, "3") if part is None else part for part in sentence)
        with override("de"), noting_missed() as missed:
            german = told(text)
        if german != text and missed == []:
            return True
    return False


def untold(path: Path) -> set[str]:
    """Return the sentences of a module that have no German, with dots where values stand."""
    whole = [one for one in sentences_of(path) if len("".join(part or "" for part in one).split()) > 1]
    return {"".join("…" if part is None else part for part in one) for one in whole if not has_german(one)}
