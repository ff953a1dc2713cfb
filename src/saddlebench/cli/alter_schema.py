"""The JSON Schema of what the commands for plans and work orders print with --json."""

from saddlebench.cli.schema_parts import (
    COUNT,
    FLAG,
    NUMBER,
    TEXT,
    TEXT_OR_NONE,
    VERDICT,
    Schema,
    closed,
    many,
    ref,
)

_SIDE = closed(
    {
        "verdict": VERDICT,
        "as_computed": VERDICT,
        "number": {"oneOf": [closed({"value": NUMBER, "unit": TEXT}), {"type": "null"}]},
        "agreeing": {"type": ["number", "null"], "minimum": 0, "maximum": 1},
    }
)
_CANNOT = closed({"cannot_be_planned": TEXT})
DEFINITIONS: Schema = {
    "plan": {
        "oneOf": [
            _CANNOT,
            closed(
                {
                    "saddle": TEXT,
                    "back": TEXT,
                    "aim": TEXT,
                    "by_hand": FLAG,
                    "tries": COUNT,
                    "misfit": closed({"before": NUMBER, "after": NUMBER, "best_within_limits": NUMBER}),
                    "work": many(
                        closed(
                            {
                                "place": TEXT,
                                "bench_mm": NUMBER,
                                "wanted_mm": NUMBER,
                                "tolerance_bench_mm": NUMBER,
                                "tolerance_bedded_mm": NUMBER,
                                "how": TEXT,
                            }
                        )
                    ),
                    "others": many(TEXT),
                    "findings": many(
                        closed(
                            {
                                "finding": TEXT,
                                "title": TEXT,
                                "turn": {"enum": ["better", "the same", "worse", "cannot tell"]},
                                "before": _SIDE,
                                "after": _SIDE,
                            }
                        )
                    ),
                    "doubts": many(ref("finding-doubt")),
                    "held_back_by": many(closed({"what": TEXT, "limit": TEXT})),
                    "beds_down": many({"type": "object"}),
                    "recheck_weeks": many(COUNT),
                    "cautions": many(TEXT),
                    "written": TEXT_OR_NONE,
                }
            ),
        ]
    },
    "order": {
        "oneOf": [
            _CANNOT,
            {
                "description": "The fields of a work order (schema work-order), and what was written.",
                "type": "object",
                "required": ["format", "number", "state", "work", "cautions", "written"],
                "properties": {"written": many(TEXT)},
            },
        ]
    },
}
RESULTS = {"alter": ("plan",), "order": ("order",)}
"""What each command's result is, by the names above."""
