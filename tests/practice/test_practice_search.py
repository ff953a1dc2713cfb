"""A horse is found by any part of anything, whatever was changed last."""

import pytest
from practice_cast import Cast, key
from practice_invented import UELN, invented_yard

from saddlebench.practice import queries, services
from saddlebench.practice.enums import Holding, Subject
from saddlebench.practice.services import Entered


def _found(cast: Cast, text: str) -> list[str]:
    return [row.label for row in queries.find_horses(cast.fitter, text).rows]


@pytest.mark.parametrize(
    "text",
    ["junip", "JUNIPER", "6789", "98500012", "fernl", "wilma", "0123", "ash liv", "zz9", "7781", "brown",
     "panelled", "cob", "2014", "15.2", "fernlea juniper", "brown wilma 2014", "dunmoor"],
)  # fmt: skip
def test_any_part_of_anything_finds_it(cast: Cast, text: str) -> None:
    invented_yard(cast.fitter)
    services.take_on_horse(cast.fitter, {"label": "Sorrel"})
    assert _found(cast, text) == ["Juniper"]


def test_nothing_that_is_not_there_is_found(cast: Cast) -> None:
    invented_yard(cast.fitter)
    assert _found(cast, "juniper nettle") == []
    assert _found(cast, "%") == []
    assert _found(cast, "_uniper") == []
    assert len(_found(cast, "   ")) == 1


def test_case_and_accents_do_not_matter(cast: Cast) -> None:
    services.take_on_horse(cast.fitter, {"label": "Zoë von Öhringen", "ueln": UELN.lower()})
    assert _found(cast, "zoe OHRINGEN") == ["Zoë von Öhringen"]
    assert _found(cast, "ZOË") == ["Zoë von Öhringen"]
    assert _found(cast, "00155928m") == ["Zoë von Öhringen"]


def _say(cast: Cast, subject: Subject, uuid: object, field: str, value: str) -> None:
    services.enter(
        cast.fitter,
        subject,
        uuid,
        [Entered(field=field, value=value, key=key(), seen=99)],  # type: ignore[arg-type]
    )


def test_every_kind_of_change_is_found_at_once(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    _say(cast, Subject.HORSE, yard.horse.uuid, "colour", "strawberry roan")
    assert _found(cast, "strawberry") == ["Juniper"]
    _say(cast, Subject.CLIENT, yard.client.uuid, "label", "Wilma Marchbank")
    assert (_found(cast, "marchbank"), _found(cast, "wilma fernlea")) == (["Juniper"], ["Juniper"])
    _say(cast, Subject.CLIENT, yard.client.uuid, "email", "w@marchbank.example")
    assert _found(cast, "fernlea") == []
    _say(cast, Subject.YARD, yard.yard.uuid, "label", "Far Ings")
    assert (_found(cast, "far ings"), _found(cast, "hollow")) == (["Juniper"], [])
    _say(cast, Subject.SADDLE, yard.saddle.uuid, "serial", "TT-0042")
    assert (_found(cast, "tt-0042"), _found(cast, "7781")) == (["Juniper"], [])
    services.use_saddle_on(cast.fitter, yard.saddle.uuid, [])
    assert _found(cast, "tt-0042") == []
    services.use_saddle_on(cast.fitter, yard.saddle.uuid, [yard.horse.uuid])
    services.move_to_stock(cast.fitter, yard.saddle.uuid)
    assert _found(cast, "tt-0042") == []
    services.use_saddle_on(cast.fitter, yard.saddle.uuid, [yard.horse.uuid])
    services.withdraw(cast.fitter, Subject.SADDLE, yard.saddle.uuid)
    assert _found(cast, "tt-0042") == []
    services.put_back(cast.fitter, Subject.SADDLE, yard.saddle.uuid)
    assert _found(cast, "tt-0042") == ["Juniper"]
    other = services.take_on_client(cast.fitter, {"label": "Perran Holt"})
    _say(cast, Subject.HORSE, yard.horse.uuid, "client", str(other.uuid))
    assert (_found(cast, "perran"), _found(cast, "marchbank")) == (["Juniper"], [])


def test_a_withdrawn_horse_is_not_found_until_it_is_put_back(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    services.withdraw(cast.fitter, Subject.HORSE, yard.horse.uuid)
    assert _found(cast, "juniper") == []
    services.put_back(cast.fitter, Subject.HORSE, yard.horse.uuid)
    assert _found(cast, "juniper") == ["Juniper"]


def test_long_lists_come_in_pages(cast: Cast) -> None:
    for number in range(53):
        services.take_on_horse(cast.fitter, {"label": f"Horse {number:02d}"})
    first, second = (queries.find_horses(cast.fitter, "horse", page=page) for page in (1, 99))
    assert (first.total, first.pages, len(first.rows)) == (53, 2, 50)
    assert (second.page, [row.label for row in second.rows]) == (2, ["Horse 50", "Horse 51", "Horse 52"])


def test_clients_and_saddles_are_found_whatever_the_case_and_accent(cast: Cast) -> None:
    client = services.take_on_client(cast.fitter, {"label": "Åsa Ödegård", "town": "Dunmoor"})
    services.take_on_saddle(cast.fitter, {"label": "Élégante", "client": str(client.uuid)})
    for text in ("asa", "ÖDEGÅRD", "odegard dunm"):
        assert [row.label for row in queries.find_clients(cast.fitter, text).rows] == ["Åsa Ödegård"]
        assert queries.find_clients(cast.fitter, f"{text} x").total == 0
    for text in ("elegante", "ÉLÉG", "åsa"):
        assert [row.label for row in queries.find_saddles(cast.fitter, text).rows] == ["Élégante"]
    assert queries.find_saddles(cast.workshop, "åsa").total == 0


def test_clients_and_saddles_are_found_too(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    assert [r.label for r in queries.find_clients(cast.fitter, "dunm 960").rows] == ["Wilma Fernlea"]
    assert queries.find_clients(cast.fitter, "nobody").total == 0
    assert [r.label for r in queries.find_saddles(cast.fitter, "7781").rows] == ["Brown jumping"]
    stock = queries.find_saddles(cast.fitter, holding=Holding.STOCK)
    assert [row.uuid for row in stock.rows] == [yard.stock.uuid]
