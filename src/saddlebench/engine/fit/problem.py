"""One fit to be solved: a back, a saddle, pads, a rider, the cases; and what may be wrong with it."""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.errors import Problem, Where
from saddlebench.engine.fit.loads import DEFAULT_CASES, LoadCase, Rider, State
from saddlebench.engine.fit.settings import Factors, FitMaterials, SettleSettings
from saddlebench.engine.saddle.model import PadLayer, SaddleModel

HEAVIEST_RIDER_KG = 250.0
HIGHEST_LIFT_MM = 150.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FitProblem:
    """Everything that decides how one saddle comes to rest on one back."""

    surface: BackSurface
    landmarks: Landmarks
    saddle: SaddleModel
    pads: tuple[PadLayer, ...] = ()
    rider: Rider
    cases: tuple[LoadCase, ...] = DEFAULT_CASES
    materials: FitMaterials = field(default_factory=FitMaterials)
    factors: Factors = field(default_factory=Factors)
    settings: SettleSettings = field(default_factory=SettleSettings)


def problems_of(fit: FitProblem) -> tuple[Problem, ...]:
    """Return everything that makes a fit impossible to solve, all at once."""
    return (*_back_problems(fit), *_saddle_problems(fit), *_load_problems(fit), *_material_problems(fit))


def _back_problems(fit: FitProblem) -> Iterator[Problem]:
    radius = fit.surface.radius_mm
    if not (np.all(np.isfinite(radius)) and np.all(radius > 0.0)):
        yield Problem(
            what="The back's surface has places that are not numbers, or lie below its own axis",
            cure="Check the readings of this back, station by station.",
        )
    if not fit.surface.measured.any():
        yield Problem(
            what="No part of the back was measured",
            cure="Measure at least three stations under the saddle.",
        )


def _saddle_problems(fit: FitProblem) -> Iterator[Problem]:
    bearing = fit.saddle.bearing
    where = Where(file=fit.saddle.label)
    if bearing.area_mm2.size == 0:
        yield Problem(
            what="The saddle has no bearing surface", cure="Describe its panels or bars.", where=where
        )
        return
    finite = all(
        np.all(np.isfinite(values))
        for values in (bearing.points_saddle, bearing.normals_saddle, bearing.area_mm2, bearing.firmness)
    )
    if not finite or np.any(bearing.area_mm2 <= 0.0) or np.any(bearing.firmness <= 0.0):
        yield Problem(
            what="The saddle's underside has points, areas or firmnesses that are not usable numbers",
            cure="Check the saddle's description; areas and firmness are positive.",
            where=where,
        )
    if not fit.saddle.mass_kg > 0.0:
        yield Problem(
            what=f"The saddle weighs {fit.saddle.mass_kg:g} kg, so nothing lays it on the back",
            cure="State the saddle's mass, usually 4–18 kg.",
            where=where,
        )
    for pad in fit.pads:
        if min(pad.thickness_mm) < 0.0:
            yield Problem(
                what=f"“{pad.name}” is thinner than nothing",
                cure="State its unpressed thickness in mm.",
                where=Where(field=pad.name),
            )


def _load_problems(fit: FitProblem) -> Iterator[Problem]:
    rider = fit.rider
    names = [case.name for case in fit.cases]
    for name in sorted({name for name in names if names.count(name) > 1}):
        yield Problem(what=f"The load case “{name}” appears twice", cure="Give each case its own name.")
    ridden = [case for case in fit.cases if case.state in (State.RIDER_UP, State.MOVING)]
    if ridden and not 0.0 < rider.mass_kg <= HEAVIEST_RIDER_KG:
        yield Problem(
            what=f"The rider's mass is {rider.mass_kg:g} kg",
            cure=f"State the mass of the dressed rider in kg (at most {HEAVIEST_RIDER_KG:g}), "
            "or leave out the cases with a rider.",
            where=Where(field="rider mass"),
        )
    for case in fit.cases:
        where = Where(field=case.name)
        shares = (case.stirrup_share, rider.left_stirrup_share)
        if not all(0.0 <= share <= 1.0 for share in shares):
            yield Problem(what="A share of the load is not between 0 and 1", cure="Correct it.", where=where)
        if not 0.0 <= case.force_multiple <= 10.0:
            yield Problem(
                what=f"The load is {case.force_multiple:g} times the rider's weight",
                cure="Give a multiple between 0 and 10.",
                where=where,
            )
        if not abs(case.back_lift_mm) <= HIGHEST_LIFT_MM:
            yield Problem(
                what=f"The back is lifted by {case.back_lift_mm:g} mm",
                cure=f"Give the lift at the lowest point in mm, at most {HIGHEST_LIFT_MM:g}.",
                where=where,
            )


def _material_problems(fit: FitProblem) -> Iterator[Problem]:
    materials, factors = fit.materials, fit.factors
    layers = (*materials.tissue, fit.saddle.panel, *(pad.material for pad in fit.pads))
    for layer in layers:
        if not (layer.stiffness_kpa_mm > 0.0 and layer.hardening_mm > 0.0):
            yield Problem(
                what=f"“{layer.name}” has no positive stiffness",
                cure="State stiffness in kPa/mm and the hardening length in mm, both above 0.",
                where=Where(field=layer.name),
            )
    positive = (
        materials.grip.shear_kpa_mm,
        materials.girth.half_length_mm,
        *factors.tissue,
        factors.panel,
        *factors.pads,
        factors.shear,
    )
    not_negative = (
        materials.grip.coefficient,
        materials.girth.tension_n,
        materials.girth.stiffness_n_mm,
        factors.friction,
        factors.girth_stiffness,
        factors.girth_tension,
    )
    if not all(value > 0.0 for value in positive) or not all(value >= 0.0 for value in not_negative):
        yield Problem(
            what="Friction, girth or a factor on a material is negative or not a number",
            cure="Stiffnesses are above 0; friction and girth tension are 0 or more.",
        )
