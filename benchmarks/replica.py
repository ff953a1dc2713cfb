"""The replica kit of a demo back: each part, and the whole, against what is asked of them.

Asked: templates alone 2 s, the whole kit 15 s. Given are the wall clock and the processor's own time of this
process, which a busy machine disturbs less.
"""

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from saddlebench.demo.day import DAY
from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.yard import YARD
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.replica.proof import prove_rebuild
from saddlebench.engine.replica.settings import settings_for
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.instruments import example_instrument
from saddlebench.report.replica.kit import (
    KitRequest,
    RibRequest,
    SolidRequest,
    TemplateRequest,
    write_kit,
    write_ribs,
    write_settings,
    write_solid,
    write_templates,
)

TEMPLATES_S, KIT_S = 2.0, 15.0


def main() -> None:
    back, other = _back("chain-12x30"), _back("comb-41x10")
    tools = tuple(example_instrument(name) for name in ("comb-24x15-foot", "chain-8-uneven", "curve-mm"))
    print(f"{'wall s':>7} {'own s':>7} {'asked s':>8}  part")
    with tempfile.TemporaryDirectory(prefix="saddlebench-replica-") as name:
        folder = Path(name)
        for tool in tools:
            _timed(
                lambda tool=tool: write_settings(back, settings_for(back.estimated, tool), folder),
                f"settings for {tool.name}",
            )
        _timed(lambda: write_templates(back, TemplateRequest(), folder), "templates, both forms", TEMPLATES_S)
        _timed(lambda: write_ribs(back, RibRequest(), folder), "ribs")
        _timed(lambda: write_solid(back, SolidRequest(), folder), "solid, one piece")
        _timed(lambda: prove_rebuild(back.estimated, other.estimated), "proof")
        _timed(lambda: write_kit(back, folder / "kit", KitRequest(instruments=tools)), "whole kit", KIT_S)


def _back(instrument: str) -> MeasuredBack:
    horse, tool = YARD[0], example_instrument(instrument)
    readings = measured_at(horse.shape, tool, horse.stations_mm, np.random.default_rng(0))
    record = BackRecord(
        label="Bramble (invented)",
        measured_on=DAY,
        instrument=tool,
        readings=readings,
        landmarks=horse.shape.landmarks,
    )
    return measured(record)


def _timed(work: Callable[[], object], what: str, asked_s: float | None = None) -> None:
    wall, own = time.perf_counter(), time.process_time()
    work()
    wall, own = time.perf_counter() - wall, time.process_time() - own
    print(f"{wall:7.2f} {own:7.2f} {'' if asked_s is None else f'{asked_s:.0f}':>8}  {what}")
