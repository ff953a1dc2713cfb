"""Write the published JSON Schemas from the models that read the files; --check fails where one is stale."""

import json
import sys
from pathlib import Path

from saddlebench.exchange.schemas import SCHEMAS

EXCHANGE = Path(__file__).resolve().parent.parent / "src" / "saddlebench" / "exchange"


def main(arguments: list[str]) -> int:
    """Write or check every schema."""
    stale = []
    for published in SCHEMAS.values():
        path = EXCHANGE / published.file
        text = json.dumps(published.make(), ensure_ascii=False, indent=2) + "\n"
        if arguments == ["--check"]:
            if not path.is_file() or path.read_text(encoding="utf-8") != text:
                stale.append(published.file)
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
