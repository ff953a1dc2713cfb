"""Two records laid together if they can be compared, with the reason where they cannot."""

from saddlebench.engine.back.gaussian import Hyperparameters
from saddlebench.engine.change.coat import coat_offset
from saddlebench.engine.change.comparable import (
    are_marks_elsewhere,
    common_problems,
    is_placed_by_shape,
    laid_problems,
    records_problems,
)
from saddlebench.engine.change.laying import PASSES, LaidTogether, lay_together
from saddlebench.engine.change.marks import shift_by_marks
from saddlebench.engine.change.readings import RecordedBack, common_hyper
from saddlebench.engine.change.results import NotComparable
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.together import First


def laid_pair(
    earlier: RecordedBack,
    later: RecordedBack,
    hyper: Hyperparameters | None,
    settings: ChangeSettings,
    at: tuple[int, int],
    passes: int = PASSES,
    first: First | None = None,
) -> LaidTogether | NotComparable:
    """Return two records laid together, or why they say nothing of each other.

    Where a record fits all but its marks, it is laid by its shape alone, if that places it surely.

    Parameters
    ----------
    earlier, later, settings, passes, first : as for `lay_together`
    hyper : of both; by default the geometric means of their own
    at : (earlier, later) in the study's visits
    """
    problems = records_problems(earlier, later, settings)
    if problems:
        return NotComparable(earlier=at[0], later=at[1], problems=tuple(problems))
    shift = shift_by_marks(earlier.record.landmarks, later.record.landmarks)
    coat = coat_offset(earlier.record, later.record)
    shared = hyper or common_hyper((earlier, later))
    laid = lay_together(earlier, later, shared, shift, coat, settings, passes, first)
    if are_marks_elsewhere(laid.registration):
        by_shape = lay_together(earlier, later, shared, shift.set_elsewhere, coat, settings)
        if is_placed_by_shape(by_shape.registration):
            laid = by_shape
    problems = common_problems(laid.together) or laid_problems(laid.registration)
    return NotComparable(earlier=at[0], later=at[1], problems=tuple(problems)) if problems else laid
