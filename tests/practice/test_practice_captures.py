"""Measuring a back reading by reading: nothing twice, nothing lost, nobody overwritten."""

from datetime import date

import pytest
from practice_cast import Cast, key
from practice_invented import invented_yard

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Outcome, Subject
from saddlebench.practice.models import BackVersion, Capture, Entry
from saddlebench.practice.rules import NotAllowedError
from saddlebench.practice.services import CaptureFinishedError, Entered, NotFoundError

pytestmark = pytest.mark.usefixtures("db")
COMB = Document(text='{"family": "pin comb"}')
BACK = Document(text='{"format": "saddlebench back record", "version": 1, "readings": [12.5]}')
DAY = date(2026, 5, 4)


@pytest.fixture
def cast(prepared: Cast) -> Cast:
    return prepared


@pytest.fixture
def capture(cast: Cast) -> Capture:
    return services.start_capture(cast.fitter, invented_yard(cast.fitter).horse.uuid, COMB, measured_on=DAY)


def entered(name: str, value: object, seen: int = 0, **more: object) -> Entered:
    return Entered(field=name, value=value, key=key(), seen=seen, **more)  # type: ignore[arg-type]


def test_a_reading_is_there_as_soon_as_it_was_entered(cast: Cast, capture: Capture) -> None:
    (kept,) = services.enter_readings(cast.fitter, capture.uuid, [entered("s1r0/pin/3", 12.5)])
    page = queries.capture_page(cast.fitter, capture.uuid)
    assert (kept.outcome, page.values, page.revision) == (Outcome.SAVED, {"s1r0/pin/3": 12.5}, 1)
    assert page.saved_at == kept.entered_at


def test_a_reading_sent_twice_counts_once(cast: Cast, capture: Capture) -> None:
    one = entered("s1r0/pin/3", 12.5)
    first = services.enter_readings(cast.fitter, capture.uuid, [one])
    assert services.enter_readings(cast.fitter, capture.uuid, [one, one]) == (*first, *first)
    assert Entry.objects.filter(subject_uuid=capture.uuid).count() == 1


def test_a_reading_taken_back_is_gone_from_the_page_and_kept_in_the_entries(
    cast: Cast, capture: Capture
) -> None:
    services.enter_readings(
        cast.fitter, capture.uuid, [entered("s1r0/pin/3", 12.5), entered("s1r0/pin/3", None, 1)]
    )
    assert queries.capture_page(cast.fitter, capture.uuid).values == {}
    rows = Entry.objects.filter(subject_uuid=capture.uuid).order_by("id")
    assert [row.value for row in rows] == [12.5, None]


def test_somebody_elses_reading_is_not_overwritten_unseen(cast: Cast, capture: Capture) -> None:
    services.enter_readings(cast.fitter, capture.uuid, [entered("s1r0/pin/3", 12.5)])
    (held,) = services.enter_readings(cast.owner, capture.uuid, [entered("s1r0/pin/3", 21.5)])
    assert held.outcome is Outcome.HELD
    assert held.other is not None
    assert held.other.value == 12.5
    assert queries.capture_page(cast.owner, capture.uuid).values == {"s1r0/pin/3": 12.5}
    (kept,) = services.enter_readings(cast.owner, capture.uuid, [entered("s1r0/pin/3", 21.5, 1)])
    assert kept.outcome is Outcome.SAVED
    assert queries.capture_page(cast.owner, capture.uuid).values == {"s1r0/pin/3": 21.5}


def test_yes_and_one_are_two_things(cast: Cast, capture: Capture) -> None:
    services.enter_readings(
        cast.fitter, capture.uuid, [entered("s1r0/square", 1.0), entered("s1r0/square", True, 1)]
    )
    assert queries.capture_page(cast.fitter, capture.uuid).values["s1r0/square"] is True


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("Station 1", 1.0),
        ("", 1.0),
        ("a" * 81, 1.0),
        ("s1", float("nan")),
        ("s1", float("inf")),
        ("s1", [1.0]),
        ("s1", "x" * 10_001),
        ("s1", "\x00"),
    ],
)
def test_what_is_no_reading_is_refused_and_nothing_kept(
    cast: Cast, capture: Capture, name: str, value: object
) -> None:
    with pytest.raises(InputProblemsError):
        services.enter_readings(cast.fitter, capture.uuid, [entered("s1r0/pin/1", 1.0), entered(name, value)])
    assert queries.capture_page(cast.fitter, capture.uuid).values == {}


