"""The files of scans as they come: kept for good, and found again under the names that they came with."""

import os
import shutil
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from django.conf import settings

from saddlebench.engine.errors import InputProblemsError, Problem, Weight, Where, input_problem
from saddlebench.exchange.scans.limits import MAX_BYTES
from saddlebench.exchange.scans.sniff import sniff
from saddlebench.practice.keeping.scans import StoredScan, erase_scan, scan_path, store_scan
from saddlebench.practice.queries.saddle_scans import SaddleScanKept
from saddlebench.practice.queries.scans import ScanFileKept
from saddlebench.practice.services.scans import has_scan_file


def home() -> Path:
    """Return the data folder."""
    return Path(settings.SADDLEBENCH_HOME)


def store_files(given: Sequence[tuple[str, Iterable[bytes]]]) -> list[StoredScan]:
    """Keep a scan's files as they come; what is no scan at all is not kept.

    Raises
    ------
    InputProblemsError
        With everything that is wrong with any of them.
    """
    stored: list[StoredScan] = []
    problems: list[Problem] = []
    for name, chunks in given:
        try:
            one = store_scan(home(), name, chunks, MAX_BYTES)
        except InputProblemsError as error:
            problems.extend(error.problems)
            continue
        stored.append(one)
        problems.extend(_refused(one))
    if problems:
        for one in stored:
            if not has_scan_file(one.sha256, one.suffix):
                erase_scan(home(), one.sha256, one.suffix)
        raise InputProblemsError(problems)
    return stored


def kept_file(kept: ScanFileKept | SaddleScanKept) -> Path:
    """Return where a scan's file lies.

    Raises
    ------
    InputProblemsError
        If it is not among the kept files.
    """
    path = scan_path(home(), kept.sha256, kept.suffix)
    if not path.is_file():
        raise input_problem(
            "the scan’s file is not among the kept files any more",
            "Restore a backup that holds photos and scans, or bring the scan again.",
            Where(file=kept.name),
        )
    return path


def put_under(kept: ScanFileKept | SaddleScanKept, path: Path) -> None:
    """Put a kept file where a program reads it under the name that it came with.

    Raises
    ------
    InputProblemsError
        If it is not among the kept files.
    """
    source = kept_file(kept)
    if path.is_file():
        return
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    try:
        os.link(source, path)
    except OSError:
        shutil.copyfile(source, path)


def _refused(stored: StoredScan) -> list[Problem]:
    found = sniff(scan_path(home(), stored.sha256, stored.suffix))
    where = Where(file=stored.name)
    return [replace(one, where=where) for one in found.problems if one.weight is Weight.ERROR]
