"""Reports for the tests: studies whose names are in no language, and what a PDF says and holds."""

import io
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import pikepdf
import pypdf

from exchange.studies import study
from saddlebench.engine.change.results import ChangeStudy
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.study import study_change
from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange.readers import Language, Reader
from saddlebench.report import Letterhead, Paper, Setting
from support.visits import disc, visited

NAMELESS = "Xyqu"
"""A name with no word of any language in it."""
HEAD = Letterhead(name=f"{NAMELESS} 7", lines=(f"{NAMELESS} 12",))


@cache
def fit_study() -> FitStudy:
    """Return a fit check whose horse, saddle and pad are named `NAMELESS`."""
    held = study()
    pads = tuple(replace(pad, name=NAMELESS) for pad in held.pads)
    inputs = replace(held.inputs, back_label=NAMELESS, saddle_label=NAMELESS)
    return replace(held, inputs=inputs, saddle=replace(held.saddle, label=NAMELESS), pads=pads)


@cache
def change_study() -> ChangeStudy:
    """Return a change study whose horse and instrument are named `NAMELESS`."""
    backs = [visited(0, 1), visited(90, 2), visited(180, 3, change=disc(-9.0, 150.0, 0.4, 140.0))]
    held = study_change(backs, settings=ChangeSettings(simulations=600, draws=64))
    visits = tuple(replace(one, label=NAMELESS, instrument=NAMELESS) for one in held.visits)
    return replace(held, horse=NAMELESS, visits=visits)


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
