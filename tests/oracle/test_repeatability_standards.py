"""Repeatability against published tables and worked examples.

Sources: ISO 5725-2:1994, table 6 (Mandel's h and k at 1 %; as reprinted at metrology.wordpress.com; for two
results its last digit is cut, not rounded). Cochran's critical values at 95 %: National Measurement System,
Chemical and Biological Metrology, "Cochran test" (nmschembio.org.uk, 2009). AOAC International, Official
Methods of Analysis (2005), appendix D, appendix 2: critical values of Grubbs' test, 2.5 % two-tailed, as the
loss of standard deviation in per cent. Data of ASTM E691-99, table 1 (glucose in serum), as copied in
usnistgov/dataplot, lib/data/GLUCOSE.DAT; what E691 prints for it is from memory. NIST/SEMATECH e-Handbook,
2.4.4 (level-1 standard deviation pooled over wafers).
"""

import numpy as np
import pytest

from saddlebench.engine.change.repeat.consistency import (
    cochran_limit,
    consistency_of,
    grubbs_limit,
    grubbs_pair_limit,
    mandel_h_limit,
    mandel_k_limit,
)
from saddlebench.engine.change.repeat.precision import precision_of
from saddlebench.engine.change.repeat.spread import (
    degrees_for,
    effective_degrees,
    pooled,
    relative_doubt,
    spread_of,
)
from saddlebench.engine.errors import Undetermined

GLUCOSE = {
    "A": "41.03 41.45 41.37 41.17 42.00 41.15 41.01 40.68 42.66 39.37 42.37 42.63 "
    "41.88 41.19 41.32 43.28 40.50 42.28 41.08 41.27 39.02 43.36 42.65 41.72",
    "B": "78.28 78.18 78.49 77.78 80.38 79.54 79.18 79.72 80.81 84.08 78.60 81.92 "
    "78.16 79.58 78.33 78.66 79.27 81.75 79.76 81.45 77.35 80.44 80.80 79.80",
    "C": "132.66 133.83 133.10 132.92 136.90 136.40 132.61 135.80 135.36 138.50 138.30 135.69 "
    "131.90 134.14 133.76 137.21 135.14 137.50 130.97 131.59 134.92 135.46 135.14 133.63",
    "D": "193.71 193.59 193.65 190.88 200.14 194.30 192.71 193.28 190.28 195.85 196.36 199.43 "
    "192.59 191.44 195.12 195.34 198.26 198.13 194.66 191.99 187.13 197.56 195.99 200.82",
    "E": "292.78 294.09 292.89 292.27 309.40 295.08 295.53 290.14 292.34 295.19 295.44 296.83 "
    "293.93 292.48 294.28 297.74 296.80 290.33 287.29 293.76 289.36 298.46 295.28 296.12",
}
"""Eight laboratories, three results each. C of laboratory 4: 138.30; the public copy has 148.30, with which
the printed figures do not come out."""


def _laboratories(material):
    return list(np.array(GLUCOSE[material].split(), dtype=float).reshape(8, 3))


@pytest.mark.parametrize(
    ("material", "mean", "s_r", "s_R"),
    [
        ("A", 41.5183, 1.0632, 1.0632),
        ("B", 79.6796, 1.4949, 1.5796),
        ("C", 134.7263, 1.5434, 2.1482),
        ("D", 194.7171, 2.6251, 3.3657),
        ("E", 294.4921, 3.9350, 4.1923),
    ],
)
def test_astm_e691_glucose_in_serum(material, mean, s_r, s_R):
    found = precision_of(_laboratories(material))
    assert found.mean == pytest.approx(mean, abs=5e-5)
    assert found.repeatability.sd == pytest.approx(s_r, abs=5e-5)
    assert found.reproducibility.sd == pytest.approx(s_R, abs=5e-5)
    assert found.repeatability.degrees == 16


def test_astm_e691_a_between_laboratories_is_held_at_nothing():
    assert precision_of(_laboratories("A")).between == 0.0


def test_iso_5725_2_clause_7_4_5_with_unequal_numbers_of_results():
    """By the standard's own sums, written out: s_d² and the mean number of results."""
    groups = [np.array(g) for g in ([4.44, 4.39], [4.03, 4.23, 3.70], [3.70, 3.64], [4.35])]
    n, means = np.array([2, 3, 2, 1]), np.array([g.mean() for g in groups])
    grand = (n * means).sum() / 8
    s_d2 = ((n * means**2).sum() - grand**2 * 8) / 3
    s_r2 = sum((len(g) - 1) * g.var(ddof=1) for g in groups if len(g) > 1) / 4
    n_bar = (8 - (n**2).sum() / 8) / 3
    found = precision_of(groups)
    assert found.repeatability.variance == pytest.approx(s_r2)
    assert found.between == pytest.approx(np.sqrt((s_d2 - s_r2) / n_bar))
    assert found.reproducibility.variance == pytest.approx(s_r2 + (s_d2 - s_r2) / n_bar)


