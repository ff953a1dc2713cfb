"""One way to compile a kernel: no Python objects, no global lock, cached, strict floating point."""

from collections.abc import Callable
from typing import Any, TypeVar

import numba

_F = TypeVar("_F", bound=Callable[..., Any])


def compiled(function: _F) -> _F:
    """Compile a loop kernel on first call; threads may run it at the same time."""
    return numba.njit(cache=True, nogil=True, error_model="numpy")(function)


def compiled_inline(function: _F) -> _F:
    """Compile a small formula that is folded into the kernels that call it."""
    return numba.njit(inline="always", error_model="numpy")(function)
