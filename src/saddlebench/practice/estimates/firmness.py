"""A panel's firmness from a hand test: how far a loaded disc sinks in."""

import math

from saddlebench.engine.errors import input_problem

DISC_DIAMETER_MM = 50.0
DISC_MASS_KG = 5.0
_GRAVITY_M_S2 = 9.81


def disc_pressure_kpa() -> float:
    """Return the pressure under the disc: weight over area, about 25 kPa."""
    area_mm2 = math.pi * (DISC_DIAMETER_MM / 2) ** 2
    return DISC_MASS_KG * _GRAVITY_M_S2 / area_mm2 * 1000


def firmness_kpa_mm(dip_mm: float) -> float:
    """Return the panel's stiffness [kPa/mm] from the dip [mm] under 5 kg on a 50 mm disc.

    Raises
    ------
    InputProblemsError
        If the dip is not between 0.5 and 60 mm: a ruler reads no less, a panel gives no more.
    """
    if not 0.5 <= dip_mm <= 60:
        msg = f"a dip of {dip_mm:g} mm is outside 0.5 to 60 mm"
        raise input_problem(msg, "Press and read again in millimetres.")
    return disc_pressure_kpa() / dip_mm
