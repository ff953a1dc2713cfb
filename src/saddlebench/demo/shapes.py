"""Invented backs as smooth closed forms, for the demo and the tests. No horse was measured for any of them.

A cross-section is `y² = Q(d)` with `d` the depth below the midline,
`Q(d) = 2ρd/(1 + d/δ) + (kd)²/(1 + (d/D)²)`: a crown of radius ρ that ends δ below the midline, flanks of
slope k, a barrel that turns upright at D. The topline and the four numbers blend along the back by logistic
steps; hollows, gutters and a bigger shoulder are smooth bumps of the radius that vanish on the midline. Sizes
follow a horse of 1.60 m: withers to last rib 550–750 mm, about 300 mm wide 150 mm below the midline near T10,
withers 80–110° included.
"""

from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from scipy.special import expit

from saddlebench.engine.back import landmarks as marks
from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.polar import PolarGrid, PolarSpline
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.back.tissue import tissue_regions
from saddlebench.engine.frames import FloatArray, read_only

HEIGHT_AT_WITHERS_MM = 1600.0
AXIS_DEPTH_MM = 220.0
MEASURED_FROM_MM, MEASURED_TO_MM, MEASURED_PHI = -200.0, 650.0, np.deg2rad(96.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """The four numbers of a cross-section's form."""

    crown_radius_mm: float
    crown_depth_mm: float
    flank_slope: float
    barrel_depth_mm: float = 380.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bump:
    """A smooth rise (or hollow) of the radius, zero on the midline."""

    height_mm: float
    s_mm: float
    length_mm: float
    phi_deg: float
    width_deg: float
    both_sides: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Topline:
    """The dorsal midline: a withers hump, a sag, an arch, and a croup that rises behind."""

    withers_mm: float = 70.0
    withers_at_mm: float = -70.0
    withers_length_mm: float = 150.0
    sag_mm: float = 12.0
    sag_at_mm: float = 270.0
    sag_length_mm: float = 160.0
    arch_mm: float = 0.0
    arch_at_mm: float = 400.0
    arch_length_mm: float = 130.0
    croup_mm: float = 35.0
    croup_at_mm: float = 600.0
    croup_length_mm: float = 70.0

    def height(self, s_mm: FloatArray) -> FloatArray:
        """Return the height (n,) above the midline at the shoulder mark at distances (n,) [mm]."""
        return self._height(s_mm) - self._height(np.asarray(0.0))

    def _height(self, s: FloatArray) -> FloatArray:
        def hump(at: float, length: float) -> FloatArray:
            return np.exp(-(((s - at) / length) ** 2))

        return (
            self.withers_mm * hump(self.withers_at_mm, self.withers_length_mm)
            - self.sag_mm * hump(self.sag_at_mm, self.sag_length_mm)
            + self.arch_mm * hump(self.arch_at_mm, self.arch_length_mm)
            + self.croup_mm * expit((s - self.croup_at_mm) / self.croup_length_mm)
        )


_SHOULDERS = Bump(height_mm=10.0, s_mm=-130.0, length_mm=90.0, phi_deg=68.0, width_deg=24.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class BackShape:
    """An invented back in the back frame; every length scales with the height at the withers."""

    name: str
    description: str
    withers: Section = Section(crown_radius_mm=20.0, crown_depth_mm=28.0, flank_slope=1.02)
    middle: Section = Section(crown_radius_mm=170.0, crown_depth_mm=75.0, flank_slope=1.12)
    loin: Section = Section(crown_radius_mm=230.0, crown_depth_mm=66.0, flank_slope=1.15)
    topline: Topline = Topline()
    bumps: tuple[Bump, ...] = (_SHOULDERS,)
    last_rib_mm: float = 540.0
    girth_groove_mm: float = 190.0
    shoulder_left_mm: float = 0.0
    shoulder_right_mm: float = 0.0
    spine_strip_width_mm: float = 45.0
    height_at_withers_mm: float = HEIGHT_AT_WITHERS_MM

    @property
    def scale(self) -> float:
        """Size against the horse of 1.60 m."""
        return self.height_at_withers_mm / HEIGHT_AT_WITHERS_MM

    @property
    def axis_z_mm(self) -> float:
        """Height of the polar axis in the back frame [mm]."""
        return -AXIS_DEPTH_MM * self.scale

    def of_height(self, height_at_withers_mm: float) -> Self:
        """Return the same form on a smaller or larger horse."""
        return replace(self, height_at_withers_mm=height_at_withers_mm)

    def radius(self, s_mm: FloatArray | float, phi: FloatArray | float) -> FloatArray:
        """Return the radius from the axis.

        Parameters
        ----------
        s_mm, phi : broadcastable float, distance behind the shoulder mark [mm] and angle [rad]

        Returns
        -------
        float array of the broadcast shape, back frame [mm]
        """
        s, angle = np.broadcast_arrays(np.asarray(s_mm, float) / self.scale, np.asarray(phi, float))
        top = AXIS_DEPTH_MM + self.topline.height(s)
        return self.scale * (_section_radius(self._sections(s), top, angle) + self._bump(s, angle))

    def surface(self, grid: PolarGrid | None = None) -> BackSurface:
        """Return the exact surface on a grid (default: 15 mm by 3°, 60 mm beyond what counts as measured)."""
        grid = grid or self.grid()
        radius = self.radius(grid.s_mm[:, None], grid.phi[None, :])
        s_in = (grid.s_mm >= MEASURED_FROM_MM * self.scale) & (grid.s_mm <= MEASURED_TO_MM * self.scale)
        measured = s_in[:, None] & (np.abs(grid.phi) <= MEASURED_PHI + 1e-9)[None, :]
        measured.flags.writeable = False
        return BackSurface(
            grid=grid,
            radius_mm=read_only(radius),
            sd_mm=read_only(np.zeros_like(radius)),
            measured=measured,
            tissue=tissue_regions(grid, radius, self.landmarks),
            spline=PolarSpline.through(grid, radius),
        )

    def grid(self, ds_mm: float = 15.0, dphi_deg: float = 3.0) -> PolarGrid:
        """Return a grid over the measured part and 60 mm beyond it; spacing for the horse of 1.60 m."""
        n_side = int(np.ceil(np.rad2deg(MEASURED_PHI) / dphi_deg)) + int(np.ceil(20.0 / dphi_deg))
        n_front = int(np.ceil((60.0 - MEASURED_FROM_MM) / ds_mm))
        n_rear = int(np.ceil((60.0 + MEASURED_TO_MM) / ds_mm))
        dphi = float(np.deg2rad(dphi_deg))
        return PolarGrid(
            s0_mm=-n_front * ds_mm * self.scale,
            ds_mm=ds_mm * self.scale,
            n_s=n_front + n_rear + 1,
            phi0=-n_side * dphi,
            dphi=dphi,
            n_phi=2 * n_side + 1,
            axis_z_mm=self.axis_z_mm,
        )

    def section(self, s_mm: float, n: int = 101) -> FloatArray:
        """Return a polyline (n, 3) float, back frame [mm], of the cross-section from right to left."""
        phi = np.linspace(-MEASURED_PHI, MEASURED_PHI, n)
        r = self.radius(s_mm, phi)
        return np.stack([np.full(n, -s_mm), r * np.sin(phi), r * np.cos(phi) + self.axis_z_mm], axis=1)

    @property
    def landmarks(self) -> Landmarks:
        """The marks, where the form has them, with the errors of common practice."""
        s = np.arange(MEASURED_FROM_MM, MEASURED_TO_MM, 1.0)
        height = self.topline.height(s)
        front, middle = s < 120.0, (s > 100.0) & (s < self.last_rib_mm)
        withers = s[front][np.argmax(height[front])] * self.scale
        lowest = s[middle][np.argmin(height[middle])] * self.scale
        return Landmarks(
            withers=Mark(float(withers), marks.WITHERS_SD_MM),
            lowest=Mark(float(lowest), marks.LOWEST_SD_MM),
            last_rib=Mark(self.last_rib_mm * self.scale, marks.LAST_RIB_SD_MM),
            shoulder_left=Mark(self.shoulder_left_mm * self.scale, marks.SHOULDER_SD_MM),
            shoulder_right=Mark(self.shoulder_right_mm * self.scale, marks.SHOULDER_SD_MM),
            girth_groove=Mark(self.girth_groove_mm * self.scale, marks.GIRTH_GROOVE_SD_MM),
            spine_strip_width=Mark(self.spine_strip_width_mm * self.scale, marks.SPINE_STRIP_SD_MM),
        )

    def _sections(self, s: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        to_middle, to_loin = expit((s - 110.0) / 55.0), expit((s - 430.0) / 60.0)

        def blend(front: float, middle: float, rear: float) -> FloatArray:
            return front + (middle - front) * to_middle + (rear - middle) * to_loin

        a, b, c = self.withers, self.middle, self.loin
        return (
            blend(a.crown_radius_mm, b.crown_radius_mm, c.crown_radius_mm),
            blend(a.crown_depth_mm, b.crown_depth_mm, c.crown_depth_mm),
            blend(a.flank_slope, b.flank_slope, c.flank_slope),
            blend(a.barrel_depth_mm, b.barrel_depth_mm, c.barrel_depth_mm),
        )

    def _bump(self, s: FloatArray, phi: FloatArray) -> FloatArray:
        total = np.zeros_like(s)
        for bump in self.bumps:
            at, width = np.deg2rad(bump.phi_deg), np.deg2rad(bump.width_deg)
            across = np.exp(-(((phi - at) / width) ** 2))
            if bump.both_sides:
                across = across + np.exp(-(((phi + at) / width) ** 2))
            total += bump.height_mm * across * np.exp(-(((s - bump.s_mm) / bump.length_mm) ** 2))
        return total * -np.expm1(-((phi / np.deg2rad(9.0)) ** 2))


def _section_radius(
    section: tuple[FloatArray, FloatArray, FloatArray, FloatArray], top: FloatArray, phi: FloatArray
) -> FloatArray:
    """Solve `(r sin φ)² = Q(top − r cos φ)` for r by bisection; the left side less the right grows with r."""
    rho, delta, slope, barrel = section
    sine2, cosine = np.sin(phi) ** 2, np.cos(phi)
    low = np.zeros_like(top)
    high = np.where(cosine > 0.1, top / np.maximum(cosine, 0.1), 10.0 * top)
    for _ in range(60):
        r = 0.5 * (low + high)
        d = top - r * cosine
        q = 2.0 * rho * d / (1.0 + d / delta) + (slope * d) ** 2 / (1.0 + (d / barrel) ** 2)
        outside = r * r * sine2 > q
        low, high = np.where(outside, low, r), np.where(outside, r, high)
    return 0.5 * (low + high)


PLAIN = BackShape(name="plain", description="a plain all-round riding horse")
HIGH_WITHERS = BackShape(
    name="high-withers",
    description="high narrow withers with hollows behind the shoulders",
    withers=Section(crown_radius_mm=13.0, crown_depth_mm=30.0, flank_slope=0.98),
    topline=Topline(withers_mm=98.0, withers_at_mm=-60.0, withers_length_mm=165.0),
    bumps=(_SHOULDERS, Bump(height_mm=-10.0, s_mm=55.0, length_mm=80.0, phi_deg=42.0, width_deg=22.0)),
    last_rib_mm=560.0,
    spine_strip_width_mm=40.0,
)
WIDE_COB = BackShape(
    name="wide-cob",
    description="a flat-withered wide cob",
    withers=Section(crown_radius_mm=65.0, crown_depth_mm=50.0, flank_slope=1.28, barrel_depth_mm=320.0),
    middle=Section(crown_radius_mm=200.0, crown_depth_mm=85.0, flank_slope=1.32, barrel_depth_mm=330.0),
    loin=Section(crown_radius_mm=260.0, crown_depth_mm=75.0, flank_slope=1.32, barrel_depth_mm=330.0),
    topline=Topline(withers_mm=34.0, sag_mm=10.0, croup_mm=30.0),
    last_rib_mm=510.0,
    spine_strip_width_mm=60.0,
)
GUTTERED_NATIVE = BackShape(
    name="guttered-native",
    description="a round native whose back muscle stands higher than the spine",
    withers=Section(crown_radius_mm=60.0, crown_depth_mm=45.0, flank_slope=1.22, barrel_depth_mm=320.0),
    middle=Section(crown_radius_mm=210.0, crown_depth_mm=85.0, flank_slope=1.30, barrel_depth_mm=330.0),
    loin=Section(crown_radius_mm=260.0, crown_depth_mm=75.0, flank_slope=1.30, barrel_depth_mm=330.0),
    topline=Topline(withers_mm=38.0, sag_mm=14.0, croup_mm=32.0),
    bumps=(_SHOULDERS, Bump(height_mm=15.0, s_mm=360.0, length_mm=230.0, phi_deg=17.0, width_deg=15.0)),
    last_rib_mm=500.0,
    spine_strip_width_mm=58.0,
    height_at_withers_mm=1420.0,
)
A_SHAPED = BackShape(
    name="a-shaped",
    description="a lean A-shaped back with little muscle beside the spine",
    withers=Section(crown_radius_mm=14.0, crown_depth_mm=22.0, flank_slope=0.92),
    middle=Section(crown_radius_mm=24.0, crown_depth_mm=22.0, flank_slope=1.18),
    loin=Section(crown_radius_mm=32.0, crown_depth_mm=28.0, flank_slope=1.25),
    topline=Topline(withers_mm=76.0, sag_mm=8.0, croup_mm=28.0),
    spine_strip_width_mm=38.0,
)
SWAY = BackShape(
    name="sway",
    description="an old horse with a dipped back",
    topline=Topline(withers_mm=84.0, sag_mm=52.0, sag_at_mm=265.0, sag_length_mm=165.0, croup_mm=42.0),
    last_rib_mm=560.0,
)
ROACH = BackShape(
    name="roach",
    description="a back that arches up behind the saddle's middle",
    topline=Topline(withers_mm=58.0, sag_mm=6.0, sag_at_mm=180.0, arch_mm=30.0, croup_mm=6.0),
    loin=Section(crown_radius_mm=170.0, crown_depth_mm=66.0, flank_slope=1.15),
)
CROUP_HIGH = BackShape(
    name="croup-high",
    description="a croup-high youngster, low and flat in front",
    withers=Section(crown_radius_mm=30.0, crown_depth_mm=32.0, flank_slope=1.08),
    topline=Topline(withers_mm=44.0, sag_mm=10.0, sag_at_mm=230.0, croup_mm=95.0, croup_length_mm=95.0),
    last_rib_mm=500.0,
    height_at_withers_mm=1540.0,
)
SHORT_COUPLED = BackShape(
    name="short-coupled",
    description="a compact horse with a short back",
    withers=Section(crown_radius_mm=26.0, crown_depth_mm=30.0, flank_slope=1.10),
    topline=Topline(withers_mm=62.0, sag_mm=18.0, sag_at_mm=220.0, sag_length_mm=120.0, croup_at_mm=500.0),
    last_rib_mm=450.0,
    height_at_withers_mm=1500.0,
)
LEFT_SHOULDER = BackShape(
    name="left-shoulder",
    description="a bigger left shoulder, and a hollow behind the right one",
    bumps=(
        _SHOULDERS,
        Bump(height_mm=11.0, s_mm=-60.0, length_mm=95.0, phi_deg=55.0, width_deg=24.0, both_sides=False),
        Bump(height_mm=-6.0, s_mm=60.0, length_mm=80.0, phi_deg=-45.0, width_deg=20.0, both_sides=False),
    ),
    shoulder_left_mm=8.0,
    shoulder_right_mm=-6.0,
)
FORWARD_GIRTH = BackShape(
    name="forward-girth",
    description="a round barrel whose girth groove lies far forward",
    withers=Section(crown_radius_mm=34.0, crown_depth_mm=34.0, flank_slope=1.15, barrel_depth_mm=340.0),
    middle=Section(crown_radius_mm=190.0, crown_depth_mm=75.0, flank_slope=1.25, barrel_depth_mm=340.0),
    topline=Topline(withers_mm=50.0),
    girth_groove_mm=95.0,
)

BACK_SHAPES = {
    shape.name: shape
    for shape in (
        PLAIN,
        HIGH_WITHERS,
        WIDE_COB,
        GUTTERED_NATIVE,
        A_SHAPED,
        SWAY,
        ROACH,
        CROUP_HIGH,
        SHORT_COUPLED,
        LEFT_SHOULDER,
        FORWARD_GIRTH,
    )
}
"""Every invented back, by name."""
