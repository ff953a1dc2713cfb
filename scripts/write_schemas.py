"""Write the published JSON Schemas from the models that read the files; --check fails where one is stale."""

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from saddlebench.exchange.backsheets import sheet_schema

EXCHANGE = Path(__file__).resolve().parent.parent / "src" / "saddlebench" / "exchange"
SCHEMAS: dict[str, Callable[[], dict[str, Any]]] = {
    "backsheets/backsheet.schema.json": sheet_schema,
}


def main(arguments: list[str]) -> int:
    """Write or check every schema."""
    stale = []
    for name, make in SCHEMAS.items():
        path = EXCHANGE / name
        text = json.dumps(make(), ensure_ascii=False, indent=2) + "\n"
        if arguments == ["--check"]:
            if not path.is_file() or path.read_text(encoding="utf-8") != text:
                stale.append(name)
        else:
            path.write_text(text, encoding="utf-8")
    print(
        "stale, run scripts/write_schemas.py: " + ", ".join(stale)
        if stale
        else f"{len(SCHEMAS)} schemas current"
    )
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
