"""Proof of a rebuild: a replica measured with any instrument, laid on the original, judged place by place.

The replica stands where it stands, so it is first laid on the original as one rigid body. What is left is
judged against a band that holds at all places at once: with probability 95 %, chance in measuring the replica
alone puts no place outside it. The original's own error does not enter: the replica is made after the record,
and it is the record that it must show.

References
----------
Rigid alignment by Gauss–Newton on distances along the normal: Chen & Medioni, Object modelling by
registration of multiple range images, Image and Vision Computing 10 (1992). The band is the maximum of a
correlated normal vector, by simulation (max-t: Hothorn, Bretz & Westfall, Biometrical Journal 50 (2008)).
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.gaussian import place_rows
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.errors import NotMeasured, input_problem
from saddlebench.engine.frames import FloatArray, rotation_from_vector
from saddlebench.engine.replica.curves import stations_of

REPLICA_MM = 2.0
"""How far a rebuild may be off and still be called good, by default [mm]."""
ANGLES = 9
DRAWS = 4000
LEAST_PLACES = 12


class RebuildVerdict(StrEnum):
    """What is said of a station of a rebuild."""

    GOOD = "good"
    """Nothing off by more than the tolerance was seen; what may have been missed is stated beside it."""
    MOVE = "move"
    """Off by more than the tolerance, and by more than chance in the measuring explains."""
    CANNOT_TELL = "cannot tell"
    """Off by more than the tolerance, which measuring error alone may do: measure it again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SideMove:
    """What one side of one station wants."""

    side: str
    worst_mm: float
    """Replica minus original where it is furthest off; positive: the replica stands proud [mm]."""
    worst_at_mm: float
    """Where that is: out from the midline [mm]."""
    verdict: RebuildVerdict


