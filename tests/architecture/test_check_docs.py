"""The check of the documentation's links finds what is broken, and the documentation itself is whole."""

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).resolve().parents[2] / "scripts" / "check_docs.py"


@pytest.fixture
def check() -> ModuleType:
    spec = importlib.util.spec_from_file_location("check_docs", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_documentation_is_whole(check: ModuleType) -> None:
    assert len(check.pages()) > 100
    assert list(check.problems()) == []


def test_what_is_broken_is_found(check: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "docs" / "decisions").mkdir(parents=True)
    (tmp_path / "docs" / "decisions" / "0001.md").write_text("# One\n")
    (tmp_path / "docs" / "lonely.md").write_text("# Lonely\n\n```\n[not read](nowhere.md)\n```\n")
    (tmp_path / "docs" / "page.md").write_text("# A page, “quoted”\n")
    (tmp_path / "CHANGELOG.md").write_text("See `docs/gone.md`, [elsewhere](https://example.org).\n")
    (tmp_path / "README.md").write_text(
        "[here](docs/page.md#a-page-quoted) [not](docs/page.md#a-page) [none](docs/none.md)\n"
    )
    monkeypatch.setattr(check, "ROOT", tmp_path)
    assert sorted(check.problems()) == [
        "CHANGELOG.md: there is no docs/gone.md",
        "README.md: docs/page.md#a-page has no such heading",
        "README.md: there is no docs/none.md",
        "docs/lonely.md: no other page links to it",
    ]
