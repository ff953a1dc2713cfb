"""The stock in the practice: rows that stay, trials, reservations, tables in and out, people forgotten."""

import datetime as dt
import uuid as uuids
from pathlib import Path

import pytest
from django.db import IntegrityError, transaction
from practice_cast import Cast

from exchange.studies import back_record
from saddlebench.demo.saddles import SADDLES
from saddlebench.engine.choose import ShortlistSettings
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.records import BackDocument, SaddleDocument, as_json
from saddlebench.exchange.stock import Whereabouts
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Holding
from saddlebench.practice.models import Saddle, StockState
from saddlebench.practice.rules import NotAllowedError
from saddlebench.practice.services import StockFacts

pytestmark = pytest.mark.usefixtures("db")
UNTIL = dt.date(2026, 6, 1)


def saddle_in_stock(cast: Cast, label: str = "Dunlin (invented)") -> Saddle:
    return services.take_on_saddle(cast.owner, {"label": label, "seat_size_in": 17.5}, holding=Holding.STOCK)


def test_every_change_is_a_row_and_the_last_one_holds(cast: Cast) -> None:
    saddle = saddle_in_stock(cast)
    client = services.take_on_client(cast.owner, {"label": "Ida Invented"})
    facts = StockFacts(stock_number="D-1", place="rack 3", price=900.0, currency="EUR", flap_mm=400.0)
    first = services.set_stock(cast.fitter, saddle.uuid, facts)
    services.reserve(cast.fitter, saddle.uuid, client.uuid)
    services.put_on_trial(cast.fitter, saddle.uuid, client.uuid, UNTIL)
    back = services.take_back(cast.fitter, saddle.uuid, where=Whereabouts.VAN)
    history = queries.stock_history(cast.owner, saddle.uuid)
    assert [one.item.where for one in history] == ["van", "on trial", "rack", "rack"]
    assert (first.number, back.number) == (1, 4)
    on_trial = history[1].item
    assert on_trial.where_words == "on trial with Ida Invented until 1 June 2026"
    assert history[0].item.reserved_for == "Ida Invented"
    assert not history[0].item.is_free
    assert history[0].item.price_words == "900 EUR"


def test_saying_the_same_again_writes_no_row(cast: Cast) -> None:
    saddle = saddle_in_stock(cast)
    facts = StockFacts(stock_number="D-2")
    first = services.set_stock(cast.fitter, saddle.uuid, facts)
    again = services.set_stock(cast.fitter, saddle.uuid, facts, seen=1)
    assert again.pk == first.pk
    assert StockState.objects.filter(saddle=saddle).count() == 1


def test_somebody_elses_change_is_noticed(cast: Cast) -> None:
    saddle = saddle_in_stock(cast)
    services.set_stock(cast.fitter, saddle.uuid, StockFacts(stock_number="D-3"))
    with pytest.raises(InputProblemsError, match="meanwhile"):
        services.set_stock(cast.owner, saddle.uuid, StockFacts(stock_number="D-4"), seen=0)


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        (StockFacts(stock_number=" "), "stock_number"),
        (StockFacts(stock_number="X", where=Whereabouts.ON_TRIAL), "on_trial_with"),
        (StockFacts(stock_number="X", price=10.0), "currency"),
        (StockFacts(stock_number="X", condition="c" * 201), "condition"),
        (StockFacts(stock_number="TAKEN"), "stock_number"),
    ],
)
def test_what_does_not_go_together_is_refused(cast: Cast, facts: StockFacts, field: str) -> None:
    services.set_stock(cast.owner, saddle_in_stock(cast, "other").uuid, StockFacts(stock_number="TAKEN"))
    saddle = saddle_in_stock(cast)
    with pytest.raises(InputProblemsError) as caught:
        services.set_stock(cast.fitter, saddle.uuid, facts)
    assert [problem.where.field for problem in caught.value.problems] == [field]
    assert not saddle.stock_states.exists()


def test_a_clients_saddle_is_not_in_stock(cast: Cast) -> None:
    saddle = services.take_on_saddle(cast.owner, {"label": "a client's"})
    with pytest.raises(InputProblemsError, match="client's"):
        services.set_stock(cast.owner, saddle.uuid, StockFacts(stock_number="C-1"))


