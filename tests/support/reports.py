"""Reports for the tests: studies whose names are in no language, and what a PDF says and holds."""

import datetime as dt
import io
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pikepdf
import pypdf

from exchange.studies import study
from saddlebench.engine.back.quantities import WITHERS_ANGLE, WITHERS_WIDTH, Quantity, Tolerance
from saddlebench.engine.change.results import ChangeStudy
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.study import study_change
from saddlebench.engine.change.trend.belonging import OddVisit
from saddlebench.engine.change.trend.recheck import advise_recheck
from saddlebench.engine.change.trend.series import Series, SeriesPoint
from saddlebench.engine.change.trend.study import fit_trend
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.fit.worth_repeating import SourceKind, WorthRepeating
from saddlebench.exchange.readers import Language, Reader
from saddlebench.practice.enums import RecheckReason
from saddlebench.practice.estimates.recheck import words_of_reason
from saddlebench.report import Followed, Letterhead, Paper, Setting
from support.visits import disc, visited

NAMELESS = "Xyqu"
"""A name with no word of any language in it."""
FIRST_DAY = dt.date(2024, 5, 6)
RATIO = Quantity(where="withers", what="ratio of the two widths", unit="1")
WHY = f"beyond it, “{FindingName.FRONT_WIDTH}” is no longer fine"
HEAD = Letterhead(name=f"{NAMELESS} 7", lines=(f"{NAMELESS} 12",))


@cache
def fit_study() -> FitStudy:
    """Return a fit check whose horse, saddle and pad are named `NAMELESS`."""
    held = study()
    pads = tuple(replace(pad, name=NAMELESS) for pad in held.pads)
    inputs = replace(held.inputs, back_label=NAMELESS, saddle_label=NAMELESS)
    return replace(held, inputs=inputs, saddle=replace(held.saddle, label=NAMELESS), pads=pads)


SECTION_IN_DOUBT = WorthRepeating(
    source="station 3, off side",
    kind=SourceKind.SECTION,
    share=0.5,
    low=8.0,
    high=16.0,
    removes=0.36,
    settles=0.7,
    stations=(3,),
    at_mm=240.0,
)


@cache
def doubtful_study() -> FitStudy:
    """Return that check with three findings in doubt: a section, a mark, and assumptions alone."""
    held = fit_study()
    station = SECTION_IN_DOUBT
    mark = replace(station, source="the last-rib mark", kind=SourceKind.MARK, at_mm=None, settles=0.2)
    soft = replace(
        station, source="how soft the back is", kind=SourceKind.ASSUMPTION, at_mm=None, removes=0.0
    )
    sources = ((station, soft), (mark, soft), (soft,))
    doubts = tuple(
        replace(doubt, is_told=False, sources=those)
        for doubt, those in zip(held.put.doubts, sources, strict=False)
    )
    return replace(held, put=replace(held.put, doubts=doubts))


@cache
def change_study() -> ChangeStudy:
    """Return a change study whose horse and instrument are named `NAMELESS`."""
    backs = [visited(0, 1), visited(90, 2), visited(180, 3, change=disc(-9.0, 150.0, 0.4, 140.0))]
    held = study_change(backs, settings=ChangeSettings(simulations=600, draws=64))
    visits = tuple(replace(one, label=NAMELESS, instrument=NAMELESS) for one in held.visits)
    return replace(held, horse=NAMELESS, visits=visits)


@cache
def followed() -> Followed:
    """Return a back over two years of visits, with a rise and an odd visit, and when to look again."""
    rng = np.random.default_rng(11)
    rise = np.minimum(np.arange(14), 7) * 4.0
    series = []
    for quantity, change in ((WITHERS_WIDTH, rise), (WITHERS_ANGLE, 0.0 * rise), (RATIO, 0.0 * rise)):
        scale = 0.002 if quantity is RATIO else 1.0
        values = (250.0 + change + rng.normal(0.0, 1.5, 14)) * scale
        values[4] += 40.0 * scale if quantity is WITHERS_ANGLE else 0.0
        points = tuple(
            SeriesPoint(
                day=FIRST_DAY + dt.timedelta(days=42 * k), value=float(v), fresh_sd=1.5 * scale, shared={}
            )
            for k, v in enumerate(values)
        )
        series.append(fit_trend(Series(quantity=quantity, points=points)))
    room = (Tolerance(quantity=WITHERS_WIDTH, lower=-6.0, upper=0.5, why=WHY),)
    soon = FIRST_DAY + dt.timedelta(days=900)
    reason = f"a horse that is {words_of_reason(RecheckReason.YOUNG)}"
    advice = advise_recheck(series, room, due_from=soon, due_by=soon + dt.timedelta(days=14), reason=reason)
    odd = tuple(
        OddVisit(day=point.day, chance=0.001, whole=False, places=(), numbers=(one.trend.quantity,))
        for one in series
        for point in one.trend.points
        if not point.belongs
    )
    return Followed(trends=tuple(one.trend for one in series), odd_visits=odd, advice=advice)


def setting(language: Language = Language.ENGLISH, paper: Paper = Paper.A4, **more: Any) -> Setting:
    """Return how a report is set."""
    return Setting(reader=Reader(language=language, **more), paper=paper, letterhead=HEAD)


def pages_of(document: bytes) -> list[pypdf.PageObject]:
    """Return a PDF's pages."""
    return list(pypdf.PdfReader(io.BytesIO(document)).pages)


def text_of(document: bytes) -> str:
    """Return a PDF's text with single blanks, without the hyphens of broken words."""
    whole = "\n".join(page.extract_text() for page in pages_of(document))
    return " ".join(whole.replace("\u00ad\n", "").replace("-\n", "").replace("\u00a0", " ").split())


def figures_of(document: bytes) -> list[str]:
    """Return what stands for each figure in words, in order of the structure tree; empty where nothing."""
    with pikepdf.open(io.BytesIO(document)) as pdf:
        return [str(one.get("/Alt", "")) for one in _elements(pdf.Root.StructTreeRoot) if _is(one, "/Figure")]


def roles_of(document: bytes) -> list[str]:
    """Return the roles of all structure elements."""
    with pikepdf.open(io.BytesIO(document)) as pdf:
        return [str(one["/S"]) for one in _elements(pdf.Root.StructTreeRoot) if "/S" in one]


def _is(element: Any, role: str) -> bool:
    return "/S" in element and str(element["/S"]) == role


def _elements(element: Any) -> Iterator[Any]:
    kids = element.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield kid
            yield from _elements(kid)
