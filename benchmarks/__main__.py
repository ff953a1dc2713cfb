"""Run every benchmark and print its table: `make bench`, or `python -m benchmarks settle` for one.

What begins with a dash is the benchmark's own: `python -m benchmarks change --only size`.

Times are of this machine and this run; only ratios within one run mean anything elsewhere.
"""

import importlib
import itertools
import pkgutil
import platform
import sys
from pathlib import Path

import benchmarks


def main(given: list[str]) -> int:
    """Run the named benchmarks, or all of them."""
    wanted = list(itertools.takewhile(lambda one: not one.startswith("-"), given))
    if wanted[1:] and len(wanted) < len(given):
        print("options are one benchmark's: name one", file=sys.stderr)
        return 2
    names = sorted(m.name for m in pkgutil.iter_modules([str(Path(benchmarks.__file__).parent)]))
    names = [n for n in names if not n.startswith("_")]
    unknown = sorted(set(wanted) - set(names))
    if unknown:
        print(f"no such benchmark: {', '.join(unknown)}; there are: {', '.join(names)}", file=sys.stderr)
        return 2
    print(f"Python {platform.python_version()}, {platform.machine()}, {platform.system()}")
    for name in wanted or names:
        print(f"\n## {name}\n", flush=True)
        importlib.import_module(f"benchmarks.{name}").main()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
