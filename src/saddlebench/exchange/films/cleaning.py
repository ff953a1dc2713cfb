"""Short films: their limits, and taking out of them where and by whom they were taken."""

from typing import Final

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.films.limits import LARGEST_FILM_BYTES
from saddlebench.exchange.films.matroska import clean_webm
from saddlebench.exchange.films.movie_boxes import clean_mp4

_CLEANERS: Final = {"video/webm": clean_webm, "video/mp4": clean_mp4, "video/quicktime": clean_mp4}


def clean_film(content: bytes, media_type: str) -> bytes:
    """Return a film that does not tell place, names and device; every frame stays where it was.

    Raises
    ------
    InputProblemsError
        If it is too large or too long, its parts cannot be read, or something that may tell the place
        cannot be taken out.
    """
    if len(content) > LARGEST_FILM_BYTES:
        what = f"the film is larger than {LARGEST_FILM_BYTES >> 20} MB"
        raise input_problem(what, "Cut it shorter, or film at a smaller size.")
    return _CLEANERS[media_type](content)
