"""A horse's weight from a tape: girth and length."""

from dataclasses import dataclass

from saddlebench.engine.errors import InputProblemsError, Problem, Where

SOURCE = "Carroll CL, Huntington PJ (1988), Equine Veterinary Journal 20:41–45"
DIVISOR_CM3_KG = 11_900.0
_GIRTH_CM = (50.0, 280.0)
_LENGTH_CM = (40.0, 260.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightEstimate:
    """An estimate, its source, and what it is good for."""

    mass_kg: float
    source: str = SOURCE
    caution: str = "An estimate for grown horses from 281 animals; other formulas suit other types better."


def estimate_weight(heart_girth_cm: float, body_length_cm: float) -> WeightEstimate:
    """Return the weight as girth² × length / 11 900 (centimetres, kilograms).

    Parameters
    ----------
    heart_girth_cm : float
        Round the chest behind the withers and elbow, breathed out [cm].
    body_length_cm : float
        Point of shoulder to point of buttock [cm].

    Raises
    ------
    InputProblemsError
        If a measure is outside what a pony or a heavy horse can have.
    """
    measures = (("heart girth", heart_girth_cm, _GIRTH_CM), ("body length", body_length_cm, _LENGTH_CM))
    problems = [
        Problem(
            what=f"{name} {value:g} cm is outside {low:g} to {high:g} cm",
            cure="Measure again in centimetres.",
            where=Where(field=name),
        )
        for name, value, (low, high) in measures
        if not low <= value <= high
    ]
    if problems:
        raise InputProblemsError(problems)
    return WeightEstimate(mass_kg=heart_girth_cm**2 * body_length_cm / DIVISOR_CM3_KG)


def carried_share(rider_and_tack_kg: float, horse_kg: float) -> float:
    """Return what rider and tack are of the horse's weight, as a fraction.

    Raises
    ------
    InputProblemsError
        If either mass is not above zero.
    """
    if not (rider_and_tack_kg > 0 and horse_kg > 0):
        problem = Problem(what="a mass must be above zero", cure="Weigh or estimate it again.")
        raise InputProblemsError([problem])
    return rider_and_tack_kg / horse_kg
