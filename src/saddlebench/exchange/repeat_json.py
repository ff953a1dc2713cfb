"""Repeat studies in short for machines: what commands print of them and programs are given."""

from typing import Any

from saddlebench.engine.change.repeat.spread import Spread
from saddlebench.engine.change.repeat.study import QuantityRepeats, RepeatStudy
from saddlebench.engine.errors import Undetermined


def repeats_as_json(found: RepeatStudy) -> dict[str, Any]:
    """Return a repeat study as JSON holds it."""
    return {
        "backs": list(found.backs),
        "fitters": list(found.fitters),
        "instruments": list(found.instruments),
        "repeats": found.n_repeats,
        "numbers": [_number_as_json(one) for one in found.quantities],
    }


def _number_as_json(one: QuantityRepeats) -> dict[str, Any]:
    correlation = () if isinstance(one.correlation, Undetermined) else one.correlation
    gauge = None if isinstance(one.gauge, Undetermined) else one.gauge
    of_tolerance = one.of_tolerance
    return {
        "where": one.quantity.where,
        "what": one.quantity.what,
        "unit": one.quantity.unit,
        "results": one.n_results,
        "mean": one.mean,
        "repeatability": spread_as_json(one.repeatability),
        "reproducibility": spread_as_json(one.reproducibility),
        "correlation": [
            {"form": each.form.value, "value": each.value, "interval_95": [each.low, each.high]}
            for each in correlation
        ],
        "agreement": [
            {
                "first": pair.first,
                "second": pair.second,
                "bias": pair.limits.bias,
                "bias_95": list(pair.limits.bias_interval),
                "limits": [pair.limits.lower, pair.limits.upper],
                "lower_95": list(pair.limits.lower_interval),
                "upper_95": list(pair.limits.upper_interval),
            }
            for pair in one.agreement
        ],
        "tolerance": one.tolerance,
        "of_tolerance": None if isinstance(of_tolerance, Undetermined) else of_tolerance,
        "gauge": None
        if gauge is None
        else {
            "repeatability": gauge.repeatability,
            "reproducibility": gauge.reproducibility,
            "parts": gauge.parts,
            "of_total": gauge.of_total,
            "of_tolerance": None if isinstance(gauge.of_tolerance, Undetermined) else gauge.of_tolerance,
            "distinct_categories": gauge.distinct_categories,
        },
    }


def spread_as_json(spread: Spread | Undetermined) -> dict[str, Any] | None:
    """Return a standard deviation as JSON holds it; null where it is not known."""
    if isinstance(spread, Undetermined):
        return None
    return {
        "standard_deviation": spread.sd,
        "interval_95": [spread.low, spread.high],
        "degrees_of_freedom": spread.degrees,
    }
