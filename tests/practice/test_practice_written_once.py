"""Rows of versions, entries, advice and audit: the database itself refuses to change them."""

from datetime import date

import pytest
from django.db import IntegrityError, connection, transaction
from practice_cast import Cast, key
from practice_invented import BACK, SADDLE, STUDY, invented_yard

from saddlebench.practice import services
from saddlebench.practice.enums import Subject
from saddlebench.practice.models import BackVersion, Comparison, OpenErasure
from saddlebench.practice.services import Entered
from saddlebench.practice.services.opinions import give_opinions

TABLES = (
    "practice_auditrow",
    "practice_entry",
    "practice_advice",
    "practice_opinion",
    "practice_backversion",
    "practice_saddleversion",
    "practice_studyversion",
    "practice_comparison",
    "practice_rebuildcheck",
)


@pytest.fixture
def filled(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    back = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=date(2026, 3, 1))
    saddle = services.record_saddle(cast.fitter, yard.saddle.uuid, SADDLE)
    services.record_study(
        cast.fitter, STUDY, back_version=back.version.uuid, saddle_version=saddle.version.uuid
    )
    rebuilt = services.Rebuilt(document=BACK, measured_on=date(2026, 3, 2), instrument="a comb")
    services.record_rebuild_check(cast.fitter, back.version.back.uuid, 1, rebuilt, tolerance_mm=2.0)
    Comparison.objects.create(
        practice_id=cast.fitter.practice_id,
        horse=yard.horse,
        kind="change",
        label="May to November",
        asked="x",
        made_of={},
        told={},
        schema_id="saddlebench change study 1",
        document="{}",
        sha256="x",
        engine_version="0",
        made_at=back.version.made_at,
        made_by_id=cast.fitter.user_id,
    )
    services.give_advice(cast.fitter, yard.visit.uuid, "Rest him")
    give_opinions(cast.fitter, key(), {"rocking": "fine"}, back_version=back.version.uuid)
    one = Entered(field="coat", value="winter", key=key(), seen=0)
    services.enter(cast.fitter, Subject.VISIT, yard.visit.uuid, [one])


def _run(statement: str) -> int:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
        return int(cursor.rowcount)


@pytest.mark.parametrize("table", TABLES)
def test_the_database_refuses_to_change_a_row(table: str, filled: None) -> None:
    with pytest.raises(IntegrityError, match="never changed"):
        _run(f"UPDATE {table} SET made_by_id = made_by_id")  # noqa: S608


@pytest.mark.parametrize("table", TABLES)
def test_the_database_refuses_to_take_a_row_out(table: str, filled: None) -> None:
    with pytest.raises(IntegrityError, match="rows are kept"):
        _run(f"DELETE FROM {table}")  # noqa: S608


def test_not_even_an_erasure_changes_a_version_or_takes_out_an_audit_row(cast: Cast, filled: None) -> None:
    OpenErasure.objects.create(opened_at="2026-03-01T00:00:00Z")
    with pytest.raises(IntegrityError, match="never changed"):
        _run("UPDATE practice_backversion SET document = ''")
    with pytest.raises(IntegrityError, match="rows are kept"):
        _run("DELETE FROM practice_auditrow")
    assert _run("DELETE FROM practice_advice") == 1


def test_the_program_cannot_change_one_either(cast: Cast, filled: None) -> None:
    version = BackVersion.objects.get()
    version.document = "{}"
    with pytest.raises(IntegrityError), transaction.atomic():
        version.save()
    assert BackVersion.objects.get().document == BACK.text