@pytest.mark.parametrize(
    ("p", "h", "k2", "k3", "k5", "k10"),
    [
        (3, 1.15, 1.71, 1.64, 1.53, 1.39),
        (5, 1.72, 2.05, 1.85, 1.65, 1.46),
        (8, 2.06, 2.25, 1.97, 1.71, 1.49),
        (10, 2.18, 2.32, 2.00, 1.74, 1.50),
        (14, 2.30, 2.39, 2.04, 1.76, 1.52),
    ],
)
def test_iso_5725_2_table_6_mandel_at_1_percent(p, h, k2, k3, k5, k10):
    assert mandel_h_limit(p, 0.01) == pytest.approx(h, abs=0.0051)
    for n, k in ((2, k2), (3, k3), (5, k5), (10, k10)):
        assert mandel_k_limit(p, n, 0.01) == pytest.approx(k, abs=0.01)


@pytest.mark.parametrize(
    ("p", "printed"),
    [
        (3, (0.967, 0.871, 0.798, 0.746)),
        (6, (0.781, 0.616, 0.532, 0.480)),
        (10, (0.602, 0.445, 0.373, 0.331)),
        (20, (0.389, 0.270, 0.221, 0.192)),
    ],
)
def test_national_measurement_system_cochran_at_95_percent(p, printed):
    for n, critical in zip((2, 3, 4, 5), printed, strict=True):
        assert cochran_limit(p, n, 0.05) == pytest.approx(critical, abs=0.0016)


@pytest.mark.parametrize(("p", "loss"), [(4, 86.1), (5, 73.5), (6, 64.0), (8, 51.4), (10, 42.8), (15, 29.9)])
def test_aoac_appendix_d_grubbs_at_2_5_percent_two_tailed(p, loss):
    """The table is in per cent of lost standard deviation, smoothed from 7000 simulated sets a row."""
    critical = grubbs_limit(p, 0.025)
    without = (p - 1 - p * critical**2 / (p - 1)) / (p - 2)
    assert 100.0 * (1.0 - np.sqrt(without)) == pytest.approx(loss, abs=0.9)


@pytest.mark.parametrize(
    ("p", "outlier", "straggler"),
    [
        (5, 0.0018, 0.0090),
        (6, 0.0116, 0.0349),
        (8, 0.0563, 0.1101),
        (10, 0.1150, 0.1864),
        (12, 0.1738, 0.2537),
        (15, 0.2530, 0.3367),
        (20, 0.3585, 0.4391),
    ],
)
def test_iso_5725_2_table_5_grubbs_of_two_means(p, outlier, straggler):
    """Two largest or two smallest, 1 % and 5 % (memory); the printed values are simulated themselves."""
    assert grubbs_pair_limit(p, 0.01) == pytest.approx(outlier, rel=0.015, abs=0.0002)
    assert grubbs_pair_limit(p, 0.05) == pytest.approx(straggler, rel=0.01, abs=0.0002)


def test_grubbs_limit_of_two_means_is_that_of_sorted_normal_samples():
    rng = np.random.default_rng(8)
    values = np.sort(rng.standard_normal((100_000, 7)), axis=1)
    low = values[:, 2:].var(axis=1) * 5 / (values.var(axis=1) * 7)
    high = values[:, :-2].var(axis=1) * 5 / (values.var(axis=1) * 7)
    # Either side: half the level each, and both at once nearly never.
    share = float(np.mean((low < grubbs_pair_limit(7, 0.05)) | (high < grubbs_pair_limit(7, 0.05))))
    assert share == pytest.approx(0.05, abs=4.0 * np.sqrt(0.05 * 0.95 / 100_000) + 0.0005)


def test_grubbs_1969_elongation_two_low_values_hide_each_other():
    """Ten elongations at break, per cent: S² 5.351, ratio 0.2237 against 0.2305 at 5 % on one side (Grubbs,
    Technometrics 11 (1969) 1–21, from memory); two-sided the same ratio is no straggler."""
    elongation = (3.73, 3.59, 3.94, 4.13, 3.04, 2.22, 3.23, 4.05, 4.11, 2.02)
    seen = consistency_of([np.array([value]) for value in elongation])
    assert not seen.lies_off.is_straggler
    assert seen.two_lie_off.groups == (9, 5)
    assert seen.two_lie_off.statistic == pytest.approx(0.2237, abs=0.0002)
    assert grubbs_pair_limit(10, 0.10) == pytest.approx(0.2305, rel=0.01)
    assert not seen.two_lie_off.is_straggler


