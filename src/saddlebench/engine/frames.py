"""Frames, and rigid moves between them that refuse to be composed wrongly."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating[Any]]


class Frame(StrEnum):
    """The axis systems of the field; all right-handed, x forward, y to the horse's left, z up (ISO 8855)."""

    INSTRUMENT = "instrument"
    """As the instrument reads it, tilted with the instrument or floor."""
    GRAVITY = "gravity"
    """z against gravity, origin as the instrument's."""
    BACK = "back"
    """The gravity frame moved to the dorsal midline at the shoulder mark."""
    SADDLE = "saddle"
    """Origin on the saddle's midline at the front edge of the panels; z up, seat level as designed."""


def read_only(array: FloatArray) -> FloatArray:
    """Return a C-contiguous float copy, same shape, any frame and unit, that cannot be written to."""
    held = np.array(array, dtype=np.float64, order="C")
    held.flags.writeable = False
    return held


class FrameMismatchError(ValueError):
    """Two poses were composed whose frames do not meet."""

    def __init__(self, outer: "Pose", inner: "Pose") -> None:
        super().__init__(
            f"cannot follow {inner.source}→{inner.target} by {outer.source}→{outer.target}: "
            "the frames do not meet"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """A rigid move: `p_target = rotation @ p_source + translation_mm`."""

    source: Frame
    target: Frame
    rotation: FloatArray
    """(3, 3) proper rotation."""
    translation_mm: FloatArray
    """(3,) in the target frame [mm]."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "rotation", read_only(self.rotation))
        object.__setattr__(self, "translation_mm", read_only(self.translation_mm))
        if self.rotation.shape != (3, 3) or self.translation_mm.shape != (3,):
            msg = (
                f"expected shapes (3, 3) and (3,), got {self.rotation.shape} and {self.translation_mm.shape}"
            )
            raise ValueError(msg)

    @classmethod
    def identity(cls, source: Frame, target: Frame) -> Self:
        """Return the pose that changes the frame's name only."""
        return cls(source=source, target=target, rotation=np.eye(3), translation_mm=np.zeros(3))

    def points(self, points: FloatArray) -> FloatArray:
        """Move points.

        Parameters
        ----------
        points : (n, 3) float, source frame [mm]

        Returns
        -------
        (n, 3) float, target frame [mm]
        """
        return points @ self.rotation.T + self.translation_mm

    def directions(self, directions: FloatArray) -> FloatArray:
        """Turn directions, (n, 3) float, source frame [1], into the target frame."""
        return directions @ self.rotation.T

    def after(self, inner: "Pose") -> "Pose":
        """Return the pose that does `inner` first and this one next.

        Raises
        ------
        FrameMismatchError
            If `inner` does not end in this pose's source frame.
        """
        if inner.target is not self.source:
            raise FrameMismatchError(self, inner)
        return Pose(
            source=inner.source,
            target=self.target,
            rotation=self.rotation @ inner.rotation,
            translation_mm=self.rotation @ inner.translation_mm + self.translation_mm,
        )

    def inverse(self) -> "Pose":
        """Return the move back."""
        return Pose(
            source=self.target,
            target=self.source,
            rotation=self.rotation.T,
            translation_mm=-self.rotation.T @ self.translation_mm,
        )


def rotation_from_vector(vector_rad: FloatArray) -> FloatArray:
    """Return the rotation `exp([w]×)`, by Rodrigues' formula.

    Parameters
    ----------
    vector_rad : (3,) float, any frame [rad]

    Returns
    -------
    (3, 3) float
    """
    angle = float(np.linalg.norm(vector_rad))
    x, y, z = vector_rad
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    # np.sinc is sin(πx)/(πx): both factors stay exact at angle 0.
    sine = np.sinc(angle / np.pi)
    half = np.sinc(angle / (2 * np.pi))
    return np.eye(3) + sine * cross + 0.5 * half * half * (cross @ cross)
