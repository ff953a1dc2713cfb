"""The reference page of findings is made from the table of limits, and is up to date."""

import runpy
from pathlib import Path

from saddlebench.engine.fit.criteria import FindingName

REPOSITORY = Path(__file__).resolve().parents[3]


def test_page_is_what_the_criteria_table_says():
    made = runpy.run_path(str(REPOSITORY / "scripts" / "write_findings.py"))
    page = (REPOSITORY / "docs" / "reference" / "findings.md").read_text(encoding="utf-8")
    assert page == made["page"]()
    headings = [line[3:] for line in page.splitlines() if line.startswith("## ")]
    assert headings == [name.value for name in FindingName]
