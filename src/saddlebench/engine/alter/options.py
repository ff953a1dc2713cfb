"""What is chosen whole, not by degrees: other girth straps, a pad; each tried beside the plan."""

from collections.abc import Callable, Iterator
from dataclasses import replace

from saddlebench.engine.alter.alteration import Alteration
from saddlebench.engine.alter.outcome import off_count
from saddlebench.engine.alter.policy import Policy
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.saddle.alterable import Alterable, NotAlterable
from saddlebench.engine.saddle.materials import FELT_PAD, FLEECE_PAD
from saddlebench.engine.saddle.pads import pad_layer

PAD_MM = (10.0, 15.0)
"""Pads that are tried, as far as the record allows them (common practice)."""


def best_option(
    alteration: Alteration,
    study: FitStudy,
    allowed: Alterable,
    policy: Policy,
    look: Callable[[Alteration], FitStudy],
) -> tuple[Alteration, FitStudy]:
    """Return the plan with the options that leave fewer findings off, if any does; and its study."""
    best, best_study = alteration, study
    for options in (_straps, _pads):
        for trial in options(best, best_study, allowed, policy):
            looked = look(trial)
            if off_count(looked) < off_count(best_study):
                best, best_study = trial, looked
    return best, best_study


def _straps(plan: Alteration, study: FitStudy, allowed: Alterable, policy: Policy) -> Iterator[Alteration]:
    if isinstance(allowed.straps, NotAlterable) or not policy.straps:
        return
    fitted = tuple(strap.name for strap in study.saddle.straps)
    if len(fitted) < 2:
        return
    for added in allowed.straps.may_be_added:
        if added not in fitted:
            yield replace(plan, straps=(added, fitted[-1]))


def _pads(plan: Alteration, study: FitStudy, allowed: Alterable, policy: Policy) -> Iterator[Alteration]:
    del study
    if isinstance(allowed.pad, NotAlterable) or not policy.pad:
        return
    for thickness in PAD_MM:
        if thickness <= allowed.pad.thickest_mm:
            for stuff in (FELT_PAD, FLEECE_PAD):
                yield replace(plan, pad=pad_layer(stuff, (thickness,) * 4))