def test_finishing_records_the_back_once(cast: Cast, capture: Capture) -> None:
    services.enter_readings(cast.fitter, capture.uuid, [entered("s1r0/pin/1", 1.0)])
    first = services.finish_capture(cast.fitter, capture.uuid, BACK)
    again = services.finish_capture(cast.fitter, capture.uuid, BACK)
    assert first.version == again.version
    back = queries.back_page(cast.fitter, capture.uuid)
    assert (back.measured_on, back.number, back.document, back.capture) == (DAY, 1, BACK.text, True)
    assert queries.unfinished_captures(cast.fitter) == ()


def test_a_finished_back_takes_no_reading_until_it_is_taken_up_again(cast: Cast, capture: Capture) -> None:
    one = entered("s1r0/pin/1", 1.0)
    services.enter_readings(cast.fitter, capture.uuid, [one])
    services.finish_capture(cast.fitter, capture.uuid, BACK)
    (told,) = services.enter_readings(cast.fitter, capture.uuid, [one])
    assert told.outcome is Outcome.SAVED
    with pytest.raises(CaptureFinishedError):
        services.enter_readings(cast.fitter, capture.uuid, [entered("s1r0/pin/1", 2.0, 1)])
    services.take_up_again(cast.fitter, capture.uuid)
    services.enter_readings(cast.fitter, capture.uuid, [entered("s1r0/pin/1", 2.0, 1)])
    with pytest.raises(InputProblemsError, match="why"):
        services.finish_capture(cast.fitter, capture.uuid, BACK, seen=1)
    recorded = services.finish_capture(cast.fitter, capture.uuid, BACK, why="misread", seen=1)
    assert (recorded.version.number, recorded.is_current) == (2, True)
    assert BackVersion.objects.filter(back__uuid=capture.uuid).count() == 2


def test_only_those_who_measure_may(cast: Cast, capture: Capture) -> None:
    for actor in (cast.reader, cast.workshop, None):
        with pytest.raises(NotAllowedError):
            services.enter_readings(actor, capture.uuid, [entered("s1r0/pin/1", 1.0)])
        with pytest.raises(NotAllowedError):
            services.describe_instrument(actor, "comb", COMB)
    assert queries.capture_page(cast.reader, capture.uuid).label.startswith("Juniper")


def test_another_practice_sees_nothing_of_it(cast: Cast, capture: Capture) -> None:
    mine = services.describe_instrument(cast.fitter, "our comb", COMB)
    with pytest.raises(NotFoundError):
        queries.capture_page(cast.other, capture.uuid)
    with pytest.raises(NotFoundError):
        services.enter_readings(cast.other, capture.uuid, [entered("s1r0/pin/1", 1.0)])
    with pytest.raises(NotFoundError):
        services.start_capture(cast.other, capture.horse.uuid, COMB, measured_on=DAY)
    with pytest.raises(NotFoundError):
        queries.instrument_page(cast.other, mine.uuid)
    assert queries.unfinished_captures(cast.other) == ()


def test_an_instrument_is_described_and_described_better(cast: Cast) -> None:
    made = services.describe_instrument(cast.fitter, "our comb", COMB)
    services.describe_instrument(cast.fitter, "our long comb", COMB, made.uuid)
    (row,) = queries.own_instruments(cast.reader)
    assert (row.uuid, row.label, row.revision) == (made.uuid, "our long comb", 1)
    with pytest.raises(InputProblemsError, match="name"):
        services.describe_instrument(cast.fitter, " ", COMB)
    with pytest.raises(InputProblemsError):
        services.describe_instrument(cast.fitter, "comb", Document(text="[]"))


def test_a_withdrawn_capture_and_instrument_leave_the_lists(cast: Cast, capture: Capture) -> None:
    tool = services.describe_instrument(cast.fitter, "our comb", COMB)
    services.withdraw(cast.fitter, Subject.CAPTURE, capture.uuid)
    services.withdraw(cast.fitter, Subject.INSTRUMENT, tool.uuid)
    assert queries.unfinished_captures(cast.fitter) == ()
    assert queries.own_instruments(cast.fitter) == ()
    services.put_back(cast.fitter, Subject.CAPTURE, capture.uuid)
    assert [row.uuid for row in queries.unfinished_captures(cast.fitter)] == [capture.uuid]


def test_started_twice_is_started_once(cast: Cast, capture: Capture) -> None:
    again = services.start_capture(cast.fitter, capture.horse.uuid, COMB, measured_on=DAY, uuid=capture.uuid)
    assert again == capture
    rows = queries.unfinished_captures(cast.fitter, capture.horse.uuid)
    assert [row.horse.label for row in rows] == ["Juniper"]
