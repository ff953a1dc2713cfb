"""The JSON Schema of what the records commands print with --json: rows and records are the interface's."""

from saddlebench.cli.records_kinds import Kind
from saddlebench.cli.schema_parts import COUNT, TEXT, Schema, closed, many

_KIND: Schema = {"enum": [one.value for one in Kind]}
_OBJECT: Schema = {"type": "object", "required": ["uuid"], "properties": {"uuid": TEXT}}
_FOUND = (Kind.HORSES, Kind.SADDLES, Kind.CLIENTS, Kind.YARDS)

DEFINITIONS: Schema = {
    "record_list": closed(
        {"kind": _KIND, "rows": many(_OBJECT), "total": COUNT, "page": COUNT, "pages": COUNT}
    ),
    "record": closed({"kind": _KIND, "record": _OBJECT}),
    "records_found": closed(
        {
            "asked": TEXT,
            **{one.value: many(_OBJECT) for one in _FOUND},
            **{f"n_{one.value}": COUNT for one in _FOUND},
        }
    ),
    "unsent_read": closed(
        {
            "entries": COUNT,
            "counted": {"type": "object", "additionalProperties": COUNT},
            "photos": COUNT,
            "held": many(closed({"field": TEXT, "theirs": {}, "by": TEXT})),
            "problems": many(closed({"where": TEXT, "what": TEXT, "cure": TEXT})),
        }
    ),
    "record_brought": closed({"kind": _KIND, "uuid": TEXT, "said": TEXT}),
}
RESULTS = {
    "records list": ("record_list",),
    "records show": ("record",),
    "records find": ("records_found",),
    "records get": ("files",),
    "records put": ("record_brought",),
    "records read-phone": ("unsent_read",),
}
