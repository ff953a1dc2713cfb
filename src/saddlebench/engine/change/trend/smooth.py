"""A smooth trend through visits whose errors are known, averaged over how smooth it may be.

A Gaussian process in time: a level, slow and quick movement (Matérn 5/2), a yearly season, how one day
differs from the next, and the visits' own known errors, those that visits share included. With few visits no
single choice of its parameters is safe, so that many are tried, each weighed by how probable it makes the
visits.

References
----------
Rasmussen & Williams, Gaussian Processes for Machine Learning (2006): eq. 2.23–2.24 (trend), 2.30 (evidence),
4.31 (season), 5.12 (leaving one out). The regression itself is scikit-learn's.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
from scipy import linalg
from scipy.special import ndtr, ndtri
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, ExpSineSquared, Kernel, Matern, WhiteKernel

from saddlebench.engine.change.trend.series import Series
from saddlebench.engine.frames import FloatArray

AMPLITUDES = (1.0, 3.0)
"""Of the movement, in units of how far the visits scatter."""
LENGTHS_YEARS = (0.4, 1.5)
SEASON_AMPLITUDES = (0.0, 0.5)
SEASON_SHAPE = 1.3
"""Below 1 a season has several humps; this allows one that is lopsided."""
DAY_TO_DAY = (0.0, 1.0)
"""What one day differs from the next beyond the stated errors, in units of these."""
LEAST_SEASON_YEARS, LEAST_SEASON_VISITS = 1.25, 6
LEAST_WEIGHT = 0.01


class OnTime(Kernel):  # type: ignore[misc]
    """A kernel of time alone, where a second column numbers the visits."""

    def __init__(self, inner: Any) -> None:
        self.inner = inner

    def __call__(self, X: FloatArray, Y: FloatArray | None = None, eval_gradient: bool = False) -> Any:  # noqa: FBT001, FBT002
        """Return the covariance of rows X (n, 2) with rows Y (m, 2) float, any frame [a, 1]."""
        held = self.inner(X[:, :1], None if Y is None else Y[:, :1])
        return (held, np.zeros((*held.shape, 0))) if eval_gradient else held

    def diag(self, X: FloatArray) -> FloatArray:
        """Return the variances of rows X (n, 2) float, any frame [a, 1]."""
        return np.asarray(self.inner.diag(X[:, :1]))

    def is_stationary(self) -> bool:
        """Tell that only differences of time count."""
        return bool(self.inner.is_stationary())


class SharedErrors(Kernel):  # type: ignore[misc]
    """Errors that visits have together, known beforehand: no place of the trend itself has them."""

    def __init__(self, covariance: FloatArray) -> None:
        self.covariance = covariance

    def __call__(self, X: FloatArray, Y: FloatArray | None = None, eval_gradient: bool = False) -> Any:  # noqa: FBT001, FBT002
        """Return the covariance of rows X (n, 2) with rows Y (m, 2) float, any frame [a, 1]."""
        other = X if Y is None else Y
        padded = np.zeros((len(self.covariance) + 1,) * 2)
        padded[:-1, :-1] = self.covariance
        held = padded[np.ix_(X[:, 1].astype(int), other[:, 1].astype(int))]
        return (held, np.zeros((*held.shape, 0))) if eval_gradient else held

    def diag(self, X: FloatArray) -> FloatArray:
        """Return the variances of rows X (n, 2) float, any frame [a, 1]."""
        return np.asarray(np.append(np.diag(self.covariance), 0.0)[X[:, 1].astype(int)])

    def is_stationary(self) -> bool:
        """Tell that it matters which visits they are."""
        return False


@dataclass(frozen=True, slots=True)
class _Node:
    """One choice of parameters, fitted."""

    weight: float
    regression: Any
    moving: Any
    """Kernel of level and movement."""
    season: Any
    """Kernel of the season; None without one."""


@dataclass(frozen=True, slots=True)
class Moments:
    """Mean and covariance of the trend at some times, one set a choice of parameters."""

    weights: FloatArray
    """(m,) float, any frame [1]."""
    means: FloatArray
    """(m, k) float, any frame [unit]."""
    covariances: FloatArray
    """(m, k, k) float, any frame [unit²]."""

    def mean(self) -> FloatArray:
        """Return the mean (k,) over all choices, any frame [unit]."""
        return np.asarray(self.weights @ self.means)

    def sd(self) -> FloatArray:
        """Return the standard deviation (k,) over all choices, any frame [unit]."""
        each = np.diagonal(self.covariances, axis1=1, axis2=2)
        second = self.weights @ (np.maximum(each, 0.0) + self.means**2)
        return np.sqrt(np.maximum(second - self.mean() ** 2, 0.0))

    def difference(self, first: int, second: int) -> tuple[float, float]:
        """Return mean and standard deviation of the second time's value less the first's."""
        apart = self.means[:, second] - self.means[:, first]
        c = self.covariances
        variance = c[:, first, first] + c[:, second, second] - 2.0 * c[:, first, second]
        mean = float(self.weights @ apart)
        spread = float(self.weights @ (np.maximum(variance, 0.0) + apart**2)) - mean**2
        return mean, float(np.sqrt(max(spread, 0.0)))

    def paths(self, count: int, seed: int) -> FloatArray:
        """Return paths (count, k) float, any frame [unit], drawn through the times."""
        rng = np.random.default_rng(seed)
        chosen = rng.choice(len(self.weights), size=count, p=self.weights)
        drawn = np.zeros((count, self.means.shape[1]))
        for node in np.unique(chosen):
            rows = np.flatnonzero(chosen == node)
            covariance = self.covariances[node]
            values, vectors = linalg.eigh(0.5 * (covariance + covariance.T))
            root = vectors * np.sqrt(np.maximum(values, 0.0))
            normals = rng.standard_normal((len(rows), len(values)))
            drawn[rows] = self.means[node] + normals @ root.T
        return drawn


@dataclass(frozen=True, slots=True)
class Smooth:
    """A fitted trend, over all choices of parameters that the visits leave probable."""

    nodes: tuple[_Node, ...]
    years: FloatArray
    """(n,) float, of the visits, any frame [a]."""
    centre: float

    def at(self, years: FloatArray, *, with_season: bool = True) -> Moments:
        """Return the trend at times (k,) float since the first visit, any frame [a]."""
        rows = np.column_stack([years, np.full(len(years), -1.0)])
        means, covariances = [], []
        for node in self.nodes:
            kernel = node.moving
            if with_season and node.season is not None:
                kernel = kernel + node.season
            mean, covariance = _posterior(node.regression, kernel, rows)
            means.append(self.centre + mean)
            covariances.append(covariance)
        return Moments(np.array([node.weight for node in self.nodes]), np.array(means), np.array(covariances))

    def season(self, years: FloatArray) -> Moments | None:
        """Return the season alone at times (k,) float, any frame [a]; None where there is none."""
        held = [node for node in self.nodes if node.season is not None]
        weight = sum(node.weight for node in held)
        if weight < 0.5:
            return None
        rows = np.column_stack([years, np.full(len(years), -1.0)])
        found = [_posterior(node.regression, node.season, rows) for node in held]
        return Moments(
            np.array([node.weight / weight for node in held]),
            np.array([mean for mean, _ in found]),
            np.array([covariance for _, covariance in found]),
        )

    def left_out(self) -> "LeftOut":
        """Return how improbable each visit is to the others, over all choices of parameters (eq. 5.12)."""
        n = len(self.years)
        chance, side, own = np.zeros(n), np.zeros(n), np.zeros(n)
        for node in self.nodes:
            precision = np.diag(linalg.cho_solve((node.regression.L_, True), np.eye(n)))
            z = np.ravel(node.regression.alpha_) / np.sqrt(precision)
            chance += node.weight * 2.0 * ndtr(-np.abs(z))
            side += node.weight * z
            own += node.weight * node.regression.alpha * precision
        return LeftOut(chance=chance, score=-np.sign(side) * ndtri(0.5 * chance), own=np.minimum(own, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """Each visit against what the others make expect."""

    chance: FloatArray
    """(n,) float, any frame: how probable so odd a value is, two-sided [1]."""
    score: FloatArray
    """(n,) float, any frame: the standard normal deviation of that chance, with its sign [1]."""
    own: FloatArray
    """(n,) float, any frame: what the visit errs by itself, of the variance of the whole [1]."""


def _posterior(regression: Any, kernel: Any, rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mean (k,) and covariance (k, k) of one part of the sum at rows (k, 2), any frame [a, 1]."""
    seen = kernel(rows, regression.X_train_)
    mean = seen @ np.ravel(regression.alpha_)
    explained = linalg.solve_triangular(regression.L_, seen.T, lower=True)
    return np.asarray(mean), np.asarray(kernel(rows) - explained.T @ explained)


