"""Whether two records can be compared at all, and in words why not."""

from collections.abc import Sequence

from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.back.landmarks import SHOULDER_SD_MM, Landmarks, Mark
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.change.coat import CoatOffset
from saddlebench.engine.change.marks import ShiftAlong
from saddlebench.engine.change.readings import RecordedBack
from saddlebench.engine.change.registration import Registration
from saddlebench.engine.change.results import Patch
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.together import Together
from saddlebench.engine.days import plain_day
from saddlebench.engine.errors import Problem, Weight, Where

LEAST_LENGTH_MM = 100.0
STANDS_OTHERWISE = 3.5
"""A record moved by so many deviations beyond its marks was not of the same stance: by error alone once in
some 400 pairs at most (six ways to move, normal tails); a galloping pose of a real horse reaches 4.1."""
SAME_STANCE = 2.5
"""Where the marks are not trusted, no other move may go further than this beyond what it is allowed: shape
alone places the record then, and a back that stands otherwise would be placed by a shape that is not its."""
NECK = (
    "In front of the withers the skin moves with head and neck: a patch that reaches there may be how the "
    "neck was carried. Measure again with the head at the same height, at rest."
)
LEAST_NODES = 40
"""About as many nodes as a hand covers; less in common is no region."""


def records_problems(earlier: RecordedBack, later: RecordedBack, settings: ChangeSettings) -> list[Problem]:
    """Return what stops two records from being compared, before any reading is looked at."""
    problems = []
    names = [back.record.label.strip() for back in (earlier, later)]
    if names[0].casefold() != names[1].casefold() and not settings.same_horse:
        problems.append(
            Problem(
                what=f"The records are of two horses by name, “{names[0]}” and “{names[1]}”",
                cure="Compare records of one horse; if it goes by two names, say that it is the same horse.",
                where=Where(field="label"),
            )
        )
    for back in (earlier, later):
        if states_no_error(back.estimated.points):
            problems.append(_no_error(back))
        problems += [
            Problem(
                what=f"The record of {plain_day(back.record.measured_on)} is not to be trusted: {one.what}",
                cure=one.cure,
                where=one.where,
            )
            for one in back.record.questioned
            if one.weight is Weight.ERROR
        ]
    return problems


def states_no_error(points: MeasuredPoints) -> bool:
    """Tell whether an instrument claims to be exact: nothing can then be told from its error."""
    has_shared = bool(((points.sensitivity != 0.0) & (points.error_sd > 0.0)).any())
    return not has_shared and not bool((points.noise_mm > 0.0).any())


def _no_error(back: RecordedBack) -> Problem:
    return Problem(
        what=f"“{back.record.instrument.name}” states no error of its own, so that a change cannot be told "
        "from one",
        cure="Describe the instrument with the error of its readings, or take it from repeats.",
        where=Where(field="instrument"),
    )


def common_problems(together: Together) -> list[Problem]:
    """Return the problem of two records that have too little in common."""
    first = max(rows.support.s_mm[0] for rows in (together.earlier, together.later))
    last = min(rows.support.s_mm[-1] for rows in (together.earlier, together.later))
    grid = together.grid
    place = grid.s_mm[:, None], grid.phi[None, :]
    common = together.earlier.support.contains(*place) & together.later.support.contains(*place)
    if last - first >= LEAST_LENGTH_MM and common.sum() >= LEAST_NODES:
        return []
    return [
        Problem(
            what="The two records have no region of the back in common that is large enough to compare",
            cure="Measure the same part of the back again, from before the shoulder mark to the last rib.",
            where=Where(field="stations"),
        )
    ]


