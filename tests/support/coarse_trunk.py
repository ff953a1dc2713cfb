"""A trunk whose corners lie 50 mm apart, as a coarse scan has them."""

import numpy as np

STEP_MM = 50.0
NOISE_MM = 3.0
AXIS = (np.array([-800.0, 200.0]), np.array([-220.0, -220.0]))
ENDS = (-700.0, 100.0)


def trunk(noise_mm, seed=1):
    """Return a trunk's corners some 50 mm apart, its faces, and which way each corner's radius points."""
    rng = np.random.default_rng(seed)
    x = np.arange(-750.0, 151.0, STEP_MM)
    phi = np.deg2rad(np.arange(-120.0, 121.0, 11.0))
    along, around = np.meshgrid(x, phi, indexing="ij")
    radius = 250.0 + 25.0 * np.cos(along / 160.0) * np.cos(2.0 * around) + 0.04 * along * np.sin(around) ** 2
    outward = np.stack([np.zeros_like(around), np.sin(around), np.cos(around)], axis=-1)
    points = outward * radius[..., None] + np.stack(
        [along, np.zeros_like(along), np.full_like(along, -220.0)], axis=-1
    )
    i, j = np.meshgrid(np.arange(len(x) - 1), np.arange(len(phi) - 1), indexing="ij")
    a = (i * len(phi) + j).ravel()
    b, c, d = a + 1, a + len(phi), a + len(phi) + 1
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([b, d, c], axis=1)]).astype(np.int32)
    clean = points.reshape(-1, 3)
    return clean, clean + rng.normal(0.0, noise_mm, clean.shape), faces, outward.reshape(-1, 3)
