"""A change study for machines: the numbers of `change_words`, the same for commands and other programs."""

from typing import Any

from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.change.results import ChangeStudy, Comparison, NotComparable, Unplaced
from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange.change_job import Rejudged
from saddlebench.exchange.change_unplaced import measure_again_mm
from saddlebench.exchange.change_words import headline, least_told, number_words, region_words, sentences


def change_as_json(study: ChangeStudy, rejudged: tuple[Rejudged, ...] = ()) -> dict[str, Any]:
    """Return a change study, and saddles judged on every day's back, as JSON holds them."""
    whole = study.whole
    compared = whole if isinstance(whole, Comparison) else None
    return {
        "horse": study.horse,
        "visits": [
            {
                "label": visit.label,
                "measured_on": visit.measured_on.isoformat(),
                "instrument": visit.instrument,
                "coat": visit.coat.value,
                "stations": visit.n_stations,
            }
            for visit in study.visits
        ],
        "headline": headline(study),
        "sentences": list(sentences(study)),
        "cannot_be_compared": whole.reason if isinstance(whole, NotComparable) else None,
        "compared": None if compared is None else _compared(compared),
        "steps": [
            {"visit": step.later, "told": not isinstance(step, NotComparable) and step.scan.is_beyond_error}
            for step in study.steps
        ],
        "saddles": [_rejudged(one) for one in rejudged],
        "cautions": [*(compared.cautions if compared else ()), *study.cautions],
    }


def _compared(whole: Comparison) -> dict[str, Any]:
    told = least_told(whole.map)
    return {
        "strongest": whole.scan.strongest,
        "threshold": whole.scan.threshold,
        "patches": [
            {
                "behind_shoulder_mm": patch.s_mm,
                "from_midline_mm": patch.from_midline_mm,
                "diameter_mm": patch.diameter_mm,
                "place_sd_mm": patch.place_sd_mm,
                "middles_mm": [list(one) for one in patch.middles_mm],
                "direction_sure": patch.sure,
                **_value(patch.depth),
            }
            for patch in whole.scan.patches
        ],
        "unplaced": None if whole.scan.unplaced is None else _unplaced(whole.scan.unplaced),
        "least_wide_mm": None
        if whole.least_wide is None
        else {
            "best": whole.least_wide.best_mm,
            "middle": whole.least_wide.middle_mm,
            "worst": whole.least_wide.worst_mm,
            "even": whole.least_wide.even_mm,
        },
        "least_told_mm": None if isinstance(told, NotMeasured) else list(told),
        "volumes": [
            {"region": region_words(one), "told": one.is_told, **_value(one.volume)} for one in whole.volumes
        ],
        "numbers": [
            {"number": number_words(one), "told": one.is_told, **_value(one.change)} for one in whole.numbers
        ],
        "left_minus_right": [
            {
                "region": f"{one.along.value}, {one.across.value}",
                "told": one.is_told,
                **_value(one.left_minus_right),
            }
            for one in whole.sides
        ],
        "laid": [
            {"move": move.name, "value": move.value, "unit": move.unit, "sd": move.sd}
            for move in whole.registration.moves
        ],
    }


def _unplaced(held: Unplaced) -> dict[str, Any]:
    return {
        "behind_shoulder_mm": held.s_mm,
        "from_midline_mm": held.from_midline_mm,
        "middles_mm": [list(one) for one in held.middles_mm],
        "front_half_ends_mm": held.half_mm,
        "fuller": held.fuller,
        "front": held.front,
        "left": held.left,
        "right": held.right,
        "wider_likely": held.is_wide_likely,
        "measure_again_mm": list(measure_again_mm(held)),
    }


def _value(held: Estimate | NotMeasured) -> dict[str, Any]:
    if isinstance(held, NotMeasured):
        return {"not_measured": held.reason}
    return {"change": held.value, "unit": held.unit, "interval_95": [held.low, held.high]}


def _rejudged(one: Rejudged) -> dict[str, Any]:
    return {
        "saddle": one.saddle,
        "cannot_be_judged": [s.reason if isinstance(s, Undetermined) else None for s in one.studies],
        "own_errors": [_errors(s) for s in one.studies],
        "findings": [
            {
                "finding": next(f.name.value for f in row if f is not None),
                "side": next(f.side.value for f in row if f is not None),
                "verdicts": [None if f is None else f.verdict.value for f in row],
            }
            for row in one.rows()
        ],
    }


def _errors(study: FitStudy | Undetermined) -> dict[str, Any] | None:
    own = None if isinstance(study, Undetermined) else study.inputs.own_errors
    return None if own is None else {"whose": own.whose, "times": own.times}
