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
WALL_SECONDS = 240
MAX_MARKS_BYTES = 64_000


def memory_for(n_bytes: int) -> int:
    """Return how much memory reading a file of so many bytes may take: a small one never more than 1 GB."""
    return min(MEMORY_BYTES, 950_000_000 + 15 * n_bytes)


def seconds_for(n_bytes: int) -> int:
    """Return how many seconds of computing reading a file of this size may take: a small one's are few."""
    return min(CPU_SECONDS, 4 + n_bytes // 2_000_000)
