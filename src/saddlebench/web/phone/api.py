"""Reading in what a phone kept, for other programs."""

from django.http import HttpRequest
from ninja import Router
from pydantic import JsonValue

from saddlebench.practice.enums import Action
from saddlebench.practice.queries.standing import standing_in
from saddlebench.web.base.interface import ByToken, Shape, actor_of, body_of, takes
from saddlebench.web.phone.journal import LARGEST_BYTES, ReadIn, read_journal

router = Router(tags=["phone"])
_FILE = takes("application/jsonl", {}, "The file that a phone saved of everything unsent, byte for byte.")


class UnsentHeldShape(Shape):
    """A value that was kept and not applied: somebody else had entered another."""

    field: str
    theirs: JsonValue
    by: str


class UnsentProblemShape(Shape):
    """Something of the file that was not taken in."""

    where: str
    what: str
    cure: str


class UnsentShape(Shape):
    """What became of a file of unsent entries."""

    entries: int
    counted: dict[str, int]
    photos: int
    held: list[UnsentHeldShape]
    problems: list[UnsentProblemShape]


@router.post("phone/unsent", auth=ByToken(Action.ENTER_VISIT), response=UnsentShape, openapi_extra=_FILE)
def read_unsent(request: HttpRequest) -> UnsentShape:
    """Take in what a phone kept and could not send; sent twice, it counts once."""
    result = read_journal(standing_in(actor_of(request)), body_of(request, LARGEST_BYTES))
    return told(result)


def told(result: ReadIn) -> UnsentShape:
    """Return what became of a file as it is sent."""
    return UnsentShape(
        entries=result.entries,
        counted=result.counted,
        photos=result.photos,
        held=[
            UnsentHeldShape(field=name, theirs=one.other.value, by=one.other.by)
            for name, one in result.held
            if one.other is not None
        ],
        problems=[
            UnsentProblemShape(where=str(one.where), what=one.what, cure=one.cure) for one in result.problems
        ],
    )
