"""A fit check of a scanned saddle against the one of the saddle that was played.

The oracle is the invented saddle itself, by its exact numbers, lumps and all. A tape knows nothing of lumps
and is some millimetres out; a scan of the upturned saddle, 1 mm of noise, must say what the saddle itself
says: no verdict that is sure on either side may be another sure verdict on the other.
"""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
import trimesh

from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.saddles import BADLY_FLOCKED, TOO_NARROW
from saddlebench.demo.yard import YARD
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.findings import Finding, Verdict
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.study import FitStudy, StudyInputs
from saddlebench.engine.fit.verdicts import PressureGuide
from saddlebench.engine.saddle.numbers import PanelledNumbers, model_from_numbers
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.units import Length
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.job import StudyRequest, study_of
from saddlebench.exchange.saddles.scanned import saddle_from_scan
from support.upturned import underside_of, upturned

BRAMBLE = next(horse for horse in YARD if horse.name == "Bramble")
INPUTS = StudyInputs(back_label="b", back_version="0" * 64, saddle_label="s", saddle_version="0" * 64)
REQUEST = StudyRequest(rider=Rider(mass_kg=BRAMBLE.rider_kg), draws=24)


@pytest.fixture(scope="module")
def back() -> MeasuredBack:
    tool = example_instrument(BRAMBLE.instrument)
    readings = measured_at(BRAMBLE.shape, tool, BRAMBLE.stations_mm, np.random.default_rng(11))
    record = BackRecord(
        label="Bramble",
        measured_on=dt.date(2026, 5, 14),
        instrument=tool,
        readings=readings,
        landmarks=BRAMBLE.shape.landmarks,
    )
    return measured(record)


def _by_tape(numbers: PanelledNumbers) -> PanelledNumbers:
    panel = numbers.panel
    front, waist, rear = panel.channel_mm
    taped = replace(panel, length_mm=panel.length_mm - 5.0, channel_mm=(front + 3.0, waist - 2.0, rear + 2.0))
    return replace(numbers, panel=taped, lumps=())


def _study(back: MeasuredBack, saddle: SaddleRecord) -> FitStudy:
    study = study_of(back, saddle, REQUEST, inputs=INPUTS)
    assert isinstance(study, FitStudy)
    return study


@pytest.fixture(scope="module", params=[BADLY_FLOCKED, TOO_NARROW], ids=["badly flocked", "too narrow"])
def found_and_true(
    request: pytest.FixtureRequest, back: MeasuredBack, tmp_path_factory: pytest.TempPathFactory
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """Findings of the scanned saddle, and of the very saddle that was played."""
    numbers: PanelledNumbers = request.param
    played = upturned(underside_of(model_from_numbers(numbers, 2000)), 3, noise_mm=1.0, holes=5)
    path = tmp_path_factory.mktemp("scan") / "saddle.ply"
    trimesh.Trimesh(played.vertices, played.faces, process=False).export(path)
    exact = replace(BRAMBLE.saddle, label=numbers.label, numbers=numbers)
    scanned = saddle_from_scan(replace(exact, numbers=_by_tape(numbers)), path, Length.MM)
    return _study(back, scanned.record).findings, _study(back, exact).findings


def test_scan_and_saddle_never_say_sure_verdicts_that_differ(
    found_and_true: tuple[tuple[Finding, ...], tuple[Finding, ...]],
) -> None:
    found, true = found_and_true
    assert len(found) == len(true) > 20
    # Pressures at the trot's peak only rank: no confidence is tried of them, so none of them is sure.
    pairs = [
        (one, other)
        for one, other in zip(found, true, strict=True)
        if Verdict.CANNOT_TELL not in (one.verdict, other.verdict)
        and not isinstance(one.confidence, Undetermined)
    ]
    # Lumps make some pressures doubtful on either side: those are no contradiction.
    assert len(pairs) >= 12
    differ = [
        (one.name.value, one.side.value, one.verdict.value, other.verdict.value)
        for one, other in pairs
        if one.verdict is not other.verdict
    ]
    assert differ == []


def test_scan_and_saddle_press_alike_at_every_third(
    found_and_true: tuple[tuple[Finding, ...], tuple[Finding, ...]],
) -> None:
    """One scan has a hole at the rear outer corner: a panel that ended before it pressed 40 kPa, not 29."""
    found, true = (_greatest_kpa(findings) for findings in found_and_true)
    assert set(found) == set(true) == {"front", "middle", "rear"}
    for part, kpa in true.items():
        assert found[part] == pytest.approx(kpa, rel=0.12), part


def _greatest_kpa(findings: tuple[Finding, ...]) -> dict[str, float]:
    (peak,) = [one for one in findings if one.name is FindingName.PRESSURE_PEAK]
    by_third = {}
    for one in peak.all_judged:
        assert isinstance(one.limit, PressureGuide)
        assert isinstance(one.measure, Measure)
        by_third[one.limit.measure.part.value] = one.measure.value
    return by_third
