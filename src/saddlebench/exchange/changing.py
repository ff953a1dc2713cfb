"""One thing changed on a fit check, to see what it would do: a pad, the width of the arch, the place."""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import numpy as np

from saddlebench.engine.errors import NotMeasured, Undetermined, Where, input_problem
from saddlebench.engine.fit.place import usual_place
from saddlebench.engine.fit.settings import SettleSettings
from saddlebench.engine.fit.study import FitStudy, StudySettings
from saddlebench.engine.saddle.alterable import NotAlterable
from saddlebench.engine.saddle.materials import FELT_PAD
from saddlebench.engine.saddle.model import PadLayer
from saddlebench.engine.saddle.numbers import CutBackNumbers, PanelledNumbers
from saddlebench.engine.saddle.pads import pad_layer
from saddlebench.engine.saddle.record import SaddleRecord, model_of
from saddlebench.exchange.back_job import MeasuredBack
from saddlebench.exchange.job import StudyRequest, study_of

LEAST_PAD_MM = 1.0
"""A pad thinned below this is left out."""


class Changed(StrEnum):
    """What is changed."""

    PAD = "thickness of the pad"
    WIDTH = "width of the front arch"
    PLACE = "place along the back"


RANGES_MM: dict[Changed, tuple[float, float]] = {
    Changed.PAD: (-20.0, 20.0),
    Changed.WIDTH: (-40.0, 40.0),
    Changed.PLACE: (-60.0, 60.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change: thicker, wider or further back by so much; negative: thinner, narrower, further forward."""

    what: Changed
    by_mm: float


def changed_study(
    back: MeasuredBack, saddle: SaddleRecord, request: StudyRequest, change: Change
) -> FitStudy | Undetermined:
    """Return the fit check with one thing changed; how sure it is, is not computed.

    Parameters
    ----------
    back, saddle, request
        As for the check itself.
    change
        What to change, within `RANGES_MM`.

    Raises
    ------
    InputProblemsError
        If the change is out of range, or what comes of it does not make a check.
    """
    low, high = RANGES_MM[change.what]
    if not low <= change.by_mm <= high:
        what = f"{change.what}: {change.by_mm:g} mm is outside {low:g} to {high:g} mm"
        raise input_problem(what, "Choose a smaller change.", Where(field=str(change.what)))
    asked = replace(request, draws=0, pads=saddle.pads if request.pads is None else request.pads)
    if change.what is Changed.PAD:
        return study_of(back, saddle, replace(asked, pads=thicker(asked.pads or (), change.by_mm)))
    if change.what is Changed.PLACE:
        return _moved(back, saddle, asked, change.by_mm)
    wide = widened(saddle, change.by_mm)
    return wide if isinstance(wide, Undetermined) else study_of(back, wide, asked)


def thicker(pads: tuple[PadLayer, ...], by_mm: float) -> tuple[PadLayer, ...]:
    """Return the pads with the one next to the horse thicker; without a pad, a felt pad of that thickness.

    A layer of thickness h has the stiffness E/h and hardens with its strain, so both follow the thickness.
    """
    if not pads:
        return (pad_layer(FELT_PAD, (by_mm, by_mm, by_mm, by_mm)),) if by_mm >= LEAST_PAD_MM else ()
    *above, last = pads
    old = np.asarray(last.thickness_mm)
    new = np.where(old > 0.0, np.maximum(old + by_mm, 0.0), 0.0)
    if new.max() < LEAST_PAD_MM:
        return tuple(above)
    ratio = float(new[new > 0.0].mean() / old[old > 0.0].mean())
    material = replace(
        last.material,
        stiffness_kpa_mm=last.material.stiffness_kpa_mm / ratio,
        hardening_mm=last.material.hardening_mm * ratio,
    )
    thickness: Any = tuple(float(one) for one in new)
    return (*above, replace(last, thickness_mm=thickness, material=material))


def widened(saddle: SaddleRecord, by_mm: float) -> SaddleRecord | Undetermined:
    """Return the saddle with its front arch set wider at the point ends; top, depth and angle stay."""
    numbers = saddle.numbers
    if not isinstance(numbers, PanelledNumbers | CutBackNumbers):
        return Undetermined(
            f"a saddle with {saddle.family} has no arch that is set by its width at the points"
        )
    if saddle.underside is not None:
        return Undetermined(
            "this saddle's underside was measured as it is: how it lies with another arch is not known"
        )
    if isinstance(numbers, CutBackNumbers):
        return replace(saddle, numbers=replace(numbers, base=_wider(numbers.base, by_mm)))
    return replace(saddle, numbers=_wider(numbers, by_mm))


def _wider(numbers: PanelledNumbers, by_mm: float) -> PanelledNumbers:
    return replace(numbers, tree=replace(numbers.tree, width_mm=numbers.tree.width_mm + by_mm))


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRange:
    """How far one thing may be changed on this saddle, and in words by what and who says so."""

    low_mm: float
    high_mm: float
    words: str

    @property
    def reach(self) -> str:
        """The range in words."""
        return f"{abs(self.low_mm):g} mm less to {self.high_mm:g} mm more"


def own_range(saddle: SaddleRecord, pads: tuple[PadLayer, ...], what: Changed) -> OwnRange | NotAlterable:
    """Return how far the saddle's own record lets one thing be changed; where not at all, why."""
    low, high = RANGES_MM[what]
    if what is Changed.PLACE:
        return OwnRange(
            low_mm=low, high_mm=high, words="Where a saddle is put is free; it works to its own place."
        )
    if what is Changed.WIDTH:
        arch = saddle.alterable.arch
        if isinstance(arch, NotAlterable):
            return arch
        words = f"By {arch.how}, in steps of {arch.step_mm:g} mm ({arch.source})."
        return OwnRange(low_mm=max(low, -arch.narrower_mm), high_mm=min(high, arch.wider_mm), words=words)
    pad = saddle.alterable.pad
    if isinstance(pad, NotAlterable):
        return pad
    now = max(pads[-1].thickness_mm) if pads else 0.0
    return OwnRange(
        low_mm=max(low, -now),
        high_mm=max(0.0, min(high, pad.thickest_mm - now)),
        words=f"The pad next to the horse is {now:g} mm, at most {pad.thickest_mm:g} mm ({pad.source}).",
    )


def refuse_beyond(saddle: SaddleRecord, pads: tuple[PadLayer, ...], change: Change) -> None:
    """Refuse a change that the saddle's own record does not allow.

    Raises
    ------
    InputProblemsError
        With what the record says.
    """
    if not change.by_mm:
        return
    where, own = Where(field=str(change.what)), own_range(saddle, pads, change.what)
    if isinstance(own, NotAlterable):
        what = f"the saddle's record does not allow it: {own.reason}"
        raise input_problem(what, "Change something else, or choose another saddle.", where)
    if not own.low_mm <= change.by_mm <= own.high_mm:
        what = f"{change.by_mm:g} mm is beyond what the saddle's record allows, {own.reach}. {own.words[:-1]}"
        raise input_problem(what, "Choose a smaller change, or another saddle.", where)


def _moved(
    back: MeasuredBack, saddle: SaddleRecord, request: StudyRequest, by_mm: float
) -> FitStudy | Undetermined:
    model = model_of(saddle)
    if isinstance(model, NotMeasured | Undetermined):
        return Undetermined(model.reason)
    usual = usual_place(back.record.landmarks, model)
    moved = replace(usual, origin_s_mm=usual.origin_s_mm + by_mm)
    return study_of(back, saddle, request, settings=StudySettings(settle=SettleSettings(placing=moved)))