def smooth(series: Series) -> Smooth:
    """Fit a trend.

    Parameters
    ----------
    series : three visits at least

    Raises
    ------
    ValueError
        With fewer.
    """
    if len(series.points) < 3:
        msg = f"a trend needs three visits, not {len(series.points)}"
        raise ValueError(msg)
    years, values, fresh = series.years, series.values, series.fresh_sd
    shared = series.shared_covariance()
    centre = float(np.average(values, weights=1.0 / fresh**2))
    rows = np.column_stack([years, np.arange(len(years))])
    nodes = []
    for moving, season, noise in _kernels(series):
        parts = OnTime(moving) + SharedErrors(shared)
        if season is not None:
            parts = parts + OnTime(season)
        if noise > 0.0:
            parts = parts + WhiteKernel(noise**2, "fixed")
        regression = GaussianProcessRegressor(
            parts, alpha=fresh**2 + 1e-9, optimizer=None, copy_X_train=False
        )
        regression.fit(rows, values - centre)
        nodes.append((regression, OnTime(moving), None if season is None else OnTime(season)))
    evidence = np.array([node[0].log_marginal_likelihood_value_ for node in nodes])
    weights = np.exp(evidence - evidence.max())
    weights /= weights.sum()
    kept = weights >= LEAST_WEIGHT * weights.max()
    weights = np.where(kept, weights, 0.0) / weights[kept].sum()
    return Smooth(
        tuple(
            _Node(float(weight), *node) for weight, node in zip(weights, nodes, strict=True) if weight > 0.0
        ),
        years,
        centre,
    )


