"""A doubt that comes from the level of the ground is named so, and not after a station."""

from dataclasses import replace

import numpy as np

from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.back.frame_errors import turned
from saddlebench.engine.back.surface import estimate_back
from saddlebench.engine.fit.confidence import CloudSettings, draw_cloud
from saddlebench.engine.fit.findings import Driver
from saddlebench.engine.fit.influence import driver_of, sources_of
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.saddle.numbers import model_from_numbers
from support.measured import points_of


def test_level_across_the_horse_is_what_left_against_right_is_unsure_by() -> None:
    roll = turned("level of the ground across the horse", np.deg2rad(2.0), (1.0, 0.0, 0.0))
    points = points_of(PLAIN, noise_mm=0.3, rng=np.random.default_rng(3))
    points = replace(points, frame_errors=(roll,))
    estimated = estimate_back(points, PLAIN.landmarks)
    saddle = model_from_numbers(ALL_ROUND, 200)
    fit = FitProblem(
        surface=estimated.surface,
        landmarks=PLAIN.landmarks,
        saddle=saddle,
        rider=Rider(mass_kg=70.0),
    )
    cloud = draw_cloud(estimated, fit, 0.2, CloudSettings(draws=24, points=200, seed=2))
    grid = estimated.surface.grid
    sources = sources_of(
        cloud.inputs.names, cloud.inputs.values, grid, cloud.radius_shift_mm, estimated.points.stations
    )
    assert cloud.inputs.names[-1] == roll.source
    # 2° about the midline move either flank by some 5 mm, one up and one down; readings leave a millimetre.
    moved = cloud.inputs.of(roll.source)[:, None, None] * estimated.posterior.frame_moves_mm[0]
    backs = cloud.radius_shift_mm + moved
    near = np.abs(grid.phi - 0.7) < 0.1
    lopsided = (backs - backs[:, :, ::-1])[:, grid.n_s // 2, near].mean(axis=1)
    driver = driver_of(sources, lopsided)
    assert isinstance(driver, Driver)
    assert driver.source == roll.source
    assert driver.share > 0.8
    assert driver.stations == ()
