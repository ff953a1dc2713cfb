"""A phone's camera over a sheet of paper that may be curled: where each place of the sheet lies in the photo.

The camera is a pinhole with its axis in the picture's middle and one radial term of distortion (Brown 1966,
as in
Hartley & Zisserman, *Multiple View Geometry*, 2nd ed., section 7.4; memory). The paper bends without
stretching
about one direction only, with a curvature that may change steadily: a developable sheet.
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperCamera:
    """A camera, how the paper lies before it, and how it is bent."""

    size_px: tuple[int, int]
    """Width and height of the picture."""
    middle_mm: tuple[float, float]
    """Middle of the sheet, sheet's frame [mm]: it is bent and turned about this place."""
    focal: float
    """Focal length over the picture's longer side [1]."""
    radial: float
    """Distortion `1 + k r²`, r in focal lengths [1]."""
    turn: tuple[float, float, float]
    """Rotation vector, sheet to camera [rad]."""
    shift: tuple[float, float, float]
    """The sheet's middle, camera's axes [mm]."""
    curl: float = 0.0
    """Curvature at the sheet's middle [1/m]."""
    curl_change: float = 0.0
    """How the curvature changes across the bend [1/m²]."""
    curl_deg: float = 0.0
    """Direction in which the paper is bent [°]."""

    @property
    def tilt_deg(self) -> float:
        """How far the camera looks at the sheet's middle from the side [°]."""
        normal = _rotation(np.array(self.turn))[:, 2]
        view = np.array(self.shift) / np.linalg.norm(self.shift)
        return float(np.degrees(np.arccos(min(1.0, abs(float(normal @ view))))))

    def to_photo(self, places: FloatArray) -> FloatArray:
        """Return where places of the sheet lie in the photo.

        Parameters
        ----------
        places : (n, 2) float, sheet's frame [mm]

        Returns
        -------
        (n, 2) float, photo [px], from its upper left corner; the middle of the first dot is (0, 0)
        """
        bent = bend(places - np.array(self.middle_mm), self.curl, self.curl_change, self.curl_deg)
        # The sheet's y is up, the camera's is down, and the sheet is seen from its front.
        solid = (bent * (1.0, -1.0, -1.0)) @ _rotation(np.array(self.turn)).T + np.array(self.shift)
        depth = np.maximum(solid[:, 2:], 1.0)
        flat = solid[:, :2] / depth
        flat = flat * (1.0 + self.radial * (flat**2).sum(axis=1, keepdims=True))
        middle = 0.5 * (np.array(self.size_px) - 1.0)
        return np.asarray(middle + self.focal * max(self.size_px) * flat, dtype=float)


def bend(places: FloatArray, curl: float, curl_change: float, curl_deg: float) -> FloatArray:
    """Return places of a flat sheet after it was bent.

    Parameters
    ----------
    places : (n, 2) float, from the sheet's middle [mm]
    curl : [1/m]
    curl_change : [1/m²]
    curl_deg : direction along which it is bent [°]

    Returns
    -------
    (n, 3) float, sheet's frame [mm]; z away from the paper's back

    Notes
    -----
    With slope `z′(s) = κ s + μ s²/2` along the bend, a length s of paper reaches `s − ∫ z′²/2 ds`, to second
    order in the slope.
    """
    angle = np.radians(curl_deg)
    along = np.array([np.cos(angle), np.sin(angle)])
    s = places @ along
    rest = places - s[:, None] * along
    k, m = curl * 1e-3, curl_change * 1e-6
    short = k**2 * s**3 / 6.0 + k * m * s**4 / 8.0 + m**2 * s**5 / 40.0
    height = 0.5 * k * s**2 + m * s**3 / 6.0
    flat = rest + (s - short)[:, None] * along
    return np.column_stack([flat, height])


def _rotation(vector: FloatArray) -> FloatArray:
    """Return the rotation matrix (3, 3) float of a rotation vector (3,) float [rad] (Rodrigues' formula)."""
    angle = float(np.linalg.norm(vector))
    if angle < 1e-12:
        return np.eye(3)
    x, y, z = vector / angle
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.asarray(np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross)