def may_show_season(years: FloatArray) -> bool:
    """Tell whether visits at times (k,) float, any frame [a], are enough to look for a season at all."""
    return float(years[-1]) >= LEAST_SEASON_YEARS and len(years) >= LEAST_SEASON_VISITS


def _kernels(series: Series) -> Iterator[tuple[Any, Any, float]]:
    years, values, fresh = series.years, series.values, series.fresh_sd
    scatter = 1.4826 * float(np.median(np.abs(values - np.median(values))))
    size = max(scatter, float(np.median(fresh)))
    level = ConstantKernel((5.0 * size) ** 2, "fixed")
    movements = [
        level,
        *(
            level + ConstantKernel((a * size) ** 2, "fixed") * Matern(length, "fixed", nu=2.5)
            for a, length in product(AMPLITUDES, LENGTHS_YEARS)
        ),
    ]
    seasons = SEASON_AMPLITUDES if may_show_season(years) else (0.0,)
    for moving, season, day in product(movements, seasons, DAY_TO_DAY):
        yearly = None
        if season > 0.0:
            shape = ExpSineSquared(SEASON_SHAPE, 1.0, "fixed", "fixed")
            yearly = ConstantKernel((season * size) ** 2, "fixed") * shape
        yield moving, yearly, day * float(np.median(fresh))
