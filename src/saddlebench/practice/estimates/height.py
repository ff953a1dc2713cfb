"""A horse's height in hands: 15.2 means fifteen hands and two inches, a hand being four inches."""

import re

from saddlebench.engine.errors import input_problem

CM_PER_INCH = 2.54
INCHES_PER_HAND = 4
_HANDS = re.compile(r"([0-9]{1,2})(?:[.,]([0-3])(?:½|[.,]5)?)?")
_HALF = re.compile(r"(?:½|[.,][0-3][.,]5)$")


def height_as_hands(height_cm: float) -> str:
    """Return the height in hands and whole inches, as it is said: “15.2”."""
    inches = round(height_cm / CM_PER_INCH)
    return f"{inches // INCHES_PER_HAND}.{inches % INCHES_PER_HAND}"


def height_from_hands(text: str) -> float:
    """Return the height [cm] of a text such as “15.2” or “15.2½”.

    Raises
    ------
    InputProblemsError
        If it is not hands and inches (after the point there are 0 to 3 inches, never more).
    """
    match = _HANDS.fullmatch(text.strip())
    if match is None:
        msg = f"“{text}” is not a height in hands: after the point stand 0 to 3 inches"
        raise input_problem(
            msg,
            "Write it as 15.2, or give centimetres.",
        )
    half = 0.5 if _HALF.search(text.strip()) else 0.0
    inches = int(match[1]) * INCHES_PER_HAND + int(match[2] or 0) + half
    return inches * CM_PER_INCH
