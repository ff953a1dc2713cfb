"""Tolerances that repeats of a back are held against: for all numbers of a unit, or for one by its name."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.change.repeat.gauge import SERVES_BELOW, TOO_COARSE_ABOVE
from saddlebench.engine.change.repeat.study import QuantityRepeats, RepeatStudy, against_tolerances
from saddlebench.engine.errors import InputProblemsError, Problem, Undetermined, Where
from saddlebench.engine.units import parse_number
from saddlebench.exchange.repeat_words import with_unit
from saddlebench.exchange.vocabulary import said

UNITS = {
    "mm": "mm",
    "deg": "°",
    "°": "°",
    "cm2": "cm²",
    "cm²": "cm²",
    "cm3": "cm³",
    "cm³": "cm³",
    "ratio": "1",
}
"""What a tolerance may be stated for as a whole, and the unit that is meant."""
FIELD = "tolerance"
SERVES, MAY_SERVE, TOO_COARSE = "serves", "may serve", "too coarse for it"
TOLERANCE_NOTE = (
    "A tolerance is the whole width within which a number may lie before you would do anything else: ±5 mm "
    "is 10. Six standard deviations of reading are held against it: up to 10 % serves, up to 30 % may serve, "
    "more is too coarse (usual guide values of gauge studies). What is tolerable is yours to say."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """Whole widths of what may be, by unit and by words in a number's name."""

    by_unit: Mapping[str, float]
    by_words: Mapping[str, float]
    """Small letters; the longest that is part of a number's name rules."""

    def of(self, quantity: Quantity) -> float | None:
        """Return the tolerance of a number in its unit; None where none is stated."""
        name = quantity.words.casefold()
        named = [words for words in self.by_words if words in name]
        if named:
            return self.by_words[max(named, key=len)]
        return self.by_unit.get(quantity.unit)


def read_tolerances(texts: Iterable[str]) -> Tolerances:
    """Read tolerances such as `mm=6`, `deg=4` or `withers width=8`.

    Raises
    ------
    InputProblemsError
        With every one that is none.
    """
    by_unit: dict[str, float] = {}
    by_words: dict[str, float] = {}
    problems = []
    for text in texts:
        name, equals, number = text.rpartition("=")
        name = name.strip().casefold()
        where = Where(field=f"{FIELD} {text.strip()[:60]}")
        if not equals or not name:
            what = "does not say what it is for"
            problems.append(Problem(what=what, cure="Write mm=6, deg=4 or “withers width=8”.", where=where))
            continue
        width = parse_number(number, where)
        if isinstance(width, Problem):
            problems.append(width)
        elif width <= 0.0:
            what = f"a tolerance of {width:g} is no width"
            problems.append(Problem(what=what, cure="Give the whole width: ±5 is 10.", where=where))
        elif name in UNITS:
            by_unit[UNITS[name]] = width
        else:
            by_words[name] = width
    if problems:
        raise InputProblemsError(problems)
    return Tolerances(by_unit=by_unit, by_words=by_words)


def held_against(study: RepeatStudy, tolerances: Tolerances) -> RepeatStudy:
    """Return a repeat study held against tolerances.

    Raises
    ------
    InputProblemsError
        If one is stated for a name that no number of the study bears.
    """
    names = [one.quantity.words.casefold() for one in study.quantities]
    unknown = [words for words in tolerances.by_words if not any(words in name for name in names)]
    if unknown:
        cure = f"Use mm, deg, cm2, cm3, ratio, or words of a number's name, such as “{names[0]}”."
        raise InputProblemsError(
            [
                Problem(what=f"no number is called “{words}”", cure=cure, where=Where(field=FIELD))
                for words in unknown
            ]
        )
    return against_tolerances(study, tolerances.of)


def tolerance_words(one: QuantityRepeats) -> str:
    """Return how much of its tolerance reading a number takes up; empty where none is stated."""
    share = one.of_tolerance
    if one.tolerance is None:
        return ""
    if isinstance(share, Undetermined):
        return f"{said('of')} {with_unit(one.tolerance, one.quantity)}: {said(share.reason)}"
    part = f"{said(f'{share:.0%}')} {said('of')} {with_unit(one.tolerance, one.quantity)}"
    return f"{part}: {said(serving(share))}"


def serving(share: float) -> str:
    """Return whether readings serve, by their share of a tolerance [1]."""
    return SERVES if share <= SERVES_BELOW else TOO_COARSE if share > TOO_COARSE_ABOVE else MAY_SERVE


def tolerance_sentences(study: RepeatStudy) -> tuple[str, ...]:
    """Return what a study says of the tolerances stated; nothing where none is."""
    shares = [
        (one, share)
        for one in study.quantities
        if one.tolerance is not None and not isinstance(share := one.of_tolerance, Undetermined)
    ]
    if not shares:
        return ()
    counts = {word: sum(serving(share) == word for _, share in shares) for word in (SERVES, MAY_SERVE)}
    coarse = sorted(
        ((one, share) for one, share in shares if serving(share) == TOO_COARSE), key=lambda row: -row[1]
    )
    whole = said(
        f"Of {len(shares)} numbers held against a tolerance, reading serves for {counts[SERVES]}, may serve "
        f"for {counts[MAY_SERVE]} and is too coarse for {len(coarse)}."
    )
    if not coarse:
        return (whole,)
    names = "; ".join(f"{said(one.quantity.words)} ({said(f'{share:.0%}')})" for one, share in coarse[:3])
    more = f" {said('and others')}" if len(coarse) > 3 else ""
    return (whole, f"{said('Too coarse for the tolerance stated')}: {names}{more}.")
