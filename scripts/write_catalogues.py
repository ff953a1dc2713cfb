"""Compile the catalogues of messages, .po to .mo, with GNU gettext's msgfmt; it also checks placeholders.

Run without arguments to write; with --check to fail if a compiled catalogue is out of date.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent.parent / "src" / "saddlebench"
FOLDERS = (PACKAGE / "exchange" / "locale", PACKAGE / "web" / "locale")


def main() -> int:
    """Compile every catalogue, or look whether that was done."""
    msgfmt = shutil.which("msgfmt")
    if msgfmt is None:
        sys.stderr.write("msgfmt is missing: install GNU gettext.\n")
        return 2
    stale = []
    for source in sorted(one for folder in FOLDERS for one in folder.glob("*/LC_MESSAGES/*.po")):
        target = source.with_suffix(".mo")
        with tempfile.TemporaryDirectory() as folder:
            made = Path(folder) / target.name
            subprocess.run([msgfmt, "--check-format", "-o", made, source], check=True)
            if target.is_file() and target.read_bytes() == made.read_bytes():
                continue
            stale.append(target)
            if "--check" not in sys.argv:
                shutil.copyfile(made, target)
    for one in stale:
        print(f"{'out of date' if '--check' in sys.argv else 'written'}: {one}")
    return int(bool(stale) and "--check" in sys.argv)


if __name__ == "__main__":
    sys.exit(main())