def test_two_groups_that_lie_off_together_are_both_named_where_neither_is_alone():
    means = [0.0, 0.1, -0.1, 0.05, -0.05, 0.12, -0.12, 3.0, 3.05]
    seen = consistency_of([np.array([m, m + 0.01]) for m in means])
    assert not seen.lies_off.is_outlier
    assert seen.two_lie_off.is_outlier
    assert seen.two_lie_off.groups == (8, 7)
    one = consistency_of([np.array([m, m + 0.01]) for m in (*means[:8], 0.02)])
    assert one.lies_off.is_outlier
    assert isinstance(one.two_lie_off, Undetermined)
    three = consistency_of([np.array([m, m + 0.01]) for m in (0.0, 1.0, 3.0)])
    assert isinstance(three.two_lie_off, Undetermined)
    with pytest.raises(ValueError, match="four means"):
        grubbs_pair_limit(3, 0.05)


def test_astm_e691_glucose_mandel_finds_the_laboratories_that_stand_out():
    """Laboratory 2 repeats material E badly: 309.40 beside 292 and 295 (k 2.3, chart from memory)."""
    seen = consistency_of(_laboratories("E"))
    assert int(np.argmax(seen.k)) == 1
    assert seen.k[1] == pytest.approx(2.30, abs=0.05)
    assert seen.k[1] > seen.k_limit
    assert seen.repeats_worse.group == 1
    assert seen.repeats_worse.is_outlier
    assert not seen.lies_off.is_outlier
    assert sum(k**2 for k in seen.k) == pytest.approx(8.0)
    assert sum(h**2 for h in seen.h) == pytest.approx(7.0)


def test_nist_sematech_2_4_4_level_1_pooled_over_wafers():
    wafers = [spread_of(ss / 60, 60) for ss in (0.48115, 0.69209, 0.48483, 1.21752, 0.30076)]
    level_1 = pooled(wafers)
    assert level_1.degrees == 300
    assert level_1.sd == pytest.approx(0.10290, abs=5e-6)


def test_gum_g_4_2_a_quarter_unsure_is_eight_degrees_of_freedom():
    assert degrees_for(0.25) == 8.0
    assert relative_doubt(8.0) == pytest.approx(0.25)


def test_gum_h_1_6_effective_degrees_of_the_gauge_difference():
    """u(d) from 5.8 nm (24), 3.9 nm (5) and 6.7 nm (8): 9.7 nm with 25.6 (JCGM 100, H.1.6, memory)."""
    degrees = effective_degrees([5.8**2, 3.9**2, 6.7**2], [24, 5, 8])
    assert degrees == pytest.approx(25.4, abs=0.3)


def test_textbook_interval_of_a_standard_deviation():
    """χ² with 10 degrees of freedom: 3.247 and 20.483 (any table of χ²)."""
    found = spread_of(4.0, 10)
    assert found.low == pytest.approx(2.0 * np.sqrt(10 / 20.483), rel=1e-4)
    assert found.high == pytest.approx(2.0 * np.sqrt(10 / 3.247), rel=1e-4)
    assert found.limit == pytest.approx(2.77 * 2.0, abs=0.005)


def test_intervals_of_repeatability_and_reproducibility_hold_in_95_of_100_sets():
    rng = np.random.default_rng(4)
    inside_r = inside_R = 0
    for _ in range(600):
        offs = rng.normal(0.0, 2.0, 6)
        found = precision_of([off + rng.normal(0.0, 1.0, 4) for off in offs])
        inside_r += found.repeatability.low <= 1.0 <= found.repeatability.high
        inside_R += found.reproducibility.low <= np.sqrt(5.0) <= found.reproducibility.high
    assert 0.93 <= inside_r / 600 <= 0.97
    assert 0.92 <= inside_R / 600 <= 0.98


def test_what_cannot_be_said_is_not_said():
    alone = precision_of([np.array([3.0, 4.0])])
    assert isinstance(alone.reproducibility, Undetermined)
    singles = precision_of([np.array([3.0]), np.array([4.0])])
    assert isinstance(singles.repeatability, Undetermined)
    assert singles.reproducibility.sd == pytest.approx(np.std([3.0, 4.0], ddof=1))
    two = consistency_of([np.array([3.0, 4.0]), np.array([1.0, 2.0])])
    assert isinstance(two.repeats_worse, Undetermined)
    with pytest.raises(ValueError, match="no results"):
        precision_of([])
