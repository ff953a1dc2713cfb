"""The JSON Schema of what the trace commands print with --json."""

from saddlebench.cli.schema_parts import COUNT, FLAG, NUMBER, NUMBER_OR_NONE, TEXT, Schema, closed, many

_KIND = {"enum": ["sections", "topline", "saddle"]}
_PLACE = {"type": "array", "items": NUMBER, "minItems": 2, "maxItems": 2}
DEFINITIONS: Schema = {
    "trace_sheet": closed(
        {
            "kind": _KIND,
            "paper": TEXT,
            "papers": COUNT,
            "width_mm": NUMBER,
            "height_mm": NUMBER,
            "written": TEXT,
        }
    ),
    "trace_read": closed(
        {
            "photos": many(
                closed(
                    {
                        "photo": TEXT,
                        "kind": _KIND,
                        "stations": many(COUNT),
                        "printed_across": NUMBER,
                        "printed_down": NUMBER,
                        "printed_sd": NUMBER,
                        "printed_by": TEXT,
                        "tilt_deg": NUMBER,
                        "curl_per_m": NUMBER,
                        "markers": COUNT,
                        "curves": many(
                            closed(
                                {
                                    "points_mm": many(_PLACE),
                                    "seen": many(FLAG),
                                    "marks_mm": many(_PLACE),
                                    "point_sd_mm": NUMBER,
                                    "midline_by_mark": FLAG,
                                }
                            )
                        ),
                        "remarks": many(TEXT),
                    }
                )
            ),
            "written": many(TEXT),
        }
    ),
    "saddle_trace": closed(
        {
            "sections": many(
                closed(
                    {
                        "behind_mm": NUMBER,
                        "channel_mm": NUMBER,
                        "channel_sd_mm": NUMBER,
                        "near_width_mm": NUMBER,
                        "off_width_mm": NUMBER,
                        "width_sd_mm": NUMBER,
                        "near_stands_out_mm": NUMBER_OR_NONE,
                        "stands_out_sd_mm": NUMBER_OR_NONE,
                    }
                )
            ),
            "twist_deg": NUMBER_OR_NONE,
            "twist_sd_deg": NUMBER_OR_NONE,
            "heights_measured": FLAG,
            "off_numbers_mm": NUMBER,
            "narrowest_channel_mm": NUMBER,
            "sentences": many(TEXT),
            "written": TEXT,
        }
    ),
    "trace_angle": closed({"angle_deg": NUMBER, "sd_deg": NUMBER, "against": TEXT, "sentences": many(TEXT)}),
}
RESULTS = {
    "trace sheet": ("trace_sheet",),
    "trace read": ("trace_read",),
    "trace back": ("back",),
    "trace angle": ("trace_angle",),
    "saddle trace": ("saddle_trace",),
}
