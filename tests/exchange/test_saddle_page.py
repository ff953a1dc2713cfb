"""The page of saddle numbers describes every key of a saddle file, and its example is read."""

import re
from pathlib import Path
from typing import Any

import pytest

from saddlebench.engine.saddle.bars import BarNumbers, ForkNumbers
from saddlebench.engine.saddle.fittings import MassNumbers, SeatNumbers, StirrupNumbers
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.panels import PanelNumbers
from saddlebench.engine.saddle.record import model_of
from saddlebench.exchange.saddles import read_saddle, saddle_schema

PAGE = (Path(__file__).parents[2] / "docs" / "reference" / "saddle-numbers.md").read_text(encoding="utf-8")
SCHEMA = saddle_schema()
PLACES = {"front", "waist", "seat", "rear", "middle"}


def keys(table: str) -> set[str]:
    properties: dict[str, Any] = SCHEMA["$defs"][table]["properties"]
    return set(properties) - PLACES


@pytest.mark.parametrize(
    "table", sorted(name for name in SCHEMA["$defs"] if "properties" in SCHEMA["$defs"][name])
)
def test_every_key_is_described(table: str) -> None:
    spoken = set(
        re.findall(r"[a-z_]+", " ".join(re.findall(r"`[^`]+`|```toml.*?```", PAGE, flags=re.DOTALL)))
    )
    # Names, words and materials' own numbers need no measuring.
    free = {"serial", "notes", "label", "hardening_mm", "ln_sd", "source", "thickness_mm"}
    assert keys(table) - spoken - free == set()


def test_the_example_is_read_and_makes_a_saddle(tmp_path: Path) -> None:
    example = re.search(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL)
    assert example is not None
    path = tmp_path / "saddle.toml"
    path.write_text(example[1], encoding="utf-8")
    model = model_of(read_saddle(path), 500)
    assert isinstance(model, SaddleModel)
    assert model.label == "Invented all-round saddle"


def test_usual_values_on_the_page_are_the_engine_s() -> None:
    panel, seat, stirrups, mass = PanelNumbers(), SeatNumbers(), StirrupNumbers(), MassNumbers()
    bar, fork = BarNumbers(), ForkNumbers()
    rows = {
        "length": [panel.length_mm],
        "channel": panel.channel_mm,
        "channel_depth": panel.channel_depth_mm,
        "width": panel.width_mm,
        "angle": panel.angle_deg,
        "rear_rise": [panel.rear_rise_mm],
        "tail_sweep": [panel.tail_sweep_mm],
        "rounding": [panel.rounding_mm],
        "front_corner`, `rear_corner": (panel.front_corner_mm, panel.rear_corner_mm),
        "seat.lowest_behind": [seat.lowest_behind_mm],
        "seat.above_roof": [seat.above_roof_mm],
        "seat.front_behind`, `seat.rear_behind": (seat.front_behind_mm, seat.rear_behind_mm),
        "seat.pommel_rise`, `seat.cantle_rise": (seat.pommel_rise_mm, seat.cantle_rise_mm),
        "stirrups.behind`, `stirrups.apart`, `stirrups.above_roof": (
            stirrups.behind_mm,
            stirrups.apart_mm,
            stirrups.above_roof_mm,
        ),
        "mass.mass": [mass.mass_kg],
        "mass.behind`, `mass.above_roof": (mass.behind_mm, mass.above_roof_mm),
        "bar.length`, `bar.width": (bar.length_mm, *bar.width_mm),
        "bar.spread": bar.spread_mm,
        "bar.angle": bar.angle_deg,
        "bar.rocker": bar.rocker_mm,
        "bar.flare`, `bar.flare_length": (*bar.flare_mm, bar.flare_length_mm),
        "fork.height`, `fork.behind": (fork.height_mm, fork.behind_mm),
        "fork.roof": fork.roof_mm,
    }
    panels = PAGE[PAGE.index("## Panels") :]
    for key, values in rows.items():
        row = re.search(rf"^\| `{re.escape(key)}` \|.*\|([^|]*)\|$", panels, flags=re.MULTILINE)
        assert row is not None, key
        assert [float(number) for number in re.findall(r"[\d.]+", row[1])] == list(values), key
