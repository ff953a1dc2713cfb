"""A page asks the records as often whether there is one horse or many; and never often."""

import uuid as uuids
from collections.abc import Callable
from datetime import date

import pytest
from django.test.utils import CaptureQueriesContext
from web_cast import Cast, back_document, invented_yard

from saddlebench.practice import services
from saddlebench.practice.enums import Purpose, Subject

MOST_QUERIES = 15
PATHS = {
    "today": "/",
    "diary": "/diary/",
    "horses": "/horses/",
    "search": "/horses/?q=a",
    "people": "/people/",
    "yards": "/yards/",
    "saddles": "/saddles/",
    "withdrawn": "/withdrawn/",
    "members": "/practice/members/",
    "horse": "/horses/{horse}/",
    "edit": "/horses/{horse}/edit/",
    "timeline": "/horses/{horse}/timeline/",
    "client": "/people/{client}/",
    "yard": "/yards/{yard}/",
    "saddle": "/saddles/{saddle}/",
    "entries": "/records/horse/{horse}/entries/",
    "versions": "/records/back/{back}/versions/",
}


def more_of_everything(cast: Cast) -> None:
    """Twice as much as there was, on the same horse, client and yard too."""
    actor = cast.actors["owner"]
    invented_yard(actor, cast.here.member, name="Mabel More", horse="More", chip="985000123456791")
    horse, back = (uuids.UUID(cast.here[subject]) for subject in (Subject.HORSE, Subject.BACK))
    mates = [horse]
    for number in (2, 3):
        mate = services.take_on_horse(
            actor,
            {
                "label": f"Stablemate {number}",
                "client": cast.here[Subject.CLIENT],
                "yard": cast.here[Subject.YARD],
            },
        )
        mates.append(mate.uuid)
        visit = services.start_visit(actor, on=date(2026, 3, number), purpose=Purpose.RECHECK, horse=horse)
        services.record_back(actor, horse, back_document(70), measured_on=visit.date, visit_uuid=visit.uuid)
        services.correct_back(actor, back, back_document(70 + number), why="again", seen=number)
        services.withdraw(actor, Subject.VISIT, visit.uuid)
        entry = services.Entered(field="breed", value=f"Breed {number}", key=uuids.uuid4(), seen=number)
        services.enter(actor, Subject.HORSE, horse, [entry])
    services.use_saddle_on(actor, uuids.UUID(cast.here[Subject.SADDLE]), mates)


@pytest.mark.parametrize("name", PATHS)
def test_as_many_queries_with_more_records(
    cast: Cast, name: str, count_queries: Callable[[], CaptureQueriesContext]
) -> None:
    path = PATHS[name].format(**{one.value: cast.here[one] for one in Subject if one in cast.here.uuids})
    back = uuids.UUID(cast.here[Subject.BACK])
    services.correct_back(cast.actors["owner"], back, back_document(69), why="first", seen=1)
    client = cast.browser("owner")
    assert client.get(path).status_code == 200
    with count_queries() as few:
        before = client.get(path).content
    more_of_everything(cast)
    with count_queries() as many:
        after = client.get(path).content
    assert len(many) == len(few), "\n".join(one["sql"][:120] for one in many.captured_queries)
    assert len(many) <= MOST_QUERIES, "\n".join(one["sql"][:120] for one in many.captured_queries)
    assert name in {"members", "edit"} or len(after) > len(before)
    # Without pictures a page weighs little; the styles and the script are fetched once.
    assert len(after) < 100_000
