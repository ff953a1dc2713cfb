"""Where the work is done: here, in other processes, or on other machines; the results are the same.

A pool calls `work(shared, item)` for every item and hands the answers back as they come, each with the number
of its item. The functions are pure, and nothing depends on who computes which item, or when.
"""

from collections.abc import Callable, Iterator, Sequence
from typing import Any, Protocol, TypeVar

_Shared = TypeVar("_Shared")
_Item = TypeVar("_Item")
_Answer = TypeVar("_Answer")


class Pool(Protocol):
    """Somewhere to compute."""

    @property
    def workers(self) -> int:
        """How many items are computed at once."""

    def run(
        self, work: Callable[[Any, Any], Any], shared: Any, items: Sequence[Any]
    ) -> Iterator[tuple[int, Any]]:
        """Yield `(number of the item, work(shared, item))` as they are done, in any order.

        Closing the iterator calls off what was not begun.
        """


class OneProcess:
    """Computes here, one item after the other."""

    @property
    def workers(self) -> int:
        """One."""
        return 1

    def run(
        self, work: Callable[[_Shared, _Item], _Answer], shared: _Shared, items: Sequence[_Item]
    ) -> Iterator[tuple[int, _Answer]]:
        """Yield the answers in order."""
        for number, item in enumerate(items):
            yield number, work(shared, item)


HERE = OneProcess()


def in_chunks(items: Sequence[_Item], size: int) -> list[tuple[_Item, ...]]:
    """Return the items in runs of at most `size`."""
    return [tuple(items[k : k + size]) for k in range(0, len(items), size)]
