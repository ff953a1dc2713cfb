"""Write docs/reference/commands.md from the commands' own help; --check fails where it is stale."""

import sys
from collections.abc import Iterator
from pathlib import Path

from typer.core import TyperCommand, TyperGroup
from typer.main import get_command

from saddlebench.cli.app import app

PAGE = Path(__file__).resolve().parent.parent / "docs" / "reference" / "commands.md"
WIDTH = 100
HEAD = """# Commands

Made from the commands' own help by `scripts/write_commands.py`. Results go to standard output, words and progress to
standard error; [JSON output](json-output.md) is described on its own page.
"""


def helps(command: TyperCommand | TyperGroup, words: str) -> Iterator[tuple[str, str]]:
    """Yield every command's words and its help, groups before their members."""
    context = command.make_context(
        words, [], resilient_parsing=True, max_content_width=WIDTH, terminal_width=WIDTH
    )
    yield words, command.get_help(context).strip()
    if isinstance(command, TyperGroup):
        for name in sorted(command.commands):
            yield from helps(command.commands[name], f"{words} {name}")


def page() -> str:
    """Return the page's text."""
    parts = [HEAD]
    for words, text in helps(get_command(app), "saddlebench"):
        tidy = "\n".join(line.rstrip() for line in text.splitlines())
        parts.append(f"## {words}\n\n```text\n{tidy}\n```\n")
    return "\n".join(parts)


def main(arguments: list[str]) -> int:
    """Write or check the page."""
    if arguments == ["--check"]:
        is_current = PAGE.is_file() and PAGE.read_text(encoding="utf-8") == page()
        print("commands page is current" if is_current else "stale: run scripts/write_commands.py")
        return 0 if is_current else 1
    PAGE.write_text(page(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
