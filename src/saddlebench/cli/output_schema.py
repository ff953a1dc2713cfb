"""The JSON Schema of what commands print with --json."""

from saddlebench.cli import (
    alter_schema,
    change_schema,
    choose_schema,
    records_schema,
    repeat_schema,
    trace_schema,
)
from saddlebench.cli.pack import schema as pack_schema
from saddlebench.cli.replica import schema as replica_schema
from saddlebench.cli.schema_parts import (
    COUNT,
    FLAG,
    INTERVAL,
    NUMBER,
    NUMBER_OR_NONE,
    SHARE,
    TEXT,
    TEXT_OR_NONE,
    VERDICT,
    Schema,
    closed,
    many,
    ref,
)

_WHERE = closed(
    {"file": TEXT, "row": COUNT, "station": COUNT, "side": TEXT, "field": TEXT},
    optional=("file", "row", "station", "side", "field"),
)
_CONFIDENCE = {
    "oneOf": [
        closed({"not_computed": TEXT}),
        closed(
            {
                "tries": COUNT,
                "shares": {"type": "object", "propertyNames": VERDICT, "additionalProperties": SHARE},
                "interval_95": {"oneOf": [INTERVAL, {"type": "null"}]},
                "driver": TEXT_OR_NONE,
            }
        ),
    ]
}
_CANNOT_BE_TOLD = closed({"cannot_be_told": TEXT})
_STATE = closed(
    {
        "case": TEXT,
        "load": NUMBER,
        "load_source": TEXT,
        "position": TEXT,
        "outcome": TEXT,
        "why_not": TEXT_OR_NONE,
    }
)
_FELT = many(closed({"feels": {"enum": ["even", "slack", "tight"]}, "from_mm": NUMBER, "to_mm": NUMBER}))
_WORKS_TO = closed(
    {
        "further_back_mm": NUMBER,
        "findings": many(
            closed(
                {
                    "finding": TEXT,
                    "side": TEXT,
                    "title": TEXT,
                    "as_computed": VERDICT,
                    "number": NUMBER_OR_NONE,
                    "unit": TEXT,
                    "no_number_because": TEXT_OR_NONE,
                }
            )
        ),
    }
)
DEFINITIONS: Schema = {
    "problem": closed(
        {"what": TEXT, "cure": TEXT, "weight": {"enum": ["error", "warning"]}, "where": _WHERE}
    ),
    "descriptor": {
        "oneOf": [
            closed(
                {
                    "where": TEXT,
                    "what": TEXT,
                    "value": NUMBER,
                    "standard_uncertainty": NUMBER,
                    "interval_95": INTERVAL,
                    "unit": TEXT,
                }
            ),
            closed({"where": TEXT, "what": TEXT, "not_measured": TEXT, "stations": many(COUNT)}),
        ]
    },
    "finding": closed(
        {
            "finding": TEXT,
            "side": TEXT,
            "title": TEXT,
            "verdict": VERDICT,
            "as_computed": VERDICT,
            "number": NUMBER_OR_NONE,
            "unit": TEXT,
            "no_number_because": TEXT_OR_NONE,
            "limit": TEXT,
            "whose_limit": TEXT,
            "source": TEXT,
            "confidence": _CONFIDENCE,
            "remark": TEXT,
        }
    ),
    "back": closed(
        {
            "label": TEXT,
            "measured_on": {"type": "string", "format": "date"},
            "quality": closed(
                {
                    "verdict": TEXT,
                    "repeat_stations": many(COUNT),
                    "must_haves_left": many(TEXT),
                    "problems": many(ref("problem")),
                }
            ),
            "descriptors": many(ref("descriptor")),
            "written": TEXT_OR_NONE,
        }
    ),
    "saddle_scan": closed(
        {
            "length_mm": NUMBER,
            "channel_mm": many(NUMBER),
            "channel_sd_mm": NUMBER_OR_NONE,
            "narrowest_channel_mm": NUMBER,
            "narrowest_behind_mm": NUMBER,
            "panel_width_mm": many(NUMBER),
            "panel_angle_deg": many(NUMBER),
            "twist_deg": NUMBER,
            "twist_sd_deg": NUMBER,
            "noise_mm": NUMBER,
            "measured_share": SHARE,
            "off_numbers_mm": NUMBER,
            "rows_left_out_mm": many(NUMBER),
            "sentences": many(TEXT),
            "written": TEXT,
        }
    ),
    "saddle": closed(
        {
            "label": TEXT,
            "family": TEXT,
            "can_be_judged": FLAG,
            "why_not": TEXT_OR_NONE,
            "pads": many(TEXT),
            "assumed": many(TEXT),
            "written": TEXT,
        },
        optional=("written",),
    ),
    "fit": {
        "oneOf": [
            closed({"cannot_be_judged": TEXT}),
            closed(
                {
                    "back": TEXT,
                    "saddle": TEXT,
                    "states": many(_STATE),
                    "findings": many(ref("finding")),
                    "works_to": {"oneOf": [_CANNOT_BE_TOLD, _WORKS_TO]},
                    "hand_slide": {"oneOf": [_CANNOT_BE_TOLD, closed({"near": _FELT, "off": _FELT})]},
                    "measuring_errors": TEXT,
                    "cautions": many(TEXT),
                    "written": TEXT_OR_NONE,
                },
                optional=("written",),
            ),
        ]
    },
    "files": closed({"written": {"oneOf": [TEXT, many(TEXT)]}}),
    "instruments": {"type": "object", "additionalProperties": TEXT},
    "demo": many(
        closed({"horse": TEXT, "quality": TEXT, "folder": TEXT, "document": TEXT_OR_NONE, "fit": ref("fit")})
    ),
    "doctor": many(closed({"part": TEXT, "state": TEXT, "works": FLAG, "cure": TEXT})),
    "yard_card": closed({"instrument": TEXT, "fields": COUNT, "written": TEXT}),
    **alter_schema.DEFINITIONS,
    **change_schema.DEFINITIONS,
    **choose_schema.DEFINITIONS,
    **pack_schema.DEFINITIONS,
    **records_schema.DEFINITIONS,
    **repeat_schema.DEFINITIONS,
    **replica_schema.DEFINITIONS,
    **trace_schema.DEFINITIONS,
}
RESULTS = {
    "back table": ("back",),
    "back scan": ("back",),
    "back check": ("back",),
    "saddle file": ("saddle",),
    "saddle scan": ("saddle_scan",),
    "fit": ("fit",),
    "show": (
        "back",
        "saddle",
        "fit",
        "change",
        "replica_settings",
        "repeat-me",
        "repeat-study",
        "trend",
    ),
    "draw": ("files",),
    "report": ("files",),
    "export": ("files",),
    "instruments": ("instruments",),
    "demo": ("demo",),
    "doctor": ("doctor",),
    "yard-card": ("yard_card",),
    **alter_schema.RESULTS,
    **change_schema.RESULTS,
    **choose_schema.RESULTS,
    **pack_schema.RESULTS,
    **records_schema.RESULTS,
    **repeat_schema.RESULTS,
    **replica_schema.RESULTS,
    **trace_schema.RESULTS,
}


def output_schema() -> Schema:
    """Return the JSON Schema (draft 2020-12) of every command's output."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "What saddlebench commands print with --json",
        "oneOf": [_output(command, names) for command, names in RESULTS.items()],
        "$defs": DEFINITIONS,
    }


def _output(command: str, names: tuple[str, ...]) -> Schema:
    held = {"oneOf": [*(ref(name) for name in names), {"type": "null"}]}
    return closed(
        {
            "saddlebench": TEXT,
            "command": {"const": command},
            "done": FLAG,
            "problems": many(ref("problem")),
            "result": held,
        }
    )