@dataclass(frozen=True, slots=True, kw_only=True)
class StationProof:
    """One station of a rebuild."""

    number: int
    s_mm: float
    verdict: RebuildVerdict
    raise_mm: float
    """Move the station up by so much … [mm]."""
    shift_near_mm: float
    """… and towards the near side by so much [mm]; what is then left is shape."""
    could_miss_mm: float
    """A fault up to about this size may hide in the measuring error [mm]."""
    sides: tuple[SideMove, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RebuildProof:
    """A rebuild compared with its original."""

    verdict: RebuildVerdict
    stations: tuple[StationProof, ...]
    s_mm: FloatArray
    """(n,) float, back frame of the original, places compared [mm]."""
    phi: FloatArray
    """(n,) float, back frame of the original [rad]."""
    off_mm: FloatArray
    """(n,) float, replica minus original along the normal, once laid on it [mm]."""
    band_mm: FloatArray
    """(n,) float, half the simultaneous 95 % band [mm]."""
    rms_mm: float
    largest_mm: float
    moved_mm: FloatArray
    """(3,) float, back frame: how far the replica was moved to be laid on the original [mm]."""
    turned_deg: FloatArray
    """(3,) float, back frame: about x, y, z [°]."""
    tolerance_mm: float


def prove_rebuild(
    original: EstimatedBack, replica: EstimatedBack, *, tolerance_mm: float = REPLICA_MM, seed: int = 0
) -> RebuildProof:
    """Lay a measured replica on the original and judge it station by station.

    Parameters
    ----------
    original, replica : EstimatedBack
        Each measured with any instrument.
    tolerance_mm : what is good enough [mm]
    seed : of the band's simulation

    Raises
    ------
    InputProblemsError
        If the two have too little in common, or do not look like the same back at all.
    """
    s, phi, station = _places(original)
    pose = np.zeros(6)
    for _ in range(12):
        seen = _seen(original, replica, s, phi, pose)
        keep = seen.known
        if keep.sum() < LEAST_PLACES:
            raise _too_little()
        weight = 1.0 / np.maximum(seen.sd_mm[keep], 0.3) ** 2
        modes = seen.modes[keep]
        prior = np.diag(1.0 / np.array([20.0, 20.0, 30.0, 0.1, 0.1, 0.1]) ** 2)
        normal_matrix = modes.T @ (weight[:, None] * modes) + prior
        step = np.linalg.solve(normal_matrix, -modes.T @ (weight * seen.off_mm[keep]) - prior @ pose)
        pose = pose + step
        if float(np.abs(step * np.array([1, 1, 1, 300, 300, 300])).max()) < 1e-4:
            break
    seen = _seen(original, replica, s, phi, pose)
    keep = seen.known
    if keep.sum() < LEAST_PLACES:
        raise _too_little()
    if float(np.median(np.abs(seen.off_mm[keep]))) > 40.0:
        what = "the two records are more than 40 mm apart over half their places: not the same back"
        raise input_problem(what, "Check which record is the replica's, and its shoulder mark.")
    covariance = _covariance(replica, seen, keep)
    band = _band(covariance, seen.modes[keep], 1.0 / np.maximum(seen.sd_mm[keep], 0.3) ** 2, seed)
    return _judged(seen.off_mm[keep], band, s[keep], phi[keep], station[keep], original, pose, tolerance_mm)


def _too_little() -> Exception:
    return input_problem(
        "the two records have too little of the back in common",
        "Measure the replica over the same stations, down to where the original was measured.",
    )


def _places(original: EstimatedBack) -> tuple[FloatArray, FloatArray, FloatArray]:
    places = stations_of(original)
    left, right = original.support.reach(np.array(places))
    share = np.linspace(-0.96, 0.96, ANGLES)
    phi = np.where(share > 0.0, share[None, :] * left[:, None], -share[None, :] * right[:, None])
    s = np.repeat(np.array(places), ANGLES)
    return s, phi.ravel(), np.repeat(np.arange(1, len(places) + 1), ANGLES)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    off_mm: FloatArray
    sd_mm: FloatArray
    known: NDArray[np.bool_]
    modes: FloatArray
    s_replica: FloatArray
    phi_replica: FloatArray
    gain_replica: FloatArray


def _seen(
    original: EstimatedBack, replica: EstimatedBack, s: FloatArray, phi: FloatArray, pose: FloatArray
) -> _Seen:
    """Look from places (n,) of the original, back frame [mm, rad], at the replica moved by a pose (6,)."""
    surface = original.surface
    found = surface.spline.radius(s, phi)
    points = surface.grid.cartesian(s, phi, found[:, 0])
    # The replica moved by the pose is met where the original, moved back, meets the replica as it stands.
    turn = rotation_from_vector(pose[3:])
    there = (points - pose[:3]) @ turn
    s_r, phi_r, r = replica.surface.grid.polar(there)
    radius = replica.surface.spline.radius(s_r, phi_r)
    scale = 1.0 / np.sqrt(1.0 + radius[:, 1] ** 2 + (radius[:, 2] / radius[:, 0]) ** 2)
    # Off: how far the replica stands out beyond the original.
    off = (radius[:, 0] - r) * scale
    own = 1.0 / np.sqrt(1.0 + found[:, 1] ** 2 + (found[:, 2] / found[:, 0]) ** 2)
    normal = _normal(phi, found) * own[:, None]
    modes = np.concatenate([normal, np.cross(points, normal)], axis=1)
    known = original.support.contains(s, phi) & replica.support.contains(s_r, phi_r)
    sd = scale * _node_sd(replica, s_r, phi_r)
    return _Seen(
        off_mm=off,
        sd_mm=sd,
        known=known,
        modes=modes,
        s_replica=s_r,
        phi_replica=phi_r,
        gain_replica=scale,
    )


def _normal(phi: FloatArray, found: FloatArray) -> FloatArray:
    radius, slope_s, slope_phi = found[:, :3].T
    sine, cosine, turn = np.sin(phi), np.cos(phi), slope_phi / radius
    return np.stack([slope_s, sine - turn * cosine, cosine + turn * sine], axis=1)


def _node_sd(estimated: EstimatedBack, s: FloatArray, phi: FloatArray) -> FloatArray:
    """Return the surface's own deviation (n,) [mm] at places (n,) [mm, rad], from its nearest nodes."""
    grid = estimated.surface.grid
    i = np.clip(np.rint((s - grid.s0_mm) / grid.ds_mm).astype(int), 0, grid.n_s - 1)
    j = np.clip(np.rint((phi - grid.phi0) / grid.dphi).astype(int), 0, grid.n_phi - 1)
    return np.asarray(estimated.surface.sd_mm[i, j])


def _covariance(replica: EstimatedBack, seen: _Seen, keep: NDArray[np.bool_]) -> FloatArray:
    """Return the covariance (n, n) [mm²] of measuring the replica, along the normals at the places kept."""
    along, across = place_rows(replica.surface.grid, seen.s_replica[keep], seen.phi_replica[keep])
    gain = seen.gain_replica[keep]
    return replica.posterior.covariance(gain[:, None, None] * along[:, :, None] * across[:, None, :])


def _band(covariance: FloatArray, modes: FloatArray, weight: FloatArray, seed: int) -> FloatArray:
    """Return half the simultaneous 95 % band (n,) [mm] of what is left once a rigid move is fitted.

    Parameters
    ----------
    covariance : (n, n) float, along the normals [mm²]
    modes : (n, 6) float, what rigid moves do along the normals, back frame [mm per mm and rad]
    weight : (n,) float, as used in the fit [1/mm²]
    seed : of the simulation
    """
    weighted = weight[:, None] * modes
    left = np.eye(len(modes)) - modes @ np.linalg.solve(modes.T @ weighted + 1e-9 * np.eye(6), weighted.T)
    within = left @ covariance @ left.T
    sd = np.sqrt(np.maximum(np.diag(within), 1e-6))
    value, vector = np.linalg.eigh(within / np.outer(sd, sd))
    root = vector * np.sqrt(np.maximum(value, 0.0))
    draws = np.random.default_rng(seed).standard_normal((DRAWS, len(sd))) @ root.T
    return np.asarray(np.quantile(np.abs(draws).max(axis=1), 0.95) * sd)


def _judged(
    off: FloatArray,
    band: FloatArray,
    s: FloatArray,
    phi: FloatArray,
    station: FloatArray,
    original: EstimatedBack,
    pose: FloatArray,
    tolerance_mm: float,
) -> RebuildProof:
    found = original.surface.spline.radius(s, phi)
    across = found[:, 0] * np.sin(phi)
    normal = _normal(phi, found)[:, 1:]
    normal = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    stations = []
    for number in np.unique(station):
        on = station == number
        near, up = _shift(normal[on], off[on])
        sides = tuple(
            _side(name, off[on & side], band[on & side], across[on & side], tolerance_mm)
            for name, side in (("near", phi > 0.01), ("off", phi < -0.01))
            if np.any(on & side)
        )
        stations.append(
            StationProof(
                number=int(number),
                s_mm=float(s[on][0]),
                verdict=_worst(tuple(side.verdict for side in sides)),
                raise_mm=float(up),
                shift_near_mm=float(near),
                could_miss_mm=float(np.median(band[on])),
                sides=sides,
            )
        )
    return RebuildProof(
        verdict=_worst(tuple(one.verdict for one in stations)),
        stations=tuple(stations),
        s_mm=s,
        phi=phi,
        off_mm=off,
        band_mm=band,
        rms_mm=float(np.sqrt(np.mean(off**2))),
        largest_mm=float(np.abs(off).max()),
        moved_mm=pose[:3],
        turned_deg=np.rad2deg(pose[3:]),
        tolerance_mm=tolerance_mm,
    )


def _shift(normal: FloatArray, off: FloatArray) -> FloatArray:
    """Return the move (2,) near and up [mm] that takes most off a station.

    Parameters
    ----------
    normal : (n, 2) float, back frame (y, z), outward [1]
    off : (n,) float, replica minus original along it [mm]
    """
    # A flat section tells nothing of a sideways move: a little ridge keeps that at nothing.
    return np.asarray(np.linalg.solve(normal.T @ normal + 0.2 * np.eye(2), -normal.T @ off))


def _side(name: str, off: FloatArray, band: FloatArray, across: FloatArray, tolerance_mm: float) -> SideMove:
    worst = int(np.argmax(np.abs(off)))
    beyond = np.abs(off) > tolerance_mm
    if np.any(beyond & (np.abs(off) > band)):
        verdict = RebuildVerdict.MOVE
    else:
        verdict = RebuildVerdict.CANNOT_TELL if np.any(beyond) else RebuildVerdict.GOOD
    return SideMove(
        side=name,
        worst_mm=float(off[worst]),
        worst_at_mm=float(abs(across[worst])),
        verdict=verdict,
    )


def _worst(verdicts: tuple[RebuildVerdict, ...]) -> RebuildVerdict:
    for one in (RebuildVerdict.MOVE, RebuildVerdict.CANNOT_TELL):
        if one in verdicts:
            return one
    return RebuildVerdict.GOOD


def not_compared(proof: RebuildProof, original: EstimatedBack) -> tuple[NotMeasured, ...]:
    """Return the stations of the original at which the replica was not measured."""
    compared = {round(one.s_mm, 3) for one in proof.stations}
    return tuple(
        NotMeasured(f"station {k} was not measured on the replica", (k,))
        for k, s in enumerate(stations_of(original), start=1)
        if round(s, 3) not in compared
    )
