"""The topline as measured: points of the midline, the curve through them, and what may have moved it."""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from saddlebench.engine.back.chain import arm_angles, arm_points, joint_errors
from saddlebench.engine.back.instruments import Instrument, JointedChain, ToplineChain
from saddlebench.engine.back.readings import Topline, ToplineHeights, ToplineJoints, known_run
from saddlebench.engine.errors import NotMeasured, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

SAME_PLACE_MM = 0.5
"""Two heights typed for places closer than this are the same place measured twice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToplineError:
    """One thing that may be off, and how far one unit of it moves each measured point of the topline."""

    source: str
    sd: float
    moves_s: FloatArray
    """(n,) float, instrument frame, away from the shoulder mark [mm per unit]."""
    moves_z: FloatArray
    """(n,) float, instrument frame [mm per unit]."""
    of_level: bool = False
    """Whether it tips the whole topline, by one radian per unit about its start, down towards the tail."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToplineCurve:
    """A cubic spline through the measured points, each place's mean where it was measured more than once."""

    s_mm: FloatArray
    """(n,) float, instrument frame, measured points [mm]."""
    z_mm: FloatArray
    """(n,) float, instrument frame [mm]."""
    errors: tuple[ToplineError, ...]

    @property
    def begins_mm(self) -> float:
        """Foremost measured place."""
        return float(self.s_mm.min())

    @property
    def ends_mm(self) -> float:
        """Rearmost measured place."""
        return float(self.s_mm.max())

    def heights(self, s_mm: FloatArray) -> FloatArray:
        """Return the heights (k,), instrument frame [mm], at distances (k,) float, instrument frame [mm]."""
        return self._weights(s_mm) @ self.z_mm

    def slopes(self, s_mm: FloatArray) -> FloatArray:
        """Return the slopes (k,) [1], positive where the topline rises towards the tail, at (k,) places."""
        return self._weights(s_mm, derivative=1) @ self.z_mm

    def moved(self, s_mm: FloatArray) -> FloatArray:
        """Return how far one unit of each error moves the curve's height.

        A point that is moved along the back by ds takes its height with it: at its place the curve is off by
        `dz − z'(s)·ds`, to first order.

        Parameters
        ----------
        s_mm : (k,) float, instrument frame, distances behind the shoulder mark [mm]

        Returns
        -------
        (k, m) float, instrument frame, one column for each of the `m` errors [mm per unit]
        """
        slopes = self.slopes(self.s_mm)
        off = [error.moves_z - slopes * error.moves_s for error in self.errors]
        return self._weights(s_mm) @ np.stack(off, axis=1)

    def _weights(self, s_mm: FloatArray, derivative: int = 0) -> FloatArray:
        """Return (k, n) float: what each measured height counts for; the curve is linear in them."""
        places, members = _places(self.s_mm)
        spline = CubicSpline(places, np.eye(len(places)))
        at_places: FloatArray = spline(np.clip(s_mm, places[0], places[-1]), derivative)
        return at_places @ members


