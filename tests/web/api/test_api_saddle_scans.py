"""Scans of saddles over the interface: brought, taken out as they came, looked at again, recorded."""

import uuid as uuids

from api_cast import caller
from web_cast import Cast, do_waiting

from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.records import SaddleDocument, as_json
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from support.upturned import scan_file


def measured(cast: Cast) -> tuple[uuids.UUID, int]:
    """Record the saddle's numbers; return it and its version."""
    uuid, actor = uuids.UUID(cast.here[Subject.SADDLE]), cast.actors["fitter"]
    record = SaddleRecord(
        label="Juniper's", numbers=ALL_ROUND, alterable=usual_alterations(ALL_ROUND, "not known")
    )
    seen = queries.saddle_page(actor, uuid).current_number or 0
    document = Document(text=as_json(SaddleDocument.of(record)))
    return uuid, services.record_saddle(actor, uuid, document, seen=seen).version.number


def test_other_programs_bring_a_scan_take_it_out_and_look_again(cast: Cast) -> None:
    saddle, version = measured(cast)
    me = caller(cast, "fitter")
    key, again = uuids.uuid4(), uuids.uuid4()
    answer = me.send("POST", f"saddles/{saddle}/scans/{key}?unit=m&name=rowan.ply", scan_file())
    assert answer.status_code == 202, answer.content
    (kept,) = me.get(f"saddles/{saddle}/scans").json()
    assert (kept["name"], kept["unit"], kept["size_bytes"]) == ("rowan.ply", "m", len(scan_file()))
    file = me.get(f"saddles/{saddle}/scans/{kept['uuid']}/file")
    assert b"".join(file.streaming_content) == scan_file()
    asked = {"uuid": str(again), "unit": "m", "heading": "as found"}
    assert me.post(f"saddles/{saddle}/scans/{kept['uuid']}/looks", asked).status_code == 202
    do_waiting()
    looked = me.get(f"saddles/{saddle}/scans/{again}").json()
    assert looked["heading"] == "as found"
    recorded = me.post(f"saddles/{saddle}/scans/{again}/record?seen={version}")
    assert recorded.json() == {"saddle": str(saddle), "version": version + 1, "is_current": True}
    assert caller(cast, "reader").get(f"saddles/{saddle}/scans/{kept['uuid']}/file").status_code == 403
