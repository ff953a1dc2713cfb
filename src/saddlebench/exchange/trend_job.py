"""Trends on back record files: every record once into numbers, then all numbers over the days."""

import datetime as dt
import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from saddlebench.engine.back.descriptors import describe
from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.levels import DescriptionSettings
from saddlebench.engine.back.quantities import Quantity, quantities_of
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.change.repeat.stated import stated_repeats
from saddlebench.engine.change.trend.series import Correlations, Visit
from saddlebench.engine.days import plain_day
from saddlebench.engine.errors import Where, input_problem
from saddlebench.engine.fit.study import ErrorsUsed, Progress
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.job import quiet
from saddlebench.exchange.own_errors import OwnHand
from saddlebench.exchange.records import read_back

SETTINGS = DescriptionSettings(draws=64)
STATED_WORDS = "the errors that the instrument states"


def device_of(record: BackRecord) -> str:
    """Return what visits share their standing errors by: the instrument and where it was laid."""
    places = ",".join(f"{station.distance_mm:.0f}" for station in record.readings.stations)
    return f"{record.instrument.name} [{hashlib.sha256(places.encode()).hexdigest()[:8]}]"


def visit_of(back: MeasuredBack, like: Visit | None = None) -> Visit:
    """Return a measured back as a visit.

    What is fresh at every visit, and how it goes together, is drawn anew; the rest of each number's squared
    uncertainty (zeros, scale, what lies between the stations) is the same again with the same instrument laid
    at the same places.

    Parameters
    ----------
    back : the record and its surface
    like : an earlier visit with the same instrument at the same places, of which both are known
    """
    estimates = _estimates(back)
    if like is not None and like.correlations.quantities:
        shares, correlations = like.fresh_share, like.correlations
    else:
        stated = stated_repeats(back.estimated, back.record, count=SETTINGS.draws)
        correlations = Correlations.of({q: stated.draws[q] for q in estimates if q in stated.draws})
        shares = {
            quantity: min((stated.deviations[quantity] / estimate.sd) ** 2, 1.0)
            for quantity, estimate in estimates.items()
            if quantity in stated.deviations and estimate.sd > 0.0
        }
    return Visit(
        day=back.record.measured_on,
        label=back.record.label,
        device=device_of(back.record),
        coat=back.record.coat,
        estimates=estimates,
        fresh_share=shares,
        correlations=correlations,
    )


def _estimates(back: MeasuredBack) -> dict[Quantity, Estimate]:
    described = quantities_of(describe(back.estimated, back.record.landmarks, SETTINGS))
    return {quantity: answer for quantity, answer in described.items() if isinstance(answer, Estimate)}


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberedVisits:
    """Visits in numbers, and whose errors each went by."""

    visits: tuple[Visit, ...]
    own_errors: Mapping[dt.date, ErrorsUsed]
    """Of visits that went by own errors; the others by what their instrument states."""


NO_VISITS = NumberedVisits(visits=(), own_errors={})


def visits_of_files(
    paths: Sequence[Path],
    *,
    known: NumberedVisits = NO_VISITS,
    own_errors: Callable[[BackRecord], ErrorsUsed | None] = lambda _record: None,
    progress: Progress = quiet,
) -> NumberedVisits:
    """Return record files as visits of one horse; visits already known are kept as they are.

    Parameters
    ----------
    paths : back records
    known : visits in numbers
    own_errors : gives the errors to go by for a record, in place of those that its instrument states
    progress : called before each record

    Raises
    ------
    InputProblemsError
        With every fault of a file; also if the records are of several horses, or of one day twice.
    OSError
        If a file cannot be opened.
    """
    records = [(path, read_back(path)) for path in paths]
    labels = {visit.label for visit in known.visits} or {record.label for _, record in records[:1]}
    days = {visit.day for visit in known.visits}
    visits, errors = list(known.visits), dict(known.own_errors)
    like = {(visit.device, known.own_errors.get(visit.day)): visit for visit in known.visits}
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
            msg = f"is a second record of {plain_day(record.measured_on)}"
            raise input_problem(
                msg,
                "Give one record a day; repeats of one day are for “saddlebench repeat”.",
                Where(file=str(path)),
            )
        days.add(record.measured_on)
        own = own_errors(record)
        visit = visit_of(measured(record, own), like.get((device_of(record), own)))
        like[visit.device, own] = visit
        visits.append(visit)
        if own is not None:
            errors[visit.day] = own
    progress(len(records), len(records), "done")
    return NumberedVisits(visits=tuple(sorted(visits, key=lambda visit: visit.day)), own_errors=errors)


def older_words(held: NumberedVisits, hand: OwnHand | None) -> tuple[str, ...]:
    """Return which visits rest on older figures than an own hand says now, a sentence for each kind.

    Parameters
    ----------
    held : visits as they were kept
    hand : who measured, as its exercises say now; None: the errors that the instruments state
    """
    days: dict[tuple[str, str], list[dt.date]] = {}
    for visit in held.visits:
        then = held.own_errors.get(visit.day)
        now = hand.used if hand is not None and visit.device.startswith(f"{hand.instrument} [") else None
        if (then and then.times) != (now and now.times):
            days.setdefault((_figure_words(then), _figure_words(now)), []).append(visit.day)
    return tuple(
        f"Visits of {plain_day(those[0])} to {plain_day(those[-1])} ({len(those)}) rest on older figures: "
        f"then {then}; now {now}."
        for (then, now), those in days.items()
    )


def _figure_words(own: ErrorsUsed | None) -> str:
    return STATED_WORDS if own is None else f"{own.times:.2f} times what the instrument states"