def _places(s_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    order = np.argsort(s_mm, kind="stable")
    new_place = np.concatenate([[True], np.diff(s_mm[order]) > SAME_PLACE_MM])
    place = np.zeros(len(s_mm), dtype=int)
    place[order] = np.cumsum(new_place) - 1
    members = (place[None, :] == np.arange(place.max() + 1)[:, None]).astype(float)
    members /= members.sum(axis=1, keepdims=True)
    return members @ s_mm, members


def mark_words(distance_mm: float) -> str:
    """Return the name of the error of a mark's place; a height and a section taken at one mark share it."""
    return f"place of the mark at {distance_mm:g} mm"


def topline_curve(instrument: Instrument, topline: Topline) -> ToplineCurve:
    """Return the measured topline.

    Raises
    ------
    InputProblemsError
        If there is none, if it has fewer than two places, or if its chain was read but never described.
    """
    if isinstance(topline, NotMeasured):
        raise input_problem(
            "The topline was not measured",
            "Measure heights along the midline: without them no section has a height.",
            Where(field="topline"),
        )
    if isinstance(topline, ToplineHeights):
        curve = _from_heights(instrument, topline)
    elif isinstance(instrument, JointedChain) and instrument.topline is not None:
        curve = _from_joints(instrument.topline, topline, instrument)
    else:
        raise input_problem(
            "There are readings of a topline chain, but the instrument has none",
            "Describe the topline's links with the instrument, or give heights at distances.",
            Where(field="topline"),
        )
    if len(_places(curve.s_mm)[0]) < 2:
        raise input_problem(
            "The topline was measured at one place only",
            "Measure its height at every station, and in front of the first and behind the last.",
            Where(field="topline"),
        )
    return curve


def _from_heights(instrument: Instrument, topline: ToplineHeights) -> ToplineCurve:
    s = np.array(topline.distance_mm, dtype=float)
    n = len(s)
    errors = []
    seen: dict[float, int] = {}
    for i, distance in enumerate(topline.distance_mm):
        seen[distance] = seen.get(distance, 0) + 1
        again = f", reading {seen[distance]}" if seen[distance] > 1 else ""
        alone = np.eye(n)[i]
        errors.append(
            ToplineError(
                source=f"topline height at {distance:g} mm{again}",
                sd=instrument.placing.height_mm,
                moves_s=np.zeros(n),
                moves_z=alone,
            )
        )
        errors.append(
            ToplineError(
                source=mark_words(distance),
                sd=instrument.placing.along_mm,
                moves_s=-alone,
                moves_z=np.zeros(n),
            )
        )
    return ToplineCurve(s_mm=s, z_mm=np.array(topline.height_mm, dtype=float), errors=tuple(errors))


def topline_angles(chain: ToplineChain, topline: ToplineJoints) -> FloatArray:
    """Return the angles of a topline chain, (k,) float, arm frame [rad]: the level, then the joints."""
    run = known_run(topline.joints)
    as_joints = arm_angles(chain.arm, (0.0, *run))
    as_joints[0] = (chain.arm.zero_deg[0] + topline.level_deg) * DEGREE
    return as_joints


def _from_joints(chain: ToplineChain, topline: ToplineJoints, instrument: JointedChain) -> ToplineCurve:
    pads, jacobian = arm_points(chain.arm, topline_angles(chain, topline))
    if np.any(np.diff(np.concatenate([[0.0], pads[:, 0]])) <= SAME_PLACE_MM):
        raise input_problem(
            "The topline's chain doubles back on itself",
            "Check the level and the joints' signs: positive bends down towards the tail.",
            Where(field="topline"),
        )
    s = topline.start_mm + np.concatenate([[0.0], pads[:, 0]])
    z = np.concatenate([[0.0], pads[:, 1]])
    named = joint_errors(chain.arm, jacobian, reading="topline, joint", zero="zero of topline joint")
    rounding = chain.level_step_deg / np.sqrt(12.0)
    level_sd = float(np.hypot(chain.arm.joint_sd_deg[0], rounding)) * DEGREE
    named[:2] = [("topline, level", level_sd, named[0][2]), ("zero of the topline's level", *named[1][1:])]
    errors = [
        ToplineError(
            source=source,
            sd=sd,
            moves_s=np.concatenate([[0.0], moves[:, 0]]),
            moves_z=np.concatenate([[0.0], moves[:, 1]]),
            of_level=i < 2,
        )
        for i, (source, sd, moves) in enumerate(named)
    ]
    n = len(s)
    start = ToplineError(
        source="place of the topline's start",
        sd=instrument.placing.along_mm,
        moves_s=-np.ones(n),
        moves_z=np.zeros(n),
    )
    contact = [
        ToplineError(
            source=f"topline, contact {i + 1}",
            sd=instrument.placing.contact_mm,
            moves_s=np.zeros(n),
            moves_z=np.eye(n)[i],
        )
        for i in range(n)
    ]
    return ToplineCurve(s_mm=s, z_mm=z, errors=(*errors, start, *contact))
