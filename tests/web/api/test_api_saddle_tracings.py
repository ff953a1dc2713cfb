"""A saddle's tracings over the interface: asked for, looked at, recorded; what is missing is said."""

import uuid as uuids
from dataclasses import replace

import numpy as np
import pytest
from api_cast import caller, key
from web_cast import Cast

from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.demo.traced_saddle import curve_across, gaps_mm, leans_deg
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.numbers import model_from_numbers
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.saddle.sections import UndersideSection, sections_of
from saddlebench.exchange.instruments import example_instrument, instrument_text
from saddlebench.exchange.records import SaddleDocument, as_json
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.across_saddle import SectionsStated
from saddlebench.exchange.tracings.paper_edge import PrintedScale
from saddlebench.exchange.tracings.sheet_read import ReadCurve, ReadSheet
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.web.tracing.held import HeldPhoto, UnreadPhoto
from saddlebench.web.tracing.saddle_held import SaddleTracings, keep_tracings

BEHIND = (20.0, 120.0, 240.0, 350.0)


def measured(cast: Cast) -> str:
    record = SaddleRecord(
        label="Juniper's", numbers=ALL_ROUND, alterable=usual_alterations(ALL_ROUND, "not known")
    )
    saddle, actor = cast.here[Subject.SADDLE], cast.actors["fitter"]
    seen = queries.saddle_page(actor, uuids.UUID(saddle)).current_number or 0
    document = Document(text=as_json(SaddleDocument.of(record)))
    services.record_saddle(actor, uuids.UUID(saddle), document, seen=seen)
    return saddle


def read_of(sections: tuple[UndersideSection, ...]) -> ReadSheet:
    """Return sections as if they had been read from one photo without any error."""
    curves = []
    for one in sections:
        points, strokes = curve_across(one)
        curves.append(
            ReadCurve(
                points=points,
                seen=np.ones(len(points), bool),
                photo=points * (3.0, -3.0) + 900.0,
                point_sd_mm=0.3,
                ticks=np.array([stroke.mean(axis=0) for stroke in (strokes[0], strokes[2])]),
                by_tick=True,
            )
        )
    return ReadSheet(
        kind=SheetKind.SADDLE,
        size_px=(1632, 1224),
        curves=tuple(curves),
        stations=tuple(range(1, len(curves) + 1)),
        scale=PrintedScale(across=1.0, down=1.0, sd=0.003, source="the paper’s edges"),
        tilt_deg=10.0,
        curl=0.0,
        n_markers=10,
        inside_mm=0.2,
        to_mm=np.eye(3),
        remarks=(),
    )


def test_what_tracings_make_is_given_and_recorded(cast: Cast) -> None:
    fitter, saddle, name = caller(cast, "fitter"), measured(cast), key()
    model = model_from_numbers(ALL_ROUND, 800)
    photo = HeldPhoto(
        number=1,
        photo=uuids.uuid4(),
        sheet=read_of(sections_of(model, BEHIND)),
        stations=(1, 2, 3, 4),
        is_kept=False,
    )
    waits = UnreadPhoto(number=2, photo=uuids.uuid4(), reason="there are too few square marks")
    held = SaddleTracings(
        saddle=uuids.UUID(saddle),
        instrument=instrument_text(example_instrument("curve-mm")),
        stated=SectionsStated(
            behind_mm=BEHIND,
            leans_deg=tuple(leans_deg(model, BEHIND)),
            gaps_mm=tuple(gaps_mm(model, BEHIND)),
        ),
        photos=(photo,),
        unread=(waits,),
    )
    keep_tracings(cast.actors["fitter"], uuids.UUID(name), held)
    address = f"saddles/{saddle}/tracings/{name}"
    found = fitter.get(address).json()
    assert [(one["number"], one["stations"], one["waits"]) for one in found["photos"]] == [
        (1, [1, 2, 3, 4], ""),
        (2, [], "there are too few square marks"),
    ]
    assert found["still_missing"] == []
    assert found["measures"]["twist_deg"] == pytest.approx(0.0, abs=0.05)
    sections = found["measures"]["sections"]
    assert [one["behind_mm"] for one in sections] == list(BEHIND)
    assert sections[2]["channel_mm"] == pytest.approx(72.1, abs=0.3)
    assert "not a diagnosis" in found["caution"]
    assert fitter.get(f"{address}/picture")["Content-Type"] == "image/svg+xml"
    before = queries.saddle_page(cast.actors["fitter"], uuids.UUID(saddle)).current_number
    recorded = fitter.post(f"{address}/record?seen={before}").json()
    assert recorded["is_current"]
    assert recorded["version"] == (before or 0) + 1
    # One curve left out: three are too few, and it is said which.
    kept = replace(photo, stations=(1, 2, 3, 0))
    keep_tracings(cast.actors["fitter"], uuids.UUID(name), held.with_photo(kept))
    short = fitter.get(address).json()
    assert short["measures"] is None
    assert "at least four" in short["still_missing"][0]
    assert fitter.post(f"{address}/record?seen={before}").status_code == 422


def test_what_is_asked_wrongly_is_refused(cast: Cast) -> None:
    fitter, saddle = caller(cast, "fitter"), measured(cast)
    nowhere = f"saddles/{saddle}/tracings/{key()}"
    assert fitter.get(nowhere).status_code == 404
    assert fitter.post(nowhere, {"photos": [key()], "behind": [20, 120, 240, 350]}).status_code == 404
    assert fitter.post(nowhere, {"photos": [], "behind": [20]}).status_code == 422
    assert fitter.post(f"{nowhere}/record").status_code == 404
