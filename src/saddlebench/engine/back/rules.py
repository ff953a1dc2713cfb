"""The one table of thresholds by which a back record is judged: common practice, unless a line says more."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class QualityRules:
    """Limits of plausibility and quality; a practice may change them, and a page may use the same table."""

    furthest_in_front_mm: float = 400.0
    """No station of a back lies further in front of the shoulder mark."""
    furthest_behind_mm: float = 1200.0
    """Nor further behind it."""
    topline_rise_mm: float = 500.0
    """Nor does a topline rise or fall by more over a back."""
    widest_mm: float = 700.0
    """No point of a section lies further from the midline, out or down."""
    narrowest_reach_mm: float = 40.0
    """A section that reaches out less than this is too small for a horse: inches, or centimetres?"""
    flattest_drop_mm: float = 12.0
    """Over half-widths beyond 100 mm no back falls by less: inches, or centimetres?"""
    closest_stations_mm: float = 15.0
    """If all stations lie closer together than this: inches, or centimetres?"""
    same_place_mm: float = 5.0
    """Two stations closer than this are at the same place."""
    level_good_deg: float = 2.0
    """Stance further from level than this is worth a remark."""
    level_worst_deg: float = 8.0
    """Beyond this the horse does not stand as it does on level ground."""
    tightest_radius_mm: float = 45.0
    """No back bends in a tighter curve away from its spine…"""
    kink_deg: float = 32.0
    """…and at the same time by more than this from one step to the next, steps being at least…"""
    kink_step_mm: float = 20.0
    """…this long."""
    spine_half_width_mm: float = 65.0
    """A sharp ridge within this of the midline is a spine, not a kink."""
    coarse_sagitta_mm: float = 5.0
    """A chord that misses the curve through its neighbours by more is too coarse for the curve."""
    coarse_stations_mm: float = 160.0
    """Stations further apart say nothing about what lies between."""
    topline_kink_deg: float = 40.0
    """No topline turns by more than this from one height to the next."""
    topline_gap_mm: float = 100.0
    """Heights of the topline further apart leave the sections between them without a height."""
    swap_ratio: float = 2.0
    """Trading two sections (or two sides) must smooth the back by this factor to be suspected…"""
    swap_mm: float = 2.5
    """…and by this much (root mean square)…"""
    swap_errors: float = 2.0
    """…and by this many standard deviations of a point."""
    repeat_good_mm: float = 3.0
    """A repeated section that agrees within this (root mean square) is good."""
    repeat_worst_mm: float = 6.0
    """Beyond this the horse moved, or the instrument: repeat."""
    coarse_repeat_good_mm: float = 15.0
    """By tape and hand, a repeated section that agrees within this is good (from memory, not measured)."""
    coarse_repeat_worst_mm: float = 25.0
    """By tape and hand, beyond this the horse moved, or a hand: repeat."""
    near_landmark_mm: float = 60.0
    """A section this close to a mark is a section at that mark."""
    behind_shoulder_mm: float = 120.0
    """The section behind the shoulder lies between the shoulder mark and this."""
    unchecked_scale: float = 0.02
    """Tracings whose size is no better known than this (one standard deviation) are for no order."""
    trend_stations: int = 2
    """With fewer stations there is no trend either."""


RULES = QualityRules()
