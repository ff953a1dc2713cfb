"""The few that may be in the list: fit check in full, every finding's confidence, costs over all tries."""

import zlib
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.alter import Alteration, altered
from saddlebench.engine.choose.assess import AssessJob, counting_rows, fit_problem, mass_share
from saddlebench.engine.choose.candidates import Wanted
from saddlebench.engine.choose.cost import CostRules, costs_of
from saddlebench.engine.choose.variants import Shape, unnamed
from saddlebench.engine.errors import InputProblemsError, Undetermined
from saddlebench.engine.fit.confidence import CloudSettings, draw_cloud
from saddlebench.engine.fit.criteria import Criteria, FindingName
from saddlebench.engine.fit.findings import Confidence, Finding
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.study import FitStudy, StudySettings, confident, run_study
from saddlebench.engine.fit.uncertain import Inputs
from saddlebench.engine.fit.verdicts import Limit, Verdict
from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import RigidNumbers
from saddlebench.engine.saddle.record import model_of


@dataclass(frozen=True, slots=True, kw_only=True)
class FinalJob:
    """What is the same for all finalists."""

    wanted: Wanted
    criteria: Criteria
    rules: CostRules
    cloud: CloudSettings
    """Without draws nothing is said of confidence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finalist:
    """One shape, looked at closely."""

    study: FitStudy | None
    """Where it was asked for."""
    tried: FloatArray
    """(d,) float [1]: its cost in each try; try for try the same back and rider for all finalists."""
    inputs: Inputs | None = None
    """What was drawn beside the back, where anything was tried."""


def look_closely(job: FinalJob, asked: tuple[Shape, Alteration | None, bool]) -> Finalist | Undetermined:
    """Return the study of one shape (if asked for), and its cost in every try.

    Parameters
    ----------
    job : the horse and what counts
    asked : the shape, what is done to its fill, and whether its study is wanted
    """
    shape, fill, with_study = asked
    model = model_of(shape.record)
    if not isinstance(model, SaddleModel):
        return Undetermined(model.reason)
    if fill is not None:
        model = altered(model, fill)
    try:
        return _looked(job, shape, model, with_study=with_study)
    except InputProblemsError as error:
        return Undetermined(error.problems[0].what)


def _looked(job: FinalJob, shape: Shape, model: SaddleModel, *, with_study: bool) -> Finalist | Undetermined:
    wanted, estimated = job.wanted, job.wanted.estimated
    if estimated is None:
        return Undetermined("how sure the back is was not given")
    study = None
    if with_study:
        study = run_study(
            estimated,
            wanted.landmarks,
            model,
            shape.pads,
            wanted.rider,
            horse=wanted.horse,
            criteria=job.criteria,
            draws=0,
            seed=job.cloud.seed,
            settings=StudySettings(materials=wanted.materials),
        )
    if not job.cloud.draws:
        return Finalist(study=study, tried=read_only(np.zeros(0)))
    nominal = AssessJob.of(wanted, job.criteria, job.rules)
    fit = fit_problem(nominal, model, shape)
    settings = replace(job.cloud, saddle=_number_of(shape))
    cloud = draw_cloud(estimated, fit, mass_share(wanted.rider, model, wanted.horse), settings)
    rows = counting_rows(model.family, wanted.horse, job.criteria, job.rules)
    tried = costs_of(rows, cloud.table, job.rules).total
    if study is not None:
        study = confident(study, cloud, estimated, job.criteria)
    return Finalist(study=study, tried=read_only(tried), inputs=cloud.inputs)


def _number_of(shape: Shape) -> int:
    """Return a number that goes with a shape's measures alone, not with its place in a stock."""
    numbers = shape.record.numbers
    held = unnamed(numbers) if isinstance(numbers, RigidNumbers) else numbers
    return zlib.crc32(repr(held).encode())


def verdicts_hold(findings: tuple[Finding, ...]) -> float:
    """Return the share of verdicts, over findings and tries, that come out as computed [1]."""
    agreeing = [
        finding.confidence.agreeing(finding.as_computed)
        for finding in findings
        if isinstance(finding.confidence, Confidence)
    ]
    return float(np.mean(agreeing)) if agreeing else 0.0


def speaks_for(findings: tuple[Finding, ...], rules: CostRules, most: int = 3) -> tuple[Finding, ...]:
    """Return the fine findings that weigh most, those with most room first among equals."""
    fine = [one for one in findings if one.verdict is Verdict.FINE and rules.weights.get(one.name, 0.0) > 0.0]
    ranked = sorted(fine, key=lambda one: (-rules.weights[one.name], -min(room_of(one), 1.0)))
    return _each_once(ranked, most)


def speaks_against(
    findings: tuple[Finding, ...], counted: Mapping[FindingName, float], most: int = 3
) -> tuple[Finding, ...]:
    """Return the findings that cost most; where fewer are off, those with least room left."""
    ranked = sorted(findings, key=lambda one: (-counted.get(one.name, 0.0), room_of(one)))
    return _each_once([one for one in ranked if one.name in counted], most)


def _each_once(findings: list[Finding], most: int) -> tuple[Finding, ...]:
    kept: dict[FindingName, Finding] = {}
    for one in findings:
        kept.setdefault(one.name, one)
    return tuple(list(kept.values())[:most])


def room_of(finding: Finding) -> float:
    """Return how far inside its fine range the deciding measure lies, over the borderline band's width.

    Below 0 it lies outside; 0 where it could not be measured.
    """
    limit, measure = finding.decided_by.limit, finding.decided_by.measure
    if not isinstance(limit, Limit) or not isinstance(measure, Measure):
        return 0.0
    (low, high), (least, greatest) = limit.levels.fine, limit.levels.borderline
    bands = [width for width in (low - least, greatest - high) if 0.0 < width < np.inf]
    band = min(bands) if bands else max(abs(low) if np.isfinite(low) else abs(high), 1.0)
    return float(min(measure.shown - low, high - measure.shown) / band)
