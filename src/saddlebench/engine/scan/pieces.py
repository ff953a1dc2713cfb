"""Part a scene into pieces that do not touch."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.sample import cube_keys


def pieces(points: FloatArray, reach: float) -> NDArray[np.int64]:
    """Give numbers to the pieces of a cloud, the largest first.

    Parameters
    ----------
    points : (n, 3) float, any frame and unit
    reach : points closer than this belong together, same unit

    Returns
    -------
    (n,) int, the number of each point's piece, from 0
    """
    # One point for each filled cube of half the reach: as fine as is needed, and far fewer.
    _, first, cube = np.unique(cube_keys(points, 0.5 * reach), return_index=True, return_inverse=True)
    seeds = points[first]
    pairs = cKDTree(seeds).query_pairs(reach, output_type="ndarray")
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(seeds), len(seeds)))
    _, of_seed = connected_components(links, directed=False)
    of_point = of_seed[cube]
    order = np.argsort(-np.bincount(of_point), kind="stable")
    rank = np.zeros(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    return rank[of_point]
