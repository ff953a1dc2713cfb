"""Laying the later record on the earlier one: by marks, level and shape, each as far as it is sure."""

from dataclasses import dataclass

import numpy as np
from scipy import linalg

from saddlebench.engine.back.gaussian import Hyperparameters
from saddlebench.engine.change.coat import CoatOffset
from saddlebench.engine.change.marks import ShiftAlong
from saddlebench.engine.change.readings import RecordedBack, common_grid
from saddlebench.engine.change.registration import Move, Registration
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.together import First, Together, first_of, lay
from saddlebench.engine.change.unchanged import smooth_covariance
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

PASSES = 3
"""Gauss–Newton steps; a place along a curved back is linear over a few millimetres only."""
PASSES_ELSEWHERE, MARGIN_ELSEWHERE_MM = 6, 165.0
"""Where the marks were set elsewhere: more steps for the longer way, and a grid that holds it."""
SIX = (
    ("along the back", "mm", 1.0),
    ("sideways", "mm", 1.0),
    ("height", "mm", 1.0),
    ("roll", "°", DEGREE),
    ("pitch", "°", DEGREE),
    ("heading", "°", DEGREE),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidTogether:
    """Two records laid together, and the linear map that lays them."""

    together: Together
    weights: FloatArray
    """(q, n) float, the laying errors' estimates from the residuals [1/mm]."""
    estimate: FloatArray
    """(q,) float, in deviations beyond what was expected [1]."""
    changed_factor: FloatArray
    """(n, n) float, lower Cholesky factor of the readings' covariance if the back did change [mm]."""
    coat: CoatOffset
    shift: ShiftAlong

    @property
    def registration(self) -> Registration:
        """How far the later record was moved, and how sure that is."""
        laid, together = self.together.laid, self.together
        spread = laid.rigid @ (np.eye(len(self.estimate)) - self.weights @ together.laid_gain) @ laid.rigid.T
        value = -laid.rigid @ (self.estimate + laid.expected)
        by_marks = -laid.rigid @ laid.expected
        value[0], by_marks[0] = -value[0], -by_marks[0]
        expected = np.sqrt((laid.rigid**2).sum(axis=1))
        moved = laid.gain[:, :-1] @ (self.estimate + laid.expected)[:-1]
        return Registration(
            moves=tuple(
                Move(
                    name=name,
                    unit=unit,
                    expected=float(by_marks[k] / per),
                    expected_sd=float(expected[k] / per),
                    value=float(value[k] / per),
                    sd=float(np.sqrt(max(spread[k, k], 0.0)) / per),
                )
                for k, (name, unit, per) in enumerate(SIX)
            ),
            mean_move_mm=float(np.sqrt(np.mean(moved**2))),
            coat_mm=self.coat.mean_mm,
            coat_sd_mm=self.coat.sd_mm,
        )


def lay_together(
    earlier: RecordedBack,
    later: RecordedBack,
    hyper: Hyperparameters,
    shift: ShiftAlong,
    coat: CoatOffset,
    settings: ChangeSettings,
    passes: int = PASSES,
    first: First | None = None,
) -> LaidTogether:
    """Return two records laid together.

    Parameters
    ----------
    earlier, later, hyper, shift, coat, settings : as for `lay`
    passes : Gauss–Newton steps, where the marks are trusted
    first : the earlier record's readings on a grid that holds both records, where they are at hand

    The estimate is the best linear one under a change of the size that backs show, so that a change is not
    taken for a record that lies askew (Robinson, That BLUP is a good thing, Stat. Sci. 6 (1991) 15–32).
    """
    if shift.is_set_elsewhere:
        passes = PASSES_ELSEWHERE
        grid = common_grid(earlier.estimated, later.estimated, margin_mm=MARGIN_ELSEWHERE_MM)
        held = first_of(earlier, grid, hyper, settings)
    else:
        held = first or first_of(earlier, common_grid(earlier.estimated, later.estimated), hyper, settings)
    moved: FloatArray | None = None
    for _ in range(passes):
        together = lay(held, earlier, later, hyper, shift, coat, settings, moved)
        n = together.n_earlier
        changed = together.covariance.copy()
        for part in settings.belief.parts:
            changed[n:, n:] += smooth_covariance(
                together.later.data, part.sd_mm, part.length_s_mm, part.length_phi
            )
        gain = together.laid_gain
        factor = linalg.cholesky(changed, lower=True)
        weights = linalg.cho_solve((factor, True), gain).T
        estimate = weights @ together.residual_mm
        moved = estimate + together.laid.expected
    return LaidTogether(
        together=together,
        weights=weights,
        estimate=estimate,
        changed_factor=factor,
        coat=coat,
        shift=shift,
    )