def laid_problems(registration: Registration) -> list[Problem]:
    """Return the problem of a later record that lies where no error of marks or ground puts it.

    A record that has to be turned was of another stance, whatever its marks: that is said first.
    """
    turned = max(registration.turned, key=lambda move: move.beyond)
    furthest = max(registration.moves, key=lambda move: move.beyond)
    if furthest.beyond <= STANDS_OTHERWISE:
        return []
    if turned.beyond > STANDS_OTHERWISE:
        return [
            Problem(
                what="The horse stood otherwise on the two days, or the level was less sure than stated: "
                f"the later record fits only when it is moved ({turned.name}: {turned.value:+.1f} "
                f"{turned.unit}), further than ground, midline and instrument may be off",
                cure="Measure again, the horse square on level ground with its head at rest, or state how "
                "unsure the level was. A young horse may have grown out of the comparison.",
                where=Where(field="stance"),
            )
        ]
    return [
        Problem(
            what="The horse stood otherwise on the two days, or its marks were set at other places: the "
            f"later record fits only when it is moved ({furthest.name}: {furthest.value:+.1f} "
            f"{furthest.unit}), further than marks, ground and instrument may be off",
            cure="Measure again, the horse square on level ground with its head at rest, and feel the marks "
            "anew. A young horse may have grown out of the comparison.",
            where=Where(field="landmarks"),
        )
    ]


def are_marks_elsewhere(registration: Registration) -> bool:
    """Tell whether a record fits all but its marks: it lies too far along the back, and only there."""
    return registration.along.surprise > STANDS_OTHERWISE and all(
        move.beyond <= STANDS_OTHERWISE for move in registration.turned
    )


def is_placed_by_shape(registration: Registration) -> bool:
    """Tell whether the shape alone places a record: as surely as a mark that is felt, of the same stance."""
    moves = (registration.along, *registration.turned)
    return registration.along.sd <= SHOULDER_SD_MM and all(move.beyond <= SAME_STANCE for move in moves)


def cautions_of(
    earlier: RecordedBack,
    later: RecordedBack,
    coat: CoatOffset,
    shift: ShiftAlong,
    registration: Registration,
    settings: ChangeSettings,
) -> tuple[str, ...]:
    """Return what qualifies a comparison, in sentences."""
    said = []
    first, second = earlier.record, later.record
    if shift.is_set_elsewhere:
        said.append(_set_elsewhere(registration))
    if not coat.is_noted:
        said.append(
            "The coat was not noted on both days: a thin even change over the whole back may be hair alone."
        )
    elif coat.is_other:
        said.append(
            f"The coat was another ({first.coat.value}, then {second.coat.value}): of hair alone the later "
            f"record is expected to stand out by {coat.mean_mm:+.0f} mm, give or take {coat.sd_mm:.0f}; that "
            "is taken off, and an even change of this size cannot be told from hair."
        )
    if not shift.tied_by:
        said.append(
            "No mark but the shoulder's was felt on both days, so the records are tied by shape alone: feel "
            "the highest withers spine and the last rib each time."
        )
    if _family(first.instrument) != _family(second.instrument):
        said.append(
            "Different kinds of instrument: how hard each presses differs, and an even change may be that."
        )
    elif first.instrument == second.instrument and settings.same_device:
        said.append(
            "Both records are taken to be made with the same piece of the instrument: its standing errors "
            "drop out. If it was set anew between, say that it was another."
        )
    said += [
        f"{plain_day(record.measured_on)}: {problem.what}"
        for record in (first, second)
        for problem in record.questioned
        if problem.weight is Weight.WARNING
    ]
    return tuple(said)


def _set_elsewhere(registration: Registration) -> str:
    along = registration.along
    way = "back" if along.value > 0.0 else "forward"
    return (
        "The marks were set at other places on the two days: by the shape of the back the later day's lie "
        f"{abs(along.value):.0f} mm further {way}, give or take {2.0 * along.sd:.0f}. The records were laid "
        "on each other by shape alone: feel the shoulder mark, the withers and the last rib anew."
    )


def neck_cautions(patches: Sequence[Patch], marks: Landmarks) -> tuple[str, ...]:
    """Return what qualifies patches that reach in front of the withers, if these were felt."""
    withers = marks.withers
    if not isinstance(withers, Mark):
        return ()
    reaches = any(patch.s_mm - 0.5 * patch.diameter_mm < withers.value_mm for patch in patches)
    return (NECK,) if reaches else ()


def _family(instrument: Instrument) -> str:
    return type(instrument).__name__
