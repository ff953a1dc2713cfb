"""Films in packs: what kind they really are, and that nothing in them tells place, names or device."""

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.exchange.films.cleaning import clean_film

_WEBM, _BOXES, _QUICKTIME = b"\x1aE\xdf\xa3", b"ftyp", b"qt  "


def bare_film(content: bytes, name: str, media_type: str) -> bytes:
    """Return a film without place, names and device; its bytes stay as they are if they told none of it.

    Raises
    ------
    InputProblemsError
        If it is of another kind than said, broken, too large or too long.
    """
    if _kind_of(content) != media_type:
        raise input_problem(f"“{name}” is no film of the kind that it says", "Leave it out.")  # noqa: EM102
    try:
        return clean_film(content, media_type)
    except InputProblemsError as error:
        where = Where(file=name)
        raise InputProblemsError(
            [Problem(what=one.what, cure="Leave it out.", where=where) for one in error.problems]
        ) from None


def _kind_of(content: bytes) -> str:
    if content[:4] == _WEBM:
        return "video/webm"
    if content[4:8] != _BOXES:
        return ""
    return "video/quicktime" if content[8:12] == _QUICKTIME else "video/mp4"
