"""The photos of a visit: a usual list, and how a practice writes its own."""

from dataclasses import dataclass

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue.field import Field, Value
from saddlebench.practice.catalogue.reading import read_value

MOST_SHOTS = 40
_WORDS = Field(name="shot", words="Shot", max_length=80)
_NAME_LENGTH = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One photo that is taken at a visit."""

    name: str
    """Kept with the photo: it stays when the words are improved."""
    words: str


USUAL_SHOTS = (
    Shot(name="near_side", words="Near side, standing square"),
    Shot(name="off_side", words="Off side, standing square"),
    Shot(name="front", words="From the front"),
    Shot(name="behind", words="From behind"),
    Shot(name="back_from_behind", words="Back from above and behind"),
    Shot(name="saddle_near", words="Old saddle on, near side"),
    Shot(name="saddle_behind", words="Old saddle on, from behind"),
    Shot(name="panels", words="Panels of the saddle, underside"),
    Shot(name="rider_near", words="Rider up, near side"),
    Shot(name="rider_behind", words="Rider up, from behind"),
    Shot(name="sweat", words="Sweat and dirt pattern"),
)


def shots_of_rows(rows: list[Value]) -> tuple[Shot, ...]:
    """Return a practice's shots as they are kept; the usual ones where it has none of its own."""
    kept = [row for row in rows if isinstance(row, dict)]
    return tuple(Shot(name=str(row["name"]), words=str(row["words"])) for row in kept) or USUAL_SHOTS


def read_shots(text: str, before: tuple[Shot, ...]) -> tuple[Shot, ...]:
    """Return the shots that a text lists, one a line; those that were there before keep their name.

    Raises
    ------
    InputProblemsError
        If there are too many, one is too long, or one stands there twice.
    """
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    problems: list[Problem] = []
    for number, line in enumerate(lines[: MOST_SHOTS + 1], start=1):
        try:
            read_value(_WORDS, line)
        except InputProblemsError as error:
            problems += [Problem(what=p.what, cure=p.cure, where=Where(row=number)) for p in error.problems]
        if line.casefold() in {other.casefold() for other in lines[: number - 1]}:
            problems.append(Problem(what="stands there twice", cure="Take one out.", where=Where(row=number)))
    if len(lines) > MOST_SHOTS:
        what = f"{len(lines)} shots are more than the {MOST_SHOTS} that a visit has time for"
        problems.append(Problem(what=what, cure="Take some out."))
    if problems:
        raise InputProblemsError(problems)
    names = {shot.words.casefold(): shot.name for shot in (*USUAL_SHOTS, *before)}
    taken: set[str] = set()
    shots = []
    for line in lines:
        name = _free_name(names.get(line.casefold()) or _name_of(line), taken)
        taken.add(name)
        shots.append(Shot(name=name, words=line))
    return tuple(shots)


def _name_of(words: str) -> str:
    plain = "".join(letter if letter.isalnum() else "_" for letter in words.casefold())
    return plain[: _NAME_LENGTH - 4].strip("_") or "shot"


def _free_name(name: str, taken: set[str]) -> str:
    numbered = (f"{name}_{number}" for number in range(2, MOST_SHOTS + 2))
    return name if name not in taken else next(one for one in numbered if one not in taken)
