"""The JSON Schema of what the commands on stock, shortlist and season print with --json."""

from saddlebench.cli.repeat_schema import DOUBT_SOURCE
from saddlebench.cli.schema_parts import (
    COUNT,
    FLAG,
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

_SHARE_OR_NONE: Schema = {"oneOf": [SHARE, {"type": "null"}]}
_RULED_OUT = closed({"number": TEXT, "saddle": TEXT, "limit": TEXT, "words": TEXT})
_ENTRY = closed(
    {
        "rank": COUNT,
        "number": TEXT,
        "saddle": TEXT,
        "where": TEXT,
        "price": TEXT,
        "seat_in": NUMBER_OR_NONE,
        "condition": TEXT,
        "looked_at": {"enum": ["quick pass only", "in full"]},
        "cost": NUMBER,
        "cost_as_it_stands": NUMBER_OR_NONE,
        "arch_by_mm": NUMBER,
        "change": TEXT,
        "counted": many(closed({"finding": TEXT, "counts": NUMBER})),
        "for": many(TEXT),
        "against": many(TEXT),
        "stays_share": _SHARE_OR_NONE,
        "verdicts_hold_share": _SHARE_OR_NONE,
        "sure": TEXT,
        "doubt": TEXT,
        "doubts": many(ref("finding-doubt")),
        "level_with": many(TEXT),
        "level": TEXT,
        "alike": many(TEXT),
        "findings": many(ref("finding")),
    }
)
_ORDER = closed(
    {
        "first": TEXT,
        "first_saddle": TEXT,
        "other": TEXT,
        "other_saddle": TEXT,
        "lead": NUMBER,
        "agreeing": SHARE,
        "told": FLAG,
        "words": TEXT,
        "advice": TEXT,
        "repeat": TEXT_OR_NONE,
        "sources": many(closed({**DOUBT_SOURCE, "name": TEXT})),
    }
)
_WORK = closed(
    {
        **dict.fromkeys(("candidates", "ways", "shapes", "first", "quick", "in_full"), COUNT),
        "margin": NUMBER,
        "largest_error": NUMBER,
    }
)
_LIMITS = closed(
    {
        **dict.fromkeys(
            ("past_last_rib_mm", "bars_past_last_rib_mm", "width_mm", "seat_in", "flap_mm"), NUMBER
        ),
        "source": TEXT,
    }
)
DEFINITIONS: Schema = {
    "shortlist": closed(
        {
            "horse": TEXT,
            "complete": FLAG,
            "asked_for": COUNT,
            "entries": many(_ENTRY),
            "ruled_out": {"type": "object", "additionalProperties": COUNT},
            "ruled_out_saddles": many(_RULED_OUT),
            "not_judged": many(closed({"number": TEXT, "saddle": TEXT, "reason": TEXT})),
            "cost": closed(
                {"words": many(TEXT), "weights": {"type": "object", "additionalProperties": NUMBER}}
            ),
            "hard_limits": _LIMITS,
            "work": _WORK,
            "work_words": many(TEXT),
            "would_help": many(TEXT),
            "order": many(_ORDER),
            "order_note": TEXT,
            "order_words": many(TEXT),
            "cautions": many(TEXT),
        }
    ),
    "season": closed({"complete": FLAG, "horses": COUNT, "done": COUNT, "lists": many(ref("shortlist"))}),
    "takers": closed(
        {
            "number": TEXT,
            "saddle": TEXT,
            "complete": FLAG,
            "horses": many(closed({"rank": COUNT, "horse": TEXT, "cost": NUMBER, "change": TEXT})),
            "ruled_out": many(closed({"horse": TEXT, "words": TEXT})),
            "not_judged": many(closed({"horse": TEXT, "reason": TEXT})),
            "cautions": many(TEXT),
        }
    ),
    "stock": closed(
        {"saddles": COUNT, "free": COUNT, "where": {"type": "object", "additionalProperties": COUNT}}
    ),
    "invented_stock": closed({"written": TEXT, "saddles": COUNT}),
}
RESULTS = {
    "shortlist": ("shortlist",),
    "season": ("season", "takers"),
    "stock check": ("stock",),
    "stock label": ("files",),
    "stock rules": ("files",),
    "stock invent": ("invented_stock",),
}