def test_rows_cannot_be_changed_or_taken_out(cast: Cast) -> None:
    saddle = saddle_in_stock(cast)
    row = services.set_stock(cast.fitter, saddle.uuid, StockFacts(stock_number="D-5"))
    for act in (
        lambda: StockState.objects.filter(pk=row.pk).update(place="elsewhere"),
        lambda: StockState.objects.filter(pk=row.pk).delete(),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            act()
    assert StockState.objects.get(pk=row.pk).place == ""


def test_who_may(cast: Cast) -> None:
    saddle = saddle_in_stock(cast)
    for actor in (cast.reader, None):
        with pytest.raises(NotAllowedError):
            services.set_stock(actor, saddle.uuid, StockFacts(stock_number="D-6"))
    with pytest.raises(services.NotFoundError):
        services.set_stock(cast.other, saddle.uuid, StockFacts(stock_number="D-6"))
    assert queries.stock_rows(cast.other) == ()


def test_people_are_named_to_those_who_may_see_people(cast: Cast) -> None:
    saddle = saddle_in_stock(cast)
    client = services.take_on_client(cast.owner, {"label": "Ida Invented"})
    services.put_on_trial(cast.fitter, saddle.uuid, client.uuid, UNTIL)
    (seen,) = queries.stock_rows(cast.workshop)
    assert seen.item.on_trial_with == "somebody"
    assert not seen.item.is_free
    (named,) = queries.stock_rows(cast.fitter)
    assert named.item.on_trial_with == "Ida Invented"


HEADER = "number,label,where,seat_in,on_trial_with,on_trial_until\n"


def test_a_table_is_taken_in_whole_and_again_without_doubles(cast: Cast) -> None:
    services.take_on_client(cast.owner, {"label": "Ida Invented"})
    table = (
        HEADER
        + "S-1,Twite (invented),rack,17,,\nS-2,Serin (invented),on trial,16.5,Ida Invented,2026-06-01\n"
    )
    done = services.import_stock(cast.owner, table.encode())
    assert (done.taken_on, done.changed, done.as_before) == (2, 0, 0)
    again = services.import_stock(
        cast.owner, table.replace("S-1,Twite (invented),rack", "S-1,Twite,van").encode()
    )
    assert (again.taken_on, again.changed, again.as_before) == (0, 1, 1)
    out = queries.export_stock(cast.owner)
    once_more = services.import_stock(cast.owner, out.encode())
    assert (once_more.taken_on, once_more.changed, once_more.as_before) == (0, 0, 2)


def test_a_table_with_faults_leaves_nothing_behind(cast: Cast) -> None:
    table = HEADER + "S-1,Twite,rack,17,,\nS-2,Serin,on trial,99,Nobody Known,soon\nS-3,,cellar,,,\n"
    with pytest.raises(InputProblemsError) as caught:
        services.import_stock(cast.owner, table.encode())
    places = {(problem.where.row, problem.where.field) for problem in caught.value.problems}
    assert places == {(3, "seat_in"), (3, "on_trial_until"), (4, "label"), (4, "where")}
    assert queries.stock_rows(cast.owner) == ()
    unknown = HEADER + "S-1,Twite,rack,17,,\nS-2,Serin,on trial,17,Nobody Known,\n"
    with pytest.raises(InputProblemsError, match="Nobody Known"):
        services.import_stock(cast.owner, unknown.encode())
    assert queries.stock_rows(cast.owner) == ()


def test_measured_saddles_are_candidates(cast: Cast) -> None:
    saddle = saddle_in_stock(cast)
    saddle_in_stock(cast, "not measured")
    text = as_json(SaddleDocument.of(SADDLES[0]))
    services.record_saddle(cast.owner, saddle.uuid, Document(text=text))
    services.set_stock(cast.fitter, saddle.uuid, StockFacts(stock_number="D-7", flap_mm=390.0))
    (candidate,) = queries.stock_candidates(cast.reader)
    assert (candidate.key, candidate.seat_in, candidate.flap_mm) == (str(saddle.uuid), 17.5, 390.0)
    assert candidate.record.numbers == SADDLES[0].numbers
    client = services.take_on_client(cast.owner, {"label": "Ida Invented"})
    services.reserve(cast.fitter, saddle.uuid, client.uuid)
    assert queries.stock_candidates(cast.reader) == ()
    assert len(queries.stock_candidates(cast.reader, only_free=False)) == 1


def test_the_practices_own_stock_is_chosen_from(cast: Cast) -> None:
    yard = services.take_on_horse(cast.owner, {"label": "Juniper (invented)"})
    document = Document(text=as_json(BackDocument.of(back_record())))
    day = back_record().measured_on
    back = services.record_back(cast.owner, yard.uuid, document, measured_on=day)
    right, long = saddle_in_stock(cast), saddle_in_stock(cast, "much too long")
    for saddle, record in ((right, record_called("all-round")), (long, record_called("saddle, long"))):
        services.record_saddle(cast.owner, saddle.uuid, Document(text=as_json(SaddleDocument.of(record))))
    wanted = queries.wanted_on(cast.reader, back.version.uuid, Rider(mass_kg=72.0))
    settings = ShortlistSettings(length=3, draws=0, with_studies=False, try_fill=False)
    found = queries.shortlist_from_stock(cast.reader, wanted, settings=settings)
    assert found.wanted_key == str(back.version.uuid)
    assert next(iter(found.entries)).key == str(right.uuid)
    with pytest.raises(services.NotFoundError):
        queries.wanted_on(cast.other, back.version.uuid, Rider(mass_kg=72.0))
    with pytest.raises(NotAllowedError):
        queries.wanted_on(None, back.version.uuid, Rider(mass_kg=72.0))
    assert queries.shortlist_from_stock(cast.other, wanted, settings=settings).entries == ()
    told = {entry.key for entry in found.entries} | {one.key for one in found.ruled_out}
    assert told == {str(right.uuid), str(long.uuid)}


def record_called(words: str) -> SaddleRecord:
    return next(record for record in SADDLES if words in record.label)


def test_an_erased_person_is_out_of_the_stock(cast: Cast, home: Path) -> None:
    saddle = saddle_in_stock(cast)
    client = services.take_on_client(cast.owner, {"label": "Ida Invented"})
    services.put_on_trial(cast.fitter, saddle.uuid, client.uuid, UNTIL)
    services.take_back(cast.fitter, saddle.uuid)
    services.erase_person(cast.owner, client.uuid, home)
    rows = queries.stock_history(cast.owner, saddle.uuid)
    assert [(row.item.where, row.item.on_trial_with) for row in rows] == [("rack", ""), ("on trial", "")]


def test_rows_of_a_long_stock_need_no_more_queries(cast: Cast) -> None:
    from django.db import connection  # noqa: PLC0415
    from django.test.utils import CaptureQueriesContext  # noqa: PLC0415

    counts = []
    for n in (2, 6):
        for _ in range(n):
            saddle = saddle_in_stock(cast, f"one {uuids.uuid4()}")
            services.set_stock(cast.owner, saddle.uuid, StockFacts(stock_number=str(saddle.pk)))
        with CaptureQueriesContext(connection) as told:
            queries.stock_rows(cast.owner)
        counts.append(len(told))
    assert counts[0] == counts[1]
