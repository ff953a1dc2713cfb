"""The JSON Schema of what the commands on repeats, trends and doubts print with --json."""

from saddlebench.cli.schema_parts import (
    COUNT,
    FLAG,
    INTERVAL,
    NUMBER,
    NUMBER_OR_NONE,
    SHARE,
    TEXT,
    TEXT_OR_NONE,
    Schema,
    closed,
    many,
    ref,
)


def _or_none(schema: Schema) -> Schema:
    return {"oneOf": [schema, {"type": "null"}]}


_QUANTITY: Schema = {"where": TEXT, "what": TEXT, "unit": TEXT}
_SPREAD = closed({"standard_deviation": NUMBER, "interval_95": INTERVAL, "degrees_of_freedom": NUMBER})
_CHANGE = _or_none(closed({"change": NUMBER, "interval_95": INTERVAL, "real": FLAG}))
_AGREEMENT = closed(
    {
        "first": TEXT,
        "second": TEXT,
        "bias": NUMBER,
        "bias_95": INTERVAL,
        "limits": INTERVAL,
        "lower_95": INTERVAL,
        "upper_95": INTERVAL,
    }
)
_GAUGE = closed(
    {
        "repeatability": NUMBER,
        "reproducibility": NUMBER,
        "parts": NUMBER,
        "of_total": SHARE,
        "of_tolerance": _or_none(NUMBER),
        "distinct_categories": COUNT,
    }
)
DOUBT_SOURCE: Schema = {
    "source": TEXT,
    "what_to_do": TEXT,
    "stations": many(COUNT),
    "behind_shoulder_mm": NUMBER_OR_NONE,
    "share": SHARE,
    "removes": SHARE,
    "told_after": SHARE,
    "between": INTERVAL,
}
DEFINITIONS: Schema = {
    "doubt-source": closed(DOUBT_SOURCE),
    "finding-doubt": closed(
        {
            "finding": TEXT,
            "title": TEXT,
            "side": TEXT,
            "measure": TEXT,
            "value": NUMBER,
            "half_width_95": NUMBER,
            "unit": TEXT,
            "agreeing": SHARE,
            "told": FLAG,
            "advice": TEXT,
            "repeat": TEXT_OR_NONE,
            "sources": many(ref("doubt-source")),
        }
    ),
    "repeat-me": closed(
        {
            "repeats": COUNT,
            "sentences": many(TEXT),
            "overall": closed(
                {
                    "times_stated": NUMBER,
                    "interval_95": INTERVAL,
                    "degrees_of_freedom": NUMBER,
                    "in_use": TEXT,
                    "applied": NUMBER,
                    "why": TEXT,
                }
            ),
            "numbers": many(
                closed({**_QUANTITY, "mean": NUMBER, "own": _SPREAD, "stated": NUMBER, "hand": TEXT})
            ),
            "patterns": many(closed({"pattern": TEXT, "own_mm": NUMBER, "stated_mm": NUMBER})),
            "practise": TEXT,
            "written": many(TEXT),
        }
    ),
    "repeat-study": closed(
        {
            "backs": many(TEXT),
            "fitters": many(TEXT),
            "instruments": many(TEXT),
            "repeats": COUNT,
            "numbers": many(
                closed(
                    {
                        **_QUANTITY,
                        "results": COUNT,
                        "mean": NUMBER,
                        "repeatability": _or_none(_SPREAD),
                        "reproducibility": _or_none(_SPREAD),
                        "correlation": many(closed({"form": TEXT, "value": NUMBER, "interval_95": INTERVAL})),
                        "agreement": many(_AGREEMENT),
                        "tolerance": _or_none(NUMBER),
                        "of_tolerance": _or_none(NUMBER),
                        "gauge": _or_none(_GAUGE),
                    }
                )
            ),
            "written": many(TEXT),
        }
    ),
    "trend": closed(
        {
            "label": TEXT,
            "trends": many(
                closed(
                    {
                        **_QUANTITY,
                        "points": many(
                            closed(
                                {
                                    "day": TEXT,
                                    "value": NUMBER,
                                    "standard_uncertainty": NUMBER,
                                    "belongs": FLAG,
                                }
                            )
                        ),
                        "overall": _CHANGE,
                        "per_quarter": _CHANGE,
                        "moved": many(
                            closed({"from": TEXT, "to": TEXT, "change": NUMBER, "interval_95": INTERVAL})
                        ),
                        "season": _or_none(
                            closed(
                                {
                                    "half_range": NUMBER,
                                    "standard_uncertainty": NUMBER,
                                    "highest_month": COUNT,
                                    "told": FLAG,
                                }
                            )
                        ),
                    }
                )
            ),
            "odd_visits": many(
                closed(
                    {
                        "day": TEXT,
                        "chance": SHARE,
                        "whole": FLAG,
                        "places": many(TEXT),
                        "numbers": many(closed(_QUANTITY)),
                    }
                )
            ),
            "visits": COUNT,
            "no_trend": TEXT_OR_NONE,
            "look_again": _or_none(closed({"day": TEXT, "reasons": many(TEXT)})),
            "older_figures": many(TEXT),
            "written": many(TEXT),
        },
        optional=("older_figures", "written"),
    ),
    "doubt": closed(
        {
            "tries": COUNT,
            "findings": many(ref("finding-doubt")),
            "written": TEXT_OR_NONE,
        }
    ),
}
RESULTS: dict[str, tuple[str, ...]] = {
    "repeat me": ("repeat-me",),
    "repeat study": ("repeat-study",),
    "trend": ("trend",),
    "doubt": ("doubt",),
}
