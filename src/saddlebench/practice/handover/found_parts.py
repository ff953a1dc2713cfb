"""Change studies and shortlists as a pack holds them."""

import hashlib
import json
import uuid as uuids
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.packs.document import ChangePart, ComparedPart, ShortlistPart, VersionPart
from saddlebench.practice.enums import ChoiceKind, ComparisonKind
from saddlebench.practice.models import BackVersion, Choice, Comparison, Horse
from saddlebench.practice.models.base import Withdrawable
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.deeds import NotFoundError

Named = Callable[[Withdrawable | Comparison], str]


def compared_backs(actor: Actor, uuid: uuids.UUID) -> tuple[Comparison, list[BackVersion]]:
    """Return a change study with the versions of backs that it compared, in its order.

    Raises
    ------
    NotFoundError
        If the practice has no such change study.
    InputProblemsError
        If one of the backs was withdrawn, or erased, meanwhile.
    """
    rows = Comparison.objects.filter(
        practice_id=actor.practice_id, uuid=uuid, kind=ComparisonKind.CHANGE.value
    )
    row = rows.filter(horse__withdrawn_at=None).select_related("horse", "made_by").first()
    if row is None:
        raise NotFoundError("change study", uuid)
    names = [uuids.UUID(one["version"]) for one in row.made_of["backs"]]
    found = BackVersion.objects.filter(
        uuid__in=names, back__practice_id=actor.practice_id, back__withdrawn_at=None
    ).select_related("back__horse", "made_by")
    by_name = {one.uuid: one for one in found}
    if set(by_name) != set(names):
        what = f"a back that “{row.label}” compared is not here any more"
        raise input_problem(what, "Leave the change study out, or put the back back.")
    return row, [by_name[one] for one in names]


def change_part(
    row: Comparison, versions: Sequence[BackVersion], named: Named, version: VersionPart
) -> ChangePart:
    """Return a change study's part of a pack."""
    return ChangePart(
        uuid=named(row),
        horse=named(row.horse),
        label=row.label,
        backs=tuple(ComparedPart(back=named(one.back), sha256=one.sha256) for one in versions),
        version=version,
    )


def horse_of_shortlist(choice: Choice) -> Horse:
    """Return the horse that a shortlist is for.

    Raises
    ------
    InputProblemsError
        If it is another kind of choice: those name horses of other owners.
    """
    if choice.kind != ChoiceKind.SHORTLIST.value or choice.horse is None:
        what = f"“{choice.label}” names more than one horse"
        raise input_problem(what, "Hand over a shortlist of one horse.")
    return choice.horse


def shortlist_text(choice: Choice, origins: Mapping[uuids.UUID, uuids.UUID]) -> bytes:
    """Return a shortlist's document, its saddles by the names that they have in packs."""
    from saddlebench.exchange.records import as_json  # noqa: PLC0415
    from saddlebench.exchange.records.shortlist import ShortlistDocument  # noqa: PLC0415

    names = {str(local): str(origin) for local, origin in origins.items()}
    found = renamed(json.loads(choice.document), names)
    return as_json(ShortlistDocument.of(found)).encode("utf-8")


def renamed(found: dict[str, object], names: Mapping[str, str]) -> dict[str, object]:
    """Return a shortlist as it is told to machines, with its saddles called otherwise."""

    def call(name: object) -> str:
        return names.get(str(name), str(name))

    entries: list[dict[str, object]] = found["entries"]  # type: ignore[assignment]
    called = [
        {
            **one,
            "number": call(one["number"]),
            **{key: [call(other) for other in one[key]] for key in ("level_with", "alike")},  # type: ignore[attr-defined]
        }
        for one in entries
    ]
    return {**found, "entries": called}


def shortlist_part(
    row: Choice, named: Named, file: str, content: bytes, *, names_people: bool
) -> ShortlistPart:
    """Return a shortlist's part of a pack."""
    version = VersionPart(
        file=file,
        sha256=hashlib.sha256(content).hexdigest(),
        number=1,
        recorded_at=row.made_at.astimezone(UTC).isoformat(),
        recorded_by=row.made_by.label if names_people else "",
        engine_version=row.engine_version,
    )
    return ShortlistPart(
        uuid=named(row), horse=named(horse_of_shortlist(row)), label=row.label, version=version
    )
