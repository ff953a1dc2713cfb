"""A change study on meshes of real horses that a known field has made fuller or less: the field comes back.

Every mesh at hand, measured in seventeen sections; then its points moved by the field, along the radius, with
fresh errors of 0.7 mm; measured again. What is found has to be the field: its place, its sign, its size.
And where nothing was changed, and only the stations lie elsewhere, nothing is found.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest

from saddlebench.demo.varied import rounded_off
from saddlebench.engine.back.scan import AlignedScan, points_from_scan
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.back.surface import estimate_back
from saddlebench.engine.change.discs import disc_profile
from saddlebench.engine.change.results import Comparison, Patch
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.study import compare
from saddlebench.engine.change.unseen import wide_profile
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.back_job import MeasuredBack
from saddlebench.exchange.scans import read_scan
from support.visits import comb, visited

SETTINGS = ChangeSettings(simulations=600, draws=16, most_readings=300)
MESHES = ("horse-a", "horse-b-pose0", "horse-b-pose6", "horse-b-pose14", "horse-c-reference")
OVER_MM = 140.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bump:
    """A change of the radius about a middle."""

    depth_mm: float
    s_mm: float
    phi: float
    is_wide: bool = False

    def at(self, s_mm: FloatArray, phi: FloatArray, radius_mm: float) -> FloatArray:
        """Return the change at places of any shape [mm]."""
        apart = np.hypot(s_mm - self.s_mm, (phi - self.phi) * radius_mm)
        profile = wide_profile(apart) if self.is_wide else disc_profile(2.0 * apart / OVER_MM)
        return np.asarray(self.depth_mm * profile)


LOCAL = {
    "gain on the near side": Bump(depth_mm=10.0, s_mm=160.0, phi=0.4),
    "loss on the off side": Bump(depth_mm=-10.0, s_mm=300.0, phi=-0.45),
    "gain over the withers": Bump(depth_mm=8.0, s_mm=-60.0, phi=0.0),
}
WIDE = {
    "wide gain on the near side": (Bump(depth_mm=12.0, s_mm=220.0, phi=0.5, is_wide=True),),
    "wide gain on both sides": tuple(
        Bump(depth_mm=12.0, s_mm=200.0, phi=side, is_wide=True) for side in (0.5, -0.5)
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OnMesh:
    """A real back, and what measures it again."""

    back: MeasuredBack
    points: MeasuredPoints
    aligned: AlignedScan

    def measured_anew(self, rng: np.random.Generator, year: int) -> MeasuredBack:
        """Return a record of ten stations of its own, the mark set anew, errors of 1 mm; no facets."""
        places = np.linspace(-140.0, 560.0, 10) + rng.uniform(-15.0, 15.0) + rng.normal(0.0, 6.0, 10)
        vertices, faces = rounded_off(self.aligned.vertices_back, np.asarray(self.aligned.scan.faces))
        smooth = replace(self.aligned, vertices_back=vertices, scan=replace(self.aligned.scan, faces=faces))
        cut = points_from_scan(smooth, places)
        moved = cut.points_back + rng.normal(0.0, 1.0, cut.points_back.shape)
        moved[:, 0] += rng.normal(0.0, 8.0)
        told = np.full_like(cut.noise_mm, 1.5)
        points = replace(cut, points_back=moved, noise_mm=told, frame_errors=())
        record = replace(self.back.record, measured_on=self.back.record.measured_on.replace(year=year))
        return replace(self.back, record=record, estimated=estimate_back(points, record.landmarks))

    def changed(self, bumps: tuple[Bump, ...]) -> tuple[Comparison, Callable[..., FloatArray]]:
        """Return the study of the back and itself with a field, and that field [mm]."""
        s, phi, r = self.back.estimated.surface.grid.polar(self.points.points_back)
        middle = float(np.median(r))

        def field(s_mm: FloatArray, at: FloatArray) -> FloatArray:
            return np.sum([bump.at(s_mm, at, middle) for bump in bumps], axis=0)

        outward = np.stack([np.zeros_like(phi), np.sin(phi), np.cos(phi)], axis=1)
        noise = np.random.default_rng(3).normal(0.0, 0.7, outward.shape)
        moved = self.points.points_back + field(s, phi)[:, None] * outward + noise
        record = self.back.record
        later = replace(
            self.back,
            record=replace(record, measured_on=record.measured_on.replace(year=2027)),
            estimated=estimate_back(replace(self.points, points_back=moved), record.landmarks),
        )
        held = compare(self.back, later, settings=SETTINGS)
        assert isinstance(held, Comparison)
        return held, field


@pytest.fixture(scope="module", params=MESHES)
def mesh(request: pytest.FixtureRequest, real_backs: dict) -> OnMesh:
    aligned = align_scan(read_scan(*real_backs[request.param]))
    points = points_from_scan(aligned, np.arange(-120.0, 521.0, 40.0))
    quiet = replace(points, noise_mm=np.full_like(points.noise_mm, 1.0), frame_errors=())
    base = visited(0, 1)
    record = replace(base.record, label=request.param, instrument=comb(), landmarks=aligned.landmarks)
    back = replace(base, record=record, estimated=estimate_back(quiet, aligned.landmarks))
    return OnMesh(back=back, points=quiet, aligned=aligned)


def root_mean_square(values: FloatArray) -> float:
    return float(np.sqrt(np.mean(values**2)))


def left_over(held: Comparison, field: Callable[..., FloatArray]) -> tuple[float, float, float]:
    """Return the root mean squares of what the map says less the field, its form's part, and the field [mm].

    No reading tells an even part of a change from a record that lies elsewhere. Form is what no move along,
    sideways or up explains.
    """
    grid, common = held.map.grid, held.map.common
    s, phi = np.meshgrid(grid.s_mm, grid.phi, indexing="ij")
    true = field(s, phi)[common]
    error = (held.map.later_mm - held.map.earlier_mm)[common] - true
    along = np.gradient(held.map.earlier_mm, grid.ds_mm, axis=0)[common]
    moves = np.stack([along, np.cos(phi[common]), np.sin(phi[common])], axis=1)
    form = error - moves @ np.linalg.lstsq(moves, error, rcond=None)[0]
    return root_mean_square(error), root_mean_square(form), root_mean_square(true)


def lies_where_it_may(held: Comparison) -> bool:
    """Whether the later record, which was never moved, was laid within twice what is stated for it."""
    return all(abs(move.value) <= 2.0 * move.sd for move in held.registration.moves)


def has_the_fields_sign(patch: Patch, field: Callable[..., FloatArray]) -> bool:
    return float(field(np.array(patch.s_mm), np.array(patch.phi))) * patch.depth.value > 0.0


@pytest.mark.real_data
@pytest.mark.parametrize("name", LOCAL)
def test_a_field_over_a_hands_breadth_comes_back(mesh: OnMesh, name: str) -> None:
    bump = LOCAL[name]
    held, field = mesh.changed((bump,))
    assert all(has_the_fields_sign(one, field) for one in held.scan.patches)
    patch = held.scan.patches[0]
    assert abs(patch.s_mm - bump.s_mm) < 45.0
    assert abs(patch.phi - bump.phi) < 0.2
    assert patch.sure > 0.99
    # The field runs along the radius: along the normal of a slope it is less, to seven tenths on the flank.
    assert 0.55 < patch.depth.value / bump.depth_mm < 1.1
    error, form, true = left_over(held, field)
    assert error < 1.5
    assert form < 0.5 * true
    assert lies_where_it_may(held)


@pytest.mark.real_data
@pytest.mark.parametrize("name", WIDE)
def test_of_a_wide_field_nothing_is_named_for_its_opposite(mesh: OnMesh, name: str) -> None:
    held, field = mesh.changed(WIDE[name])
    assert held.scan.patches
    assert all(has_the_fields_sign(patch, field) for patch in held.scan.patches)
    error, form, true = left_over(held, field)
    assert error < 3.5
    assert error < 0.5 * true
    assert form < 0.25 * true
    assert lies_where_it_may(held)


@pytest.mark.real_data
def test_an_unchanged_back_with_stations_of_its_own_each_time_shows_nothing(mesh: OnMesh) -> None:
    """Behind the last ribs what lies between two stations differs by millimetres, and is no change."""
    rng = np.random.default_rng(17)
    held = compare(mesh.measured_anew(rng, 2026), mesh.measured_anew(rng, 2027), settings=SETTINGS)
    assert isinstance(held, Comparison)
    assert held.scan.patches == ()
    assert not np.any(held.map.is_real)
