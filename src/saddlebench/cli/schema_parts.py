"""What the JSON Schemas of commands' output are put together from."""

from typing import Any

Schema = dict[str, Any]
TEXT: Schema = {"type": "string"}
NUMBER: Schema = {"type": "number"}
COUNT: Schema = {"type": "integer", "minimum": 0}
FLAG: Schema = {"type": "boolean"}
TEXT_OR_NONE: Schema = {"type": ["string", "null"]}
NUMBER_OR_NONE: Schema = {"type": ["number", "null"]}
INTERVAL: Schema = {"type": "array", "items": NUMBER, "minItems": 2, "maxItems": 2}
VERDICT: Schema = {"enum": ["fine", "borderline", "not right", "cannot tell"]}
SHARE: Schema = {"type": "number", "minimum": 0, "maximum": 1}


def closed(properties: Schema, *, optional: tuple[str, ...] = ()) -> Schema:
    """Return the schema of an object that has these properties and no others."""
    required = [name for name in properties if name not in optional]
    return {"type": "object", "properties": properties, "required": required, "additionalProperties": False}


def many(items: Schema) -> Schema:
    """Return the schema of a list."""
    return {"type": "array", "items": items}


def ref(name: str) -> Schema:
    """Return a reference to a definition."""
    return {"$ref": f"#/$defs/{name}"}
