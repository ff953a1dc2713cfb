"""The girth: strap anchors, where each side meets the barrel, and how it pulls in each step."""

import numpy as np

from saddlebench.engine.back.landmarks import Mark
from saddlebench.engine.errors import NotMeasured, is_known
from saddlebench.engine.fit._kernels.barrel import ELASTIC, NO_GIRTH, TIGHTENED, wrap_straps
from saddlebench.engine.fit._kernels.parts import Back, Straps
from saddlebench.engine.fit.loads import GIRTHED, LoadCase, State
from saddlebench.engine.fit.settings import GirthElastic
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import SaddleModel


def strap_anchors(saddle: SaddleModel, reference_saddle: FloatArray) -> FloatArray:
    """Return (2k, 3) float, saddle axes about the reference [mm]: left, right of each strap pair."""
    held = [end for pair in saddle.straps for end in (pair.left_saddle, pair.right_saddle)]
    return np.array(held, dtype=float).reshape(-1, 3) - reference_saddle


def straps_for(
    anchors: FloatArray, groove: Mark | NotMeasured, elastic: GirthElastic, *, factor: float = 1.0
) -> Straps:
    """Return the straps of a saddle on a back; each step says what kind of girth they are.

    Parameters
    ----------
    anchors : (2k, 3) float, saddle axes about the reference [mm]
    groove : the girth groove; without it the straps hang straight down
    elastic : the girth
    factor : a draw's factor on its stiffness
    """
    return Straps(
        anchors=anchors,
        kind=NO_GIRTH,
        tension=0.0,
        stiffness=float(elastic.stiffness_n_mm * factor),
        half_length=float(elastic.half_length_mm),
        leans=is_known(groove),
        groove_x=-groove.value_mm if is_known(groove) else 0.0,
    )


def straps_in(straps: Straps, case: LoadCase, *, tension_n: float, done_up_n: float) -> Straps:
    """Return the straps of a step: no girth, done up to its tension, or elastic from the tension it has.

    Parameters
    ----------
    straps : of the saddle
    case : the step's case
    tension_n : tension when the step begins [N]
    done_up_n : tension to which the girth is done up in the girthed step [N]
    """
    if case.state is State.PLACED:
        return straps
    if case.name == GIRTHED.name:
        return straps._replace(kind=TIGHTENED, tension=done_up_n)
    return straps._replace(kind=ELASTIC, tension=tension_n)


def wrap_points(
    back: Back, anchors_back: FloatArray, groove: Mark | NotMeasured, elastic: GirthElastic
) -> FloatArray:
    """Return where each strap comes to lie on the barrel.

    In the strap's cross-section it leaves its anchor as the tangent to the barrel. Along the back it leans to
    the girth groove as a straight line on the unrolled barrel, whose length is `half_length_mm`.

    Parameters
    ----------
    back : the back, for the kernels
    anchors_back : (m, 3) float, back frame [mm]
    groove : the girth groove; without it the straps hang straight down
    elastic : the girth

    Returns
    -------
    (m, 3) float, back frame [mm]
    """
    return wrap_straps(back, straps_for(anchors_back, groove, elastic), anchors_back)
