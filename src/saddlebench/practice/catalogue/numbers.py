"""Numbers as they are typed: decimal comma and point both taken, what can be read two ways asked about."""

import math
import re

from saddlebench.engine.errors import input_problem

_PLAIN = re.compile(r"[+\-−]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)")
_GROUPED = re.compile(r"[+\-−]?[1-9][0-9]{0,2}[.,][0-9]{3}")
_LONGEST = 24


def read_number(text: str) -> float:
    """Return the number that a text states, with a comma or a point before its decimals.

    Raises
    ------
    InputProblemsError
        If it is no number, or could be read two ways: “1,234” is 1.234 or 1234.
    """
    trimmed = text.strip().replace("\N{NO-BREAK SPACE}", "")
    if len(trimmed) > _LONGEST or not _PLAIN.fullmatch(trimmed):
        shown = trimmed if len(trimmed) <= _LONGEST else trimmed[:_LONGEST] + "…"
        msg = f"“{shown}” is not a number"
        raise input_problem(msg, "Write digits with one comma or point, such as 12,5.")
    if _GROUPED.fullmatch(trimmed):
        whole = re.sub(r"[.,]", "", trimmed)
        decimal = trimmed.replace(",", ".")
        msg = f"“{trimmed}” can be read as {whole} or as {decimal}"
        raise input_problem(
            msg,
            f"Write {whole} without a sign, or {decimal}0 with one more decimal.",
        )
    number = float(trimmed.replace(",", ".").replace("−", "-"))
    if not math.isfinite(number):
        msg = f"“{trimmed}” is not a number"
        raise input_problem(msg, "Write digits with one comma or point.")
    return number
