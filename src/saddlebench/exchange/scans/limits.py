"""How large a mesh file may be, and what reading it may cost: stated once, and told to people."""

MAX_BYTES = 600_000_000
MAX_TEXT_BYTES = 250_000_000
"""Text costs some ten times its size to read; the same mesh as binary PLY or STL is a quarter of it."""
MAX_FACES = 8_000_000
MAX_VERTICES = 24_000_000
"""An STL file repeats each corner: three vertices for a face."""
CROP_ABOVE_FACES = 400_000
"""A mesh with more faces is first cut down to the neighbourhood of the marks; never thinned."""
MEMORY_BYTES = 3_000_000_000
"""Address space of the process that reads the file, where the system can limit it."""
CPU_SECONDS = 120
WALL_SECONDS_UNLIMITED = 240
"""By the clock, where the system cannot limit a process's computing: there nothing else ends a long one."""
_LOADED = 30
"""A busy machine may take so many times longer by the clock than a process computes."""
MAX_MARKS_BYTES = 64_000


def memory_for(n_bytes: int) -> int:
    """Return how much memory reading a file of so many bytes may take: a small one never more than 1 GB."""
    return min(MEMORY_BYTES, 950_000_000 + 15 * n_bytes)


def seconds_for(n_bytes: int) -> int:
    """Return how many seconds of computing reading a file of this size may take: a small one's are few."""
    return min(CPU_SECONDS, 4 + n_bytes // 2_000_000)


def wall_seconds_for(n_bytes: int, *, is_limited: bool) -> int:
    """Return after how many seconds by the clock reading is given up: long after its computing must be over.

    Parameters
    ----------
    n_bytes : of the file
    is_limited : whether the system ends a process that computes for longer than `seconds_for` says
    """
    return _LOADED * seconds_for(n_bytes) if is_limited else WALL_SECONDS_UNLIMITED
