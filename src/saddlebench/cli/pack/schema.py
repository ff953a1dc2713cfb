"""The JSON Schema of what the pack commands print with --json."""

from saddlebench.cli.schema_parts import COUNT, FLAG, TEXT, TEXT_OR_NONE, Schema, closed, many, ref

_KINDS = {
    "enum": [
        *("horse", "saddle", "back", "study", "plan", "order", "visit", "comparison", "choice", "photo"),
    ]
}
_MADE = closed(
    {
        "written": TEXT,
        "pack": TEXT,
        "sha256": TEXT,
        "closed": FLAG,
        "holds": closed(
            {
                "horses": many(TEXT),
                "saddles": many(TEXT),
                "backs": COUNT,
                "fit_checks": COUNT,
                "plans": COUNT,
                "orders": COUNT,
                "visits": COUNT,
                "changes": COUNT,
                "shortlists": COUNT,
                "photos": COUNT,
                "films": COUNT,
                "enclosed": COUNT,
            }
        ),
    }
)
DEFINITIONS: Schema = {
    "pack_item": closed(
        {
            "kind": _KINDS,
            "pack_uuid": TEXT,
            "label": TEXT,
            "fate": {"enum": ["new", "here", "same_one", "like", "differs", "withdrawn"]},
            "uuid_here": TEXT_OR_NONE,
            "might_be": many(closed({"uuid": TEXT, "label": TEXT})),
            "differs_in": many(closed({"field": TEXT, "here": TEXT, "in_pack": TEXT})),
            "remark": TEXT,
        }
    ),
    "pack_key": closed({"line": TEXT, "fingerprint": TEXT}),
    "pack_trust": closed({"uuid": TEXT, "name": TEXT, "fingerprint": TEXT}),
    "pack_made": _MADE,
    "pack_check": closed(
        {
            "pack": TEXT,
            "sender": TEXT,
            "fingerprint": TEXT,
            "key": {"enum": ["own", "known", "new", "changed", "refused"]},
            "closed": FLAG,
            "answers": TEXT_OR_NONE,
            "message": TEXT,
            "work_done": many(TEXT),
            "questions": many(TEXT),
            "taken_before": FLAG,
            "records": many(ref("pack_item")),
        }
    ),
    "pack_take": closed(
        {
            "taken_pack": TEXT,
            "made": many(ref("pack_item")),
            "left": many(ref("pack_item")),
            "records": many(closed({"kind": _KINDS, "uuid": TEXT, "label": TEXT})),
        }
    ),
    "pack_fetch": closed({"written": TEXT, "bytes": COUNT}),
}
RESULTS = {
    "pack key": ("pack_key",),
    "pack trust": ("pack_trust",),
    "pack make": ("pack_made",),
    "pack answer": ("pack_made",),
    "pack check": ("pack_check",),
    "pack take": ("pack_take",),
    "pack fetch": ("pack_fetch",),
}
