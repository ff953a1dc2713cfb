"""Trends on back record files: every record once into numbers, then all numbers over the days."""

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path

from saddlebench.engine.back.descriptors import describe
from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.levels import DescriptionSettings
from saddlebench.engine.back.quantities import Quantity, quantities_of
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.change.repeat.stated import stated_repeats
from saddlebench.engine.change.trend.series import Visit
from saddlebench.engine.errors import Where, input_problem
from saddlebench.engine.fit.study import Progress
from saddlebench.exchange.job import MeasuredBack, measured, quiet
from saddlebench.exchange.records import read_back

SETTINGS = DescriptionSettings(draws=64)


def device_of(record: BackRecord) -> str:
    """Return what visits share their standing errors by: the instrument and where it was laid."""
    places = ",".join(f"{station.distance_mm:.0f}" for station in record.readings.stations)
    return f"{record.instrument.name} [{hashlib.sha256(places.encode()).hexdigest()[:8]}]"


def fresh_shares(back: MeasuredBack) -> dict[Quantity, float]:
    """Return which part of each number's squared uncertainty is fresh at every visit.

    The rest (zeros, scale, what lies between the stations) is the same again with the same instrument laid
    at the same places.
    """
    stated = stated_repeats(back.estimated, back.record, count=SETTINGS.draws).deviations
    own = _estimates(back)
    return {
        quantity: min((stated[quantity] / estimate.sd) ** 2, 1.0)
        for quantity, estimate in own.items()
        if quantity in stated and estimate.sd > 0.0
    }


def visit_of(back: MeasuredBack, shares: Mapping[Quantity, float] | None = None) -> Visit:
    """Return a measured back as a visit.

    Parameters
    ----------
    back : the record and its surface
    shares : of an earlier visit with the same instrument at the same places; None works them out
    """
    return Visit(
        day=back.record.measured_on,
        label=back.record.label,
        device=device_of(back.record),
        coat=back.record.coat,
        estimates=_estimates(back),
        fresh_share=fresh_shares(back) if shares is None else shares,
    )


def _estimates(back: MeasuredBack) -> dict[Quantity, Estimate]:
    described = quantities_of(describe(back.estimated, back.record.landmarks, SETTINGS))
    return {quantity: answer for quantity, answer in described.items() if isinstance(answer, Estimate)}


def visits_of_files(
    paths: Sequence[Path], *, known: Sequence[Visit] = (), progress: Progress = quiet
) -> tuple[Visit, ...]:
    """Return record files as visits of one horse; visits already known are kept.

    Raises
    ------
    InputProblemsError
        With every fault of a file; also if the records are of several horses, or of one day twice.
    OSError
        If a file cannot be opened.
    """
    records = [(path, read_back(path)) for path in paths]
    labels = {visit.label for visit in known} or {record.label for _, record in records[:1]}
    days = {visit.day for visit in known}
    visits = list(known)
    shares = {visit.device: visit.fresh_share for visit in known}
    for index, (path, record) in enumerate(records):
        progress(index, len(records), f"measuring {path.name}")
        if record.label not in labels:
            msg = f"is of “{record.label}”, not of “{next(iter(labels))}”"
            raise input_problem(
                msg,
                "A trend is of one horse: give its records only.",
                Where(file=str(path)),
            )
        if record.measured_on in days:
            msg = f"is a second record of {record.measured_on.isoformat()}"
            raise input_problem(
                msg,
                "Give one record a day; repeats of one day are for “saddlebench repeat”.",
                Where(file=str(path)),
            )
        days.add(record.measured_on)
        visit = visit_of(measured(record), shares.get(device_of(record)))
        shares[visit.device] = visit.fresh_share
        visits.append(visit)
    progress(len(records), len(records), "done")
    return tuple(sorted(visits, key=lambda visit: visit.day))
