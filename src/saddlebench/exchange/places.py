"""Places along a back as a person writes them."""

from saddlebench.engine.errors import Where, input_problem


def place_words(distance_mm: float) -> str:
    """Return where something lies along the back, as a fitter says it."""
    if abs(distance_mm) < 0.5:
        return "at the shoulder mark"
    where = "behind" if distance_mm > 0 else "in front of"
    return f"{abs(round(distance_mm, 1)):g} mm {where} the shoulder mark"


def read_places(text: str, where: Where | None = None) -> tuple[float, ...] | None:
    """Return distances behind the shoulder mark from “-40, 0, 120”, (n,) [mm]; None where nothing is written.

    Raises
    ------
    InputProblemsError
        If it is no list of numbers.
    """
    parts = text.replace(";", " ").replace(",", " ").split()
    try:
        places = tuple(float(part) for part in parts)
    except ValueError:
        places = (float("nan"),)
    if not all(abs(one) < 1e5 for one in places):
        what = f"“{text[:60]}” is no list of distances"
        raise input_problem(what, "Write it as “-40, 0, 120”.", where)
    return places or None
