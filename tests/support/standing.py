"""A scanned horse as it would have stood with a hind leg rested, or its neck turned: by a known amount."""

from dataclasses import replace

import numpy as np

from saddlebench.engine.back.scan import AlignedScan, ScanOfBack

SPINE_BELOW_MM = 80.0
AHEAD_MM, BEHIND_MM = 60.0, 140.0


def stood_otherwise(aligned: AlignedScan, *, twist_deg: float = 0.0, bend_mm: float = 0.0) -> ScanOfBack:
    """Return the scan of the same horse, twisted about its spine and bent at its withers.

    The roll grows evenly from none 60 mm before the withers to `twist_deg`, left hip lower, 140 mm behind the
    last rib; the bend is nothing there and grows with the square of the way to `bend_mm` to the left.
    """
    front = -(aligned.landmarks.withers.value_mm - AHEAD_MM)
    rear = -(aligned.landmarks.last_rib.value_mm + BEHIND_MM)
    vertices = np.array(aligned.vertices_back)
    x, y, z = vertices.T
    forward = np.clip((x - rear) / (front - rear), -0.3, 1.3)
    roll = np.deg2rad(twist_deg) * (1.0 - forward)
    spine = np.interp(-x, aligned.topline_s_mm, aligned.topline_z_mm) - SPINE_BELOW_MM
    up = z - spine
    turned = y * np.cos(roll) + up * np.sin(roll) + bend_mm * np.maximum(forward, 0.0) ** 2
    moved = np.stack([x, turned, spine - y * np.sin(roll) + up * np.cos(roll)], axis=1)
    return replace(aligned.scan, vertices_instrument=aligned.scan_to_back.inverse().points(moved))
