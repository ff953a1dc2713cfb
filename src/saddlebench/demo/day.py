"""The whole job on the invented yard: files as kept, records, fit checks, pictures, documents."""

import datetime as dt
import shutil
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from saddlebench.demo.altering import PlanTold, plan_for
from saddlebench.demo.elsewhere import KitTold, rebuilt_elsewhere
from saddlebench.demo.fieldwork import measured_at, scanned
from saddlebench.demo.files import write_marks_file, write_ply, write_saddle_file, write_sheet, write_table
from saddlebench.demo.yard import SCANNED, YARD, InventedHorse
from saddlebench.engine.back.quality import RecordQuality
from saddlebench.engine.back.stance import Stance
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.findings import Finding
from saddlebench.engine.fit.horse import Build, Horse
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange.back_job import MeasuredBack, measured, scan_record, table_record
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.job import StudyRequest, saddle_record, study_files
from saddlebench.exchange.records import write_back, write_saddle, write_study
from saddlebench.exchange.whole_file import write_whole
from saddlebench.report import Letterhead, Setting, owner_report, workshop_report
from saddlebench.report.album import FileType, write_album
from saddlebench.report.findings_json import study_as_json

DAY = dt.date(2026, 5, 14)
"""The yard's day; fixed, so that two runs give the same files."""
STEPS = ("measuring the back", "checking the fit", "drawing", "writing the PDF")
TO_ALTER = "Juno"
"""Whose saddle is badly flocked: she gets a plan and a work order."""
TO_REBUILD = "Bramble"
"""Whose back is rebuilt elsewhere: he gets a kit and a check sheet."""
Told = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class FitJudged:
    """What a fit check said; the check itself lies in its file: a yard of them fills the memory."""

    saddle: str
    findings: tuple[Finding, ...]
    as_json: dict[str, Any]
    """The whole of it for other programs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseDone:
    """What came of one horse."""

    horse: InventedHorse
    folder: Path
    quality: RecordQuality
    fit: FitJudged | Undetermined
    document: Path | None
    plan: PlanTold | Undetermined | None = None
    """For the one whose saddle is to be altered."""
    kit: KitTold | None = None
    """For the one whose back is rebuilt elsewhere."""


def run_day(
    output: Path,
    told: Callable[[InventedHorse], Told],
    *,
    draws: int = 256,
    only: Collection[str] = (),
) -> Iterator[HorseDone]:
    """Run the job on every horse, in turn; a folder of an earlier run is replaced.

    Parameters
    ----------
    output : the folder that everything goes under
    told : gives, for a horse, what is told of its progress
    draws : tries for the confidence
    only : names of the horses to run it on, as they come out among all; empty: all of them
    """
    for number, horse in enumerate(YARD):
        if only and horse.name not in only:
            continue
        folder = output / horse.slug
        if folder.is_dir():
            shutil.rmtree(folder)
        (folder / "as-kept").mkdir(parents=True)
        yield _one(horse, folder, np.random.default_rng(number), told(horse), draws)


def _one(horse: InventedHorse, folder: Path, rng: np.random.Generator, told: Told, draws: int) -> HorseDone:
    told(0, len(STEPS), STEPS[0])
    kept = folder / "as-kept"
    back_path, saddle_path = folder / "back.json", folder / "saddle.json"
    back = _measure(horse, kept, back_path, rng)
    write_saddle_file(horse.saddle, kept / "saddle.json")
    write_saddle(saddle_record(kept / "saddle.json"), saddle_path)
    told(1, len(STEPS), STEPS[1])
    request = StudyRequest(
        rider=Rider(mass_kg=horse.rider_kg),
        horse=Horse(mass_kg=horse.horse_kg, build=_build(horse)),
        draws=draws,
    )
    study = study_files(back_path, saddle_path, request)
    if isinstance(study, Undetermined):
        told(len(STEPS), len(STEPS), "done")
        return HorseDone(horse=horse, folder=folder, quality=back.quality, fit=study, document=None)
    write_study(study, folder / "fit.json")
    told(2, len(STEPS), STEPS[2])
    write_album(study, folder / "pictures", [FileType.PNG, FileType.SVG])
    told(3, len(STEPS), STEPS[3])
    document = folder / f"{horse.slug}.pdf"
    _reports(study, document, folder / f"{horse.slug}-workshop.pdf")
    plan = plan_for(back, study, request, folder, DAY) if horse.name == TO_ALTER else None
    kit = rebuilt_elsewhere(back, folder / "kit") if horse.name == TO_REBUILD else None
    told(4, len(STEPS), "done")
    judged = FitJudged(saddle=study.saddle.label, findings=study.findings, as_json=study_as_json(study))
    return HorseDone(
        horse=horse, folder=folder, quality=back.quality, fit=judged, document=document, plan=plan, kit=kit
    )


def _reports(study: FitStudy, for_owner: Path, for_workshop: Path) -> None:
    setting = Setting(letterhead=Letterhead(name="Invented Saddlery (demo)"))
    write_whole(for_owner, owner_report(study, setting))
    write_whole(for_workshop, workshop_report(study, setting))


def _measure(horse: InventedHorse, kept: Path, back_path: Path, rng: np.random.Generator) -> MeasuredBack:
    label = f"{horse.name} (invented)"
    if horse.instrument == SCANNED:
        write_ply(*scanned(horse.shape, rng), kept / "scan.ply")
        write_marks_file(kept / "marks.toml", horse=label, day=DAY, shape=horse.shape)
        from_scan = scan_record(kept / "scan.ply", kept / "marks.toml")
        write_back(from_scan.record, back_path, scan_file=from_scan.scan_file)
        return measured(from_scan.record)
    instrument = example_instrument(horse.instrument)
    stance = Stance(pitch_deg=horse.pitch_deg, roll_deg=horse.roll_deg)
    readings = measured_at(horse.shape, instrument, horse.stations_mm, rng, stance=stance)
    write_table(readings, kept / "readings.csv")
    write_sheet(
        kept / "sheet.toml",
        horse=label,
        day=DAY,
        instrument=horse.instrument,
        marks=horse.shape.landmarks,
        tilt_deg=(horse.pitch_deg, horse.roll_deg),
        story=horse.story,
    )
    record = table_record(kept / "readings.csv", kept / "sheet.toml")
    write_back(record, back_path)
    return measured(record)


def _build(horse: InventedHorse) -> Build:
    return {"wide-cob": Build.COB, "guttered-native": Build.PONY}.get(horse.shape.name, Build.ORDINARY)
