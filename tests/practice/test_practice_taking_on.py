"""People, yards, horses and saddles are taken on once, whole, with their author."""

import uuid as uuids

import pytest
from practice_cast import Cast
from practice_invented import CHIP, invented_yard

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import services
from saddlebench.practice.enums import Holding, Subject
from saddlebench.practice.models import AuditRow, Client, Entry, Horse


def test_a_horse_keeps_what_was_said_and_by_whom(cast: Cast) -> None:
    horse = invented_yard(cast.fitter).horse
    again = Horse.objects.get(uuid=horse.uuid)
    assert (again.label, again.microchip, again.born_in) == ("Juniper", CHIP, 2014)
    assert again.height_cm == pytest.approx(
        157.5, abs=0.05
    )  # 15.2 hands: 62 inches of 2.54 cm, one decimal kept
    said = {entry.field: entry.value for entry in Entry.objects.filter(subject_uuid=horse.uuid)}
    assert said["client"] == str(again.client.uuid)
    assert said["microchip"] == CHIP
    audit = AuditRow.objects.get(subject_uuid=horse.uuid)
    assert (audit.deed, audit.made_by_id) == ("take_on", cast.fitter.user_id)


def test_sending_it_again_is_no_second_client(cast: Cast) -> None:
    uuid = uuids.uuid4()
    first = services.take_on_client(cast.fitter, {"label": "Wilma Fernlea"}, uuid)
    second = services.take_on_client(cast.fitter, {"label": "Wilma Fernlea"}, uuid)
    assert first.pk == second.pk
    assert Client.objects.of(cast.practice.pk).count() == 1
    assert AuditRow.objects.filter(subject_uuid=uuid).count() == 1


def test_every_problem_is_told_at_once(cast: Cast) -> None:
    with pytest.raises(InputProblemsError) as caught:
        services.take_on_horse(
            cast.fitter, {"microchip": "12", "born_in": "soon", "height_cm": "9000", "hat": "x"}
        )
    assert sorted(problem.where.field for problem in caught.value.problems) == [
        "Height",
        "Microchip number",
        "Name",
        "Year of birth",
        "hat",
    ]
    assert not Horse.objects.exists()


def test_a_chip_belongs_to_one_horse_and_the_other_is_named(cast: Cast) -> None:
    invented_yard(cast.fitter)
    with pytest.raises(InputProblemsError, match="Juniper"):
        services.take_on_horse(cast.fitter, {"label": "Sorrel", "microchip": CHIP})


def test_another_practice_may_know_the_same_horse(cast: Cast) -> None:
    invented_yard(cast.fitter)
    assert services.take_on_horse(cast.other, {"label": "Juniper", "microchip": CHIP}).microchip == CHIP


def test_another_practices_client_cannot_be_named(cast: Cast) -> None:
    theirs = services.take_on_client(cast.other, {"label": "Not Yours"})
    with pytest.raises(InputProblemsError, match="not in this practice"):
        services.take_on_horse(cast.fitter, {"label": "Sorrel", "client": str(theirs.uuid)})


def test_stock_has_no_client_until_it_is_sold(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    with pytest.raises(InputProblemsError, match="stock"):
        services.take_on_saddle(
            cast.fitter, {"label": "x", "client": str(yard.client.uuid)}, holding=Holding.STOCK
        )
    with pytest.raises(InputProblemsError, match="Sell it"):
        services.enter(
            cast.fitter,
            Subject.SADDLE,
            yard.stock.uuid,
            [services.Entered(field="client", value=str(yard.client.uuid), key=uuids.uuid4(), seen=0)],
        )
    sold = services.sell_from_stock(cast.fitter, yard.stock.uuid, yard.client.uuid)
    assert (sold.holding, sold.client) == (Holding.CLIENT, yard.client)
    back = services.move_to_stock(cast.fitter, yard.stock.uuid)
    assert (back.holding, back.client) == (Holding.STOCK, None)
