"""How friction at the touching points answers to moves of theirs, as a step of settling ended."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.alter.point_moves import parts_along, turned_by
from saddlebench.engine.alter.pressed import Pressed
from saddlebench.engine.fit.steps import Reached, Rig
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What n touching points remember of k changes, from the step before."""

    springs: FloatArray
    """(n, k, 3) float, back frame [mm per unit]: resting places of their shear springs."""
    places: FloatArray
    """(n, k, 3) float, back frame [mm per unit]."""
    gaps: FloatArray
    """(n, k) float [mm per unit]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grip:
    """Friction at the touching points, as the step ended."""

    stiff: FloatArray
    """(n,) float, area times shear stiffness [N/mm]."""
    normal: FloatArray
    """(n, 3) float, back frame [1]."""
    turn: FloatArray
    """(n, 3, 3) float, back frame [1/mm]: how the normal turns as the point moves."""
    stretch: FloatArray
    """(n, 3) float, back frame [mm]: tangential stretch of the shear spring, as if it did not slip."""
    lift: FloatArray
    """(n,) float, its stretch along the normal [mm]."""
    part: FloatArray
    """(n,) float, 0 for springs that held when the step began, else which part of its way a point had gone
    when it touched."""
    down: FloatArray
    """(n,) float, that way along the normal [mm]."""
    slips: FloatArray
    """(n,) bool."""
    reach: FloatArray
    """(n,) float, stretch at which friction is used up [mm]."""
    reach_rise: FloatArray
    """(n, 3) float, back frame [1]: how that reach grows as the point moves."""

    @classmethod
    def of(cls, rig: Rig, state: Reached, pressed: Pressed) -> "Grip":
        """Return the grip of the points that touch, in their order."""
        touching = np.flatnonzero(pressed.pressure_kpa > 0.0)
        friction = state.friction
        slope = pressed.slope[touching]
        size = np.linalg.norm(slope, axis=1, keepdims=True)
        normal = slope / size
        place = pressed.arm[touching] + state.pose[9:]
        reached = place - friction.anchor[touching]
        lift = np.einsum("nb,nb->n", reached, normal)
        stretch = reached - lift[:, None] * normal
        gap = friction.first_gap[touching]
        down = np.maximum(gap, -np.einsum("nb,nb->n", place - friction.first[touching], normal))
        began_free = (gap > 0.0) & (friction.stiffness > 0.0)
        down = np.where(began_free, np.maximum(down, 1e-9), 1.0)
        part = np.where(began_free, gap / down, 0.0)
        across = np.eye(3) - normal[:, :, None] * normal[:, None, :]
        k = friction.stiffness
        per_reach = friction.coefficient / k if k > 0.0 else 0.0
        reach = per_reach * pressed.pressure_kpa[touching]
        return cls(
            stiff=rig.panels.area[touching] * k,
            normal=normal,
            turn=np.einsum("nab,nbc->nac", across, pressed.bend[touching]) / size[:, :, None],
            stretch=stretch,
            lift=lift,
            part=part,
            down=down,
            slips=np.linalg.norm(stretch, axis=1) > reach,
            reach=reach,
            reach_rise=-per_reach * pressed.stiffness[touching][:, None] * slope,
        )

    @property
    def length(self) -> FloatArray:
        """(n,) float, back frame: of the stretch [mm]."""
        return np.maximum(np.linalg.norm(self.stretch, axis=1), 1e-12)

    @property
    def force(self) -> FloatArray:
        """(n, 3) float, back frame: of friction, used up where a point slips [N]."""
        kept = np.where(self.slips, self.reach / self.length, 1.0)
        return (self.stiff * kept)[:, None] * self.stretch

    def _across(self, moves: FloatArray) -> FloatArray:
        return moves - parts_along(self.normal, moves)[:, :, None] * self.normal[:, None, :]

    def _stretched(self, places: FloatArray, held: Held) -> FloatArray:
        """Return how the stretch (n, k, 3) answers, normals aside."""
        went = places - held.places
        free = self.part > 0.0
        sinks = -parts_along(self.normal, went)
        sinks = np.where((self.part >= 1.0)[:, None], 0.0, sinks)
        more_part = (held.gaps - self.part[:, None] * sinks) / self.down[:, None]
        rest = np.maximum(1.0 - self.part, 1e-9)
        from_free = rest[:, None, None] * self._across(went) - (
            (self.stretch / rest[:, None])[:, None, :] * more_part[:, :, None]
        )
        return np.where(free[:, None, None], from_free, self._across(places - held.springs))

    def _turned(self, places: FloatArray) -> FloatArray:
        turned = turned_by(self.turn, places)
        along = parts_along(self.stretch, turned)
        return -self.lift[:, None, None] * turned - along[:, :, None] * self.normal[:, None, :]

    def _pulled(self, stretched: FloatArray, reach: FloatArray | None) -> FloatArray:
        """Return the held stretch's answer (n, k, 3) as the stretch and the reach (n, k) answer."""
        way = self.stretch / self.length[:, None]
        along = parts_along(way, stretched)
        slid = (self.reach / self.length)[:, None, None] * (stretched - along[:, :, None] * way[:, None, :])
        if reach is not None:
            slid = slid + reach[:, :, None] * way[:, None, :]
        return np.where(self.slips[:, None, None], slid, stretched)

    def _held_stretch(self, places: FloatArray, held: Held, grown: FloatArray) -> FloatArray:
        stretched = self._stretched(places, held) + self._turned(places)
        return self._pulled(stretched, parts_along(self.reach_rise, places) + grown)

    def answer(self, places: FloatArray, held: Held, grown: FloatArray) -> FloatArray:
        """Return how friction's force (n, k, 3) answers to moves of the points [N].

        `grown` (n, k) is by how much the reach grows besides.
        """
        return self.stiff[:, None, None] * self._held_stretch(places, held, grown)

    def turned_normals(self, places: FloatArray) -> FloatArray:
        """Return what turning normals add to that, (n, k, 3) [N], which the solver's tangent leaves out.

        Parameters
        ----------
        places : (n, k, 3) float, back frame [mm]
        """
        return self.stiff[:, None, None] * self._pulled(self._turned(places), None)

    def springs(self, places: FloatArray, held: Held, grown: FloatArray) -> FloatArray:
        """Return how the springs' resting places (n, k, 3) answer, from which the next step begins."""
        if not np.any(self.stiff):
            return places
        return places - self._held_stretch(places, held, grown)
