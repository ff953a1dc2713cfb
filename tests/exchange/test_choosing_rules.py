"""A practice's own weights, sizes and hard limits: read, refused, written and read again."""

from pathlib import Path

import pytest

from saddlebench.engine.choose import DEFAULT_LIMITS, CostRules
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.exchange.shop.rules import ChoosingRules, choosing_text, read_choosing


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "our.choosing.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_what_is_stated_counts_and_the_rest_stays_default(tmp_path: Path) -> None:
    held = read_choosing(
        written(
            tmp_path,
            'practice = "Fernlea"\nversion = "2026-03"\n[weights]\n"rocking" = 5\n"channel width" = 0\n'
            "[altering]\narch_set = 2.5\n[limits]\nwidth_mm = 22\n[sizes]\nseat_most_in = 0.5\n",
        )
    )
    weights, usual = held.rules.weights, CostRules()
    assert weights[FindingName.ROCKING] == 5.0
    assert weights[FindingName.CHANNEL_WIDTH] == 0.0
    assert weights[FindingName.WITHERS_TOP] == usual.weights[FindingName.WITHERS_TOP]
    assert (held.rules.arch_set, held.rules.flock_changed) == (2.5, usual.flock_changed)
    assert (held.limits.width_mm, held.limits.sizes.seat_most_in) == (22.0, 0.5)
    assert held.limits.past_last_rib_mm == DEFAULT_LIMITS.past_last_rib_mm
    assert held.rules.owner == held.limits.source == "Fernlea, version 2026-03"
    assert "Fernlea, version 2026-03" in held.rules.words[-1]


def test_the_defaults_written_and_read_again_are_the_defaults(tmp_path: Path) -> None:
    held = read_choosing(written(tmp_path, choosing_text(ChoosingRules(), 'A "quoted" yard', "1")))
    assert dict(held.rules.weights) == dict(CostRules().weights)
    assert held.rules.owner == 'A "quoted" yard, version 1'
    assert held.limits.width_mm == DEFAULT_LIMITS.width_mm
    assert held.limits.sizes.seats == DEFAULT_LIMITS.sizes.seats


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ('practice = "A"\n', "version"),
        ('practice = "A"\nversion = "1"\n[weights]\n"rocking" = -1\n', "weights"),
        ('practice = "A"\nversion = "1"\n[weights]\n"rocking" = nan\n', "weights"),
        ('practice = "A"\nversion = "1"\n[weights]\n"colour" = 1\n', "weights"),
        ('practice = "A"\nversion = "1"\n[limits]\nwidth_mm = 5000\n', "limits"),
        ('practice = "A"\nversion = "1"\n[limits]\nheight_mm = 5\n', "limits"),
    ],
)
def test_what_cannot_be_is_told_by_its_field(tmp_path: Path, text: str, field: str) -> None:
    with pytest.raises(InputProblemsError) as raised:
        read_choosing(written(tmp_path, text))
    assert (raised.value.problems[0].where.field or "").startswith(field)
