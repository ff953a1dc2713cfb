"""Invented saddles for the demo and the tests. None was measured, none is any maker's, none exists."""

from dataclasses import replace

import numpy as np

from saddlebench.demo.shapes import PLAIN, BackShape
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.fittings import Fittings, SeatNumbers
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.panels import PanelNumbers, TreeNumbers

_FRONT_EDGE_MM = 0.0


def cut_to(back: BackShape, label: str, length_mm: float = 430.0) -> PanelledNumbers:
    """Return a panelled saddle (invented) whose numbers follow a back's sections.

    The front edge of its panels is meant to lie at the shoulder mark, the points 45 mm behind it.
    """
    panel = PanelNumbers(length_mm=length_mm)
    behind = np.array([45.0, 0.45 * length_mm, 0.90 * length_mm])
    inner_z, angle = np.zeros(3), np.zeros(3)
    for i, s in enumerate(_FRONT_EDGE_MM + behind):
        y, z = _half_section(back, s)
        low, width = 0.5 * panel.channel_mm[i], panel.width_mm[i]
        along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(y), np.diff(z)))])
        start = float(np.interp(low, y, along))
        u = start + np.linspace(0.1, 0.9, 9) * width
        slope, _ = np.polyfit(np.interp(u, along, y), np.interp(u, along, z), 1)
        angle[i] = np.rad2deg(np.arctan(-slope))
        middle = start + 0.5 * width
        inner_z[i] = np.interp(middle, along, z) + np.sin(np.deg2rad(angle[i])) * 0.5 * width
    top = _half_section(back, behind[0])[1][0] + 48.0
    half = np.deg2rad(90.0 - angle[0])
    depth = 165.0
    face_y = 0.5 * panel.channel_mm[0] + (inner_z[0] - (top - depth)) * np.tan(half)
    return PanelledNumbers(
        label=label,
        tree=TreeNumbers(
            width_mm=float(round(2.0 * (face_y + (12.0 - panel.rounding_mm) / np.cos(half)))),
            depth_mm=depth,
            angle_deg=float(round(np.rad2deg(2.0 * half))),
            rise_mm=float(round(top - inner_z[1] - panel.channel_depth_mm[0])),
        ),
        panel=replace(
            panel,
            angle_deg=(float(round(angle[1])), float(round(angle[2]))),
            rear_rise_mm=float(round(inner_z[2] - inner_z[1])),
        ),
        fittings=Fittings(seat=SeatNumbers(rear_behind_mm=length_mm + 10.0)),
    )


def _half_section(back: BackShape, s_mm: float) -> tuple[FloatArray, FloatArray]:
    left = back.section(s_mm, 801)[400:]
    return left[:, 1], left[:, 2]


ALL_ROUND = cut_to(PLAIN, "invented all-round saddle")
"""An ordinary all-round saddle that suits the plain back."""
