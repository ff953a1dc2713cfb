"""One of the yard's backs rebuilt elsewhere: its kit, and a rebuild with a mistake, found by measuring."""

from dataclasses import dataclass, replace
from pathlib import Path

from saddlebench.engine.back.readings import BackReadings, StationReadings
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.replica.proof import RebuildProof, prove_rebuild
from saddlebench.engine.replica.settings import settings_for
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.whole_file import write_whole
from saddlebench.report.replica.kit import KitRequest, write_kit
from saddlebench.report.replica.proof import ProofNames, headline, proof_pdf

REBUILT_ON = "comb-24x15-foot"
WRONG_STATION, WRONG_BY_MM = 6, 12.0
"""The near side of this station was set so much too high."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KitTold:
    """What came of rebuilding a back."""

    folder: Path
    check_sheet: Path
    said: str
    """The check sheet's verdict."""


def rebuilt_elsewhere(back: MeasuredBack, folder: Path) -> KitTold:
    """Write a back's kit, and the check sheet of a rebuild of it on another instrument."""
    tools = tuple(example_instrument(name) for name in (REBUILT_ON, "chain-8-uneven"))
    write_kit(back, folder, KitRequest(instruments=tools))
    proof, names = _proved(back)
    sheet = folder / "rebuild-check-sheet.pdf"
    write_whole(sheet, proof_pdf(proof, back.estimated, names))
    return KitTold(folder=folder, check_sheet=sheet, said=headline(proof))


def _proved(back: MeasuredBack) -> tuple[RebuildProof, ProofNames]:
    tool = example_instrument(REBUILT_ON)
    asked = settings_for(back.estimated, tool).readings
    record = BackRecord(
        label=f"{back.record.label}, rebuilt",
        measured_on=back.record.measured_on,
        instrument=tool,
        readings=replace(asked, stations=tuple(_as_set(asked))),
        landmarks=back.record.landmarks,
    )
    names = ProofNames(
        original=back.record.label,
        original_day=back.record.measured_on,
        replica=record.label,
        replica_day=record.measured_on,
        instrument=tool.name,
    )
    return prove_rebuild(back.estimated, measured(record).estimated), names


def _as_set(asked: BackReadings) -> list[StationReadings]:
    set_stations = []
    for one in asked.stations:
        if not isinstance(one, StationReadings):
            continue
        left = one.left
        if one.number == WRONG_STATION:
            left = tuple(None if reading is None else max(reading - WRONG_BY_MM, 0.0) for reading in left)
        set_stations.append(replace(one, left=left))
    return set_stations
