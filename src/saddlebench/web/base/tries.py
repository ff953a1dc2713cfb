"""Counting wrong tries, so that nobody guesses passwords or codes by the thousand."""

from dataclasses import dataclass

from django.core.cache import cache

WINDOW_S = 15 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """How many wrong tries somebody has in a quarter of an hour."""

    key: str
    most: int

    def is_spent(self) -> bool:
        """Tell whether further tries are refused for now."""
        return int(cache.get(self.key, 0)) >= self.most

    def count(self) -> None:
        """Count a wrong try."""
        cache.add(self.key, 0, WINDOW_S)
        try:
            cache.incr(self.key)
        except ValueError:
            cache.set(self.key, 1, WINDOW_S)

    def clear(self) -> None:
        """Forget the wrong tries after a right one."""
        cache.delete(self.key)
