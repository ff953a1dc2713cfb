"""Use every kernel once on something small, so that it is compiled and cached."""

import datetime as dt
from collections.abc import Iterator

import numpy as np

from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.demo.shapes import PLAIN
from saddlebench.demo.yard import USUAL_STATIONS_MM
from saddlebench.engine.alter import quick_plan
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.loads import HALT, Rider
from saddlebench.engine.fit.settle import settle
from saddlebench.engine.fit.settled import Position
from saddlebench.engine.fit.study import StudySettings, study_problem
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.record import SaddleRecord, model_of
from saddlebench.exchange.back_job import measured
from saddlebench.exchange.drawings import Scene, as_svg, back_view
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.job import StudyRequest, study_of

STEPS = ("the surface of a back", "a saddle at rest", "what is read off it", "a drawing of it", "a plan")


def warm_steps() -> Iterator[str]:
    """Yield each step's name, then do it."""
    yield STEPS[0]
    instrument, rider = example_instrument("comb-41x10"), Rider(mass_kg=70.0)
    record = BackRecord(
        label="invented",
        measured_on=dt.date(2026, 1, 1),
        instrument=instrument,
        readings=measured_at(PLAIN, instrument, USUAL_STATIONS_MM, np.random.default_rng(0)),
        landmarks=PLAIN.landmarks,
    )
    back = measured(record)
    yield STEPS[1]
    saddle = SaddleRecord(
        label="invented", numbers=ALL_ROUND, alterable=usual_alterations(ALL_ROUND, "bent steel")
    )
    model = model_of(saddle, 250)
    if isinstance(model, SaddleModel):
        settle(back.estimated.surface, PLAIN.landmarks, model, (), rider)
    yield STEPS[2]
    study = study_of(back, saddle, StudyRequest(rider=rider, draws=2))
    yield STEPS[3]
    scene = study if isinstance(study, Undetermined) else Scene.of_study(study, HALT.name, Position.PUT)
    if not isinstance(scene, Undetermined):
        as_svg(back_view(scene))
    yield STEPS[4]
    if isinstance(model, SaddleModel):
        fit = study_problem(back.estimated.surface, PLAIN.landmarks, model, (), rider, StudySettings())
        quick_plan(fit, saddle.alterable)
