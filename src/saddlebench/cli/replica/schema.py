"""The JSON Schema of what the replica commands print with --json."""

from saddlebench.cli.schema_parts import COUNT, FLAG, NUMBER, NUMBER_OR_NONE, TEXT, Schema, closed, many

_SIDE = {"enum": ["near", "off", ""]}
_REBUILD = {"enum": ["good", "move", "cannot tell"]}
DEFINITIONS: Schema = {
    "replica_settings": closed(
        {
            "instrument": TEXT,
            "off_by_mm": NUMBER,
            "topline_off_by_mm": NUMBER,
            "stations": many(
                closed({"station": COUNT, "distance_mm": NUMBER, "off_by_mm": NUMBER, "between_mm": NUMBER})
            ),
            "written": many(TEXT),
        }
    ),
    "replica_check": many(
        closed(
            {
                "station": COUNT,
                "distance_mm": NUMBER,
                "good": FLAG,
                "off_by_mm": NUMBER_OR_NONE,
                "allowed_mm": NUMBER,
                "moves": many(closed({"side": _SIDE, "part": TEXT, "by": NUMBER, "to": NUMBER_OR_NONE})),
                "not_set": many(TEXT),
            }
        )
    ),
    "replica_proof": closed(
        {
            "verdict": _REBUILD,
            "rms_mm": NUMBER,
            "largest_mm": NUMBER,
            "tolerance_mm": NUMBER,
            "stations": many(
                closed(
                    {
                        "station": COUNT,
                        "distance_mm": NUMBER,
                        "verdict": _REBUILD,
                        "raise_mm": NUMBER,
                        "shift_near_mm": NUMBER,
                        "could_miss_mm": NUMBER,
                        "sides": many(
                            closed(
                                {
                                    "side": _SIDE,
                                    "worst_mm": NUMBER,
                                    "worst_at_mm": NUMBER,
                                    "verdict": _REBUILD,
                                }
                            )
                        ),
                    }
                )
            ),
            "written": TEXT,
        }
    ),
}
RESULTS = {
    "replica settings": ("replica_settings",),
    "replica check": ("replica_check",),
    "replica prove": ("replica_proof",),
    "replica templates": ("files",),
    "replica ribs": ("files",),
    "replica solid": ("files",),
    "replica kit": ("files",),
}
