"""The JSON Schema of what the change command prints with --json."""

from saddlebench.cli.schema_parts import (
    COUNT,
    FLAG,
    INTERVAL,
    NUMBER,
    SHARE,
    TEXT,
    TEXT_OR_NONE,
    VERDICT,
    Schema,
    closed,
    many,
)

_CHANGE: Schema = {"change": NUMBER, "unit": TEXT, "interval_95": INTERVAL}


def _value(named: Schema) -> Schema:
    return {
        "oneOf": [closed({**named, **_CHANGE}), closed({**named, "not_measured": TEXT})],
    }


_COMPARED = closed(
    {
        "strongest": NUMBER,
        "threshold": NUMBER,
        "patches": many(
            closed(
                {
                    "behind_shoulder_mm": NUMBER,
                    "from_midline_mm": NUMBER,
                    "diameter_mm": NUMBER,
                    "place_sd_mm": NUMBER,
                    "middles_mm": many(INTERVAL),
                    "direction_sure": SHARE,
                    **_CHANGE,
                }
            )
        ),
        "unplaced": {
            "oneOf": [
                closed(
                    {
                        **dict.fromkeys(
                            ("behind_shoulder_mm", "from_midline_mm", "front_half_ends_mm"), NUMBER
                        ),
                        "middles_mm": many(INTERVAL),
                        **dict.fromkeys(("fuller", "front", "left", "right"), SHARE),
                        "wider_likely": FLAG,
                        "measure_again_mm": many(NUMBER),
                    }
                ),
                {"type": "null"},
            ]
        },
        "least_wide_mm": {
            "oneOf": [
                closed(dict.fromkeys(("best", "middle", "worst", "even"), NUMBER)),
                {"type": "null"},
            ]
        },
        "least_told_mm": {"oneOf": [many(NUMBER), {"type": "null"}]},
        "volumes": many(_value({"region": TEXT, "told": FLAG})),
        "numbers": many(_value({"number": TEXT, "told": FLAG})),
        "left_minus_right": many(_value({"region": TEXT, "told": FLAG})),
        "laid": many(closed({"move": TEXT, "value": NUMBER, "unit": TEXT, "sd": NUMBER})),
    }
)
DEFINITIONS: Schema = {
    "change": closed(
        {
            "horse": TEXT,
            "visits": many(
                closed(
                    {"label": TEXT, "measured_on": TEXT, "instrument": TEXT, "coat": TEXT, "stations": COUNT}
                )
            ),
            "headline": TEXT,
            "sentences": many(TEXT),
            "cannot_be_compared": TEXT_OR_NONE,
            "compared": {"oneOf": [_COMPARED, {"type": "null"}]},
            "steps": many(closed({"visit": COUNT, "told": FLAG})),
            "saddles": many(
                closed(
                    {
                        "saddle": TEXT,
                        "cannot_be_judged": many(TEXT_OR_NONE),
                        "own_errors": many(
                            {"oneOf": [closed({"whose": TEXT, "times": NUMBER}), {"type": "null"}]}
                        ),
                        "findings": many(
                            closed(
                                {
                                    "finding": TEXT,
                                    "side": TEXT,
                                    "verdicts": many({"oneOf": [VERDICT, {"type": "null"}]}),
                                }
                            )
                        ),
                    }
                )
            ),
            "cautions": many(TEXT),
            "written": many(TEXT),
        },
        optional=("written",),
    )
}
RESULTS = {"change": ("change",)}
