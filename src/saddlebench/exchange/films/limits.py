"""How large and how long a film may be, and what is said of one that is broken or too long."""

from typing import Final

from saddlebench.engine.errors import InputProblemsError, input_problem

LARGEST_FILM_BYTES: Final = 150 << 20
LONGEST_FILM_S: Final = 180.0


def broken() -> InputProblemsError:
    """Return the refusal of a film whose parts cannot be read."""
    return input_problem("the film is broken", "Film it again, or choose another file.")


def refuse_if_long(seconds: float) -> None:
    """Refuse a film that is not short.

    Raises
    ------
    InputProblemsError
        If it is longer than three minutes.
    """
    if seconds > LONGEST_FILM_S:
        what = f"the film is longer than {LONGEST_FILM_S / 60:g} minutes"
        raise input_problem(what, "Cut out what shows the horse.")
