"""Arrays in one piece for the pages' scripts: a length, a head in JSON, then their bytes."""

import json
from typing import Any

from numpy.typing import NDArray


def pack_arrays(arrays: dict[str, NDArray[Any]], **head: Any) -> bytes:
    """Return arrays (any shape, little-endian float32, uint32 or uint8) with what else the head says."""
    described, parts, offset = {}, [], 0
    for name, array in arrays.items():
        raw = array.tobytes()
        raw += b"\0" * (-len(raw) % 4)
        described[name] = {"type": array.dtype.name, "offset": offset, "length": int(array.size)}
        parts.append(raw)
        offset += len(raw)
    text = json.dumps({**head, "arrays": described}, ensure_ascii=False, allow_nan=False).encode()
    text += b" " * (-len(text) % 4)
    return len(text).to_bytes(4, "little") + text + b"".join(parts)
