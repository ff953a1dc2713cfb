"""Write docs/reference/api.md from the interface's own description; --check fails where it is stale."""

import os
import sys
import tempfile
from pathlib import Path

PAGE = Path(__file__).resolve().parent.parent / "docs" / "reference" / "api.md"
HEAD = """# Program interface

Made from the interface's own description by `scripts/write_interface.py`. The description itself, with every field of what
goes in and out, is `/api/v1/openapi.json` (OpenAPI 3.1) on any server; [how to use it](../how-to/use-the-api.md).

- **Token.** `Authorization: Bearer …` with every request; cookies are not looked at. A token acts for its maker within a role,
  and in that maker's practice alone. What each address asks of the role stands in the last column.
- **Twice is once.** What makes a record takes a `uuid` that the caller chooses; what enters values takes a `key`. Sent again,
  the same is answered (200 instead of 201), and nothing is made twice.
- **Two at once.** Values carry the revision they were decided on (`seen`). What somebody else changed since is answered
  409 with both values (`held`), and everything else that was sent is saved (`saved`). A further version of a record says
  which version it follows; where another came first, both are kept and told (`mine`, `theirs`), and one is chosen.
- **Documents** of backs, saddles and fit checks are the [record files](../reference/json-output.md) of the commands
  (`saddlebench schema`), taken and given byte for byte; their ETag is their SHA-256.
- **Lists** come fifty rows a page (`page`, with `pages` and `total` in the answer). Every answer has an ETag;
  `If-None-Match` is answered 304 where nothing changed.
- **Limits.** {limit} requests a minute with one token; JSON bodies to 4 MB, tables to 5 MB, records to 32 MB, films to
  150 MB. Beyond: 429 with Retry-After, 413.
- **Not here**: accounts, passwords, members, tokens, backups. A token cannot make itself stronger.

## What can be done
"""
PROBLEMS = """
## When it cannot be done

The answer is `application/problem+json` (RFC 9457): `type`, `title`, `status`, `detail`; for wrong input also `problems`, each
with `what`, `cure`, `weight`, `where` (file, row, field, station, side), as the commands print them.

| type | status | means |
| --- | --- | --- |
"""


def page() -> str:
    """Return the page's text."""
    os.environ["SADDLEBENCH_HOME"] = tempfile.mkdtemp(prefix="saddlebench-interface-")
    os.environ["DJANGO_SETTINGS_MODULE"] = "saddlebench.web.settings"
    # Nothing of it can be imported before Django is bound to a folder.
    from saddlebench.practice.start import set_up  # noqa: PLC0415

    set_up()
    from saddlebench.practice.enums import Action  # noqa: PLC0415
    from saddlebench.practice.phrases import words_of  # noqa: PLC0415
    from saddlebench.web.api.interface import MOST_A_MINUTE, description  # noqa: PLC0415
    from saddlebench.web.api.problems import KINDS  # noqa: PLC0415

    groups: dict[str, list[str]] = {}
    for path, methods in description()["paths"].items():
        for method, one in methods.items():
            words, needs = " ".join(one["description"].split()), words_of(Action(one["x-action"]))
            row = f"| {method.upper()} | `{path.removeprefix('/api/v1')}` | {words} | {needs} |"
            groups.setdefault(one["tags"][0], []).append(row)
    parts = [HEAD.format(limit=f"{MOST_A_MINUTE:,}")]
    for name, rows in groups.items():
        head = f"### {name.capitalize()}\n\n| method | address below `/api/v1` | what | needs |\n| --- | --- | --- | --- |"
        parts.append("\n".join([head, *rows]) + "\n")
    kinds = [f"| `{one.name}` | {one.status.value} | {one.means} |" for one in KINDS]
    return "\n".join(parts) + PROBLEMS + "\n".join(kinds) + "\n"


def main(arguments: list[str]) -> int:
    """Write or check the page."""
    if arguments == ["--check"]:
        is_current = PAGE.is_file() and PAGE.read_text(encoding="utf-8") == page()
        print("interface page is current" if is_current else "stale: run scripts/write_interface.py")
        return 0 if is_current else 1
    PAGE.write_text(page(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
