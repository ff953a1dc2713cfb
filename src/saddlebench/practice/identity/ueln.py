"""Universal equine life numbers: country (3), studbook database (3), national number (9)."""

import re
from dataclasses import dataclass

from saddlebench.engine.errors import input_problem

LENGTH = 15
_NUMBER_LENGTH = 9
_SEPARATORS = re.compile(r"[\s.\-]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ueln:
    """A valid number in its three parts. There is no check digit that all countries share."""

    country: str
    database: str
    number: str

    @property
    def code(self) -> str:
        """The fifteen characters."""
        return self.country + self.database + self.number


def read_ueln(text: str) -> Ueln:
    """Return the life number that a text states; blanks, dots and dashes are left out.

    Raises
    ------
    InputProblemsError
        If it is not fifteen letters and digits, or does not start with a three-digit country.
    """
    code = _SEPARATORS.sub("", text).upper()
    if not re.fullmatch(r"[0-9A-Z]{15}", code):
        what = f"a life number (UELN) has 15 letters and digits; this has {len(code)} characters"
        raise input_problem(what, "Copy it from the first page of the passport.")
    if not code[:3].isdigit() or code[:3] == "000":
        msg = f"a life number (UELN) starts with the country's three digits; this starts with {code[:3]}"
        raise input_problem(
            msg,
            "Copy it from the first page of the passport.",
        )
    return Ueln(country=code[:3], database=code[3:6], number=code[6:])


def compose_ueln(country: str, database: str, national_number: str) -> Ueln:
    """Return the life number of a studbook's own number: signs become 0, zeros are put in front.

    Raises
    ------
    InputProblemsError
        If the parts do not make fifteen letters and digits.
    """
    own = re.sub(r"[^0-9A-Z]", "0", national_number.strip().upper())
    if not own or len(own) > _NUMBER_LENGTH:
        what = f"a studbook's number has 1 to {_NUMBER_LENGTH} characters; this has {len(own)}"
        raise input_problem(what, "Copy it from the studbook's papers.")
    return read_ueln(country.strip() + database.strip() + own.rjust(_NUMBER_LENGTH, "0"))
