"""Numbers as they are typed on the pages of tracings, and as they are shown there: in the reader's way."""

from collections.abc import Sequence

from django.utils.formats import number_format

from saddlebench.engine.errors import Problem, Where
from saddlebench.engine.units import parse_number

_NONE = {"-", "–", "—"}


def typed_number(
    text: str, words: str, problems: list[Problem], *, usual: float | None = None
) -> float | None:
    """Return a number; `usual` where none is typed, or none that can be read, which is noted."""
    if not text.strip():
        return usual
    read = parse_number(text, Where(field=words))
    if isinstance(read, Problem):
        problems.append(read)
        return usual
    return read


def typed_numbers(
    text: str, words: str, problems: list[Problem], *, has_gaps: bool = False
) -> tuple[float | None, ...]:
    """Return numbers with spaces, commas or semicolons between; a dash is None where there may be gaps."""
    found: list[float | None] = []
    for part in text.replace(";", " ").replace(", ", " ").split():
        bare = part.strip(",")
        if has_gaps and bare in _NONE:
            found.append(None)
        elif bare:
            read = parse_number(bare, Where(field=words))
            if isinstance(read, Problem):
                problems.append(read)
            else:
                found.append(read)
    return tuple(found)


def shown_number(value: float, digits: int | None = None) -> str:
    """Return a number as it would be typed; without `digits`, with as many as it has."""
    return number_format(f"{value:g}" if digits is None else f"{value:.{digits}f}", digits)


def shown_numbers(values: Sequence[float | None]) -> str:
    """Return a list of numbers as it is typed; a dash where there is none."""
    return " ".join("-" if one is None else shown_number(one) for one in values)
