"""Twenty people writing at once: no error, no lost write, no write twice."""

import threading
import uuid as uuids
from collections.abc import Callable

from django.db import connection
from practice_cast import Cast, key
from practice_invented import BACK, invented_yard

from saddlebench.practice import services
from saddlebench.practice.catalogue import VISIT_FIELDS, Kind
from saddlebench.practice.enums import Outcome, Subject
from saddlebench.practice.models import Answer, AuditRow, Back, Client, Entry, Visit
from saddlebench.practice.services import Entered

N_WRITERS = 20
LONG = [name for name, field in VISIT_FIELDS.items() if field.kind is Kind.LONG_TEXT]


def _all_at_once(work: Callable[[int], object]) -> list[BaseException]:
    """Let every writer start at the same moment; return what went wrong."""
    gate = threading.Barrier(N_WRITERS)
    failures: list[BaseException] = []

    def run(number: int) -> None:
        try:
            gate.wait()
            work(number)
        except BaseException as error:  # noqa: BLE001 - whatever it is, the test must name it
            failures.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(number,)) for number in range(N_WRITERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return failures


def test_twenty_writers_into_one_visit_lose_nothing(own_cast: Cast) -> None:
    visit = invented_yard(own_cast.fitter).visit
    audited = AuditRow.objects.count()

    def write(number: int) -> None:
        for turn in range(3):
            entered = Entered(
                field=LONG[number % len(LONG)], value=f"writer {number} turn {turn}", key=key(), seen=0
            )
            services.enter(own_cast.fitter, Subject.VISIT, visit.uuid, [entered])

    assert _all_at_once(write) == []
    kept = Entry.objects.filter(subject_uuid=visit.uuid)
    assert {entry.value for entry in kept} == {
        f"writer {n} turn {t}" for n in range(N_WRITERS) for t in range(3)
    }
    assert AuditRow.objects.count() == audited + N_WRITERS * 3
    saved = kept.filter(outcome=Outcome.SAVED)
    # Each field has one winner, everybody else's value is held beside it; no revision is skipped.
    fields = {LONG[number % len(LONG)] for number in range(N_WRITERS)}
    assert sorted(entry.field for entry in saved) == sorted(fields)
    assert sorted(entry.revision for entry in saved) == list(range(1, len(fields) + 1))
    assert Visit.objects.get(pk=visit.pk).revision == len(fields)
    assert Answer.objects.filter(subject_uuid=visit.uuid).count() == len(fields)


def test_one_entry_sent_twenty_times_at_once_is_one_entry(own_cast: Cast) -> None:
    visit = invented_yard(own_cast.fitter).visit
    one = Entered(field="reason", value="Sent again and again", key=key(), seen=0)
    results: list[object] = []

    def send(_number: int) -> None:
        results.extend(services.enter(own_cast.fitter, Subject.VISIT, visit.uuid, [one]))

    assert _all_at_once(send) == []
    assert Entry.objects.filter(subject_uuid=visit.uuid).count() == 1
    assert len(results) == N_WRITERS
    assert len({repr(result) for result in results}) == 1


def test_twenty_who_take_on_and_correct_at_once(own_cast: Cast) -> None:
    yard = invented_yard(own_cast.fitter)
    clients = Client.objects.count()
    back = services.record_back(
        own_cast.fitter, yard.horse.uuid, BACK, measured_on=yard.visit.date
    ).version.back

    def work(number: int) -> None:
        services.take_on_client(own_cast.fitter, {"label": f"Client {number}"}, uuids.UUID(int=number + 1))
        services.correct_back(own_cast.fitter, back.uuid, BACK, why=f"correction {number}", seen=1)

    assert _all_at_once(work) == []
    assert Client.objects.count() == clients + N_WRITERS
    again = Back.objects.get(pk=back.pk)
    assert sorted(v.number for v in again.versions.all()) == list(range(1, N_WRITERS + 2))
    assert again.current is not None
    assert again.current.number == 2
