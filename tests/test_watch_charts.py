"""The control chart against published average run lengths and a worked example."""

import numpy as np
import pytest
from bandtrial.watch import charts

# J. M. Lucas and R. B. Crosier, Technometrics 24 (1982), Table 1: two-sided, k = 0.5, h = 4, no head
# start, as quoted in the reference manual of the R package spc (CRAN), xcusum.arl.
LUCAS_CROSIER_H4 = {
    0.0: 168.0,
    0.25: 74.2,
    0.5: 26.6,
    0.75: 13.3,
    1.0: 8.38,
    1.5: 4.75,
    2.0: 3.34,
    2.5: 2.62,
    3.0: 2.19,
    4.0: 1.71,
    5.0: 1.31,
}
# The same table's h = 5, from memory (NIST/SEMATECH e-Handbook 6.3.2.3.1 prints the one-sided 930 at 0).
LUCAS_CROSIER_H5 = {
    0.0: 465.0,
    0.25: 139.0,
    0.5: 38.0,
    0.75: 17.0,
    1.0: 10.4,
    1.5: 5.75,
    2.0: 4.01,
    2.5: 3.11,
    3.0: 2.57,
    4.0: 2.01,
}
# One-sided, k = 0.5, h = 3, as quoted there: D. Brook and D. A. Evans (1972), subsection 4.3, at 0 and 1.5;
# K. H. Waldmann (1986), Tables 3 and 5, at -0.5 and 0.5 (his Table 1 prints 117.4 at 0, unlike them).
ONE_SIDED_H3 = {-0.5: 1963.0, 0.0: 117.59, 0.5: 17.35, 1.5: 3.75}
# L. C. Vance (1986), Table 1 (with Goel and Wu 1971), one-sided, k = 0, h = 10, as quoted there.
VANCE_H10 = {
    -0.25: 2071.51,
    -0.125: 400.28,
    0.0: 124.66,
    0.125: 59.30,
    0.25: 36.71,
    0.5: 20.37,
    0.75: 14.06,
    1.0: 10.75,
}
PRINTED = 0.5e-2  # the tables print three figures: half a unit of the third is at most 0.5 %


@pytest.mark.parametrize("h, table", [(4.0, LUCAS_CROSIER_H4), (5.0, LUCAS_CROSIER_H5)])
def test_two_sided_run_lengths_of_lucas_and_crosier(h, table):
    ours = [charts.run_length(shift, h) for shift in table]
    np.testing.assert_allclose(ours, list(table.values()), rtol=PRINTED)


def test_one_sided_run_lengths_of_brook_evans_and_waldmann():
    ours = [charts.one_sided_run_length(shift, 3.0) for shift in ONE_SIDED_H3]
    np.testing.assert_allclose(ours, list(ONE_SIDED_H3.values()), rtol=1.4e-3)  # 3.75: three figures


def test_one_sided_run_lengths_of_vance():
    ours = [charts.one_sided_run_length(shift, 10.0, k=0.0) for shift in VANCE_H10]
    np.testing.assert_allclose(ours, list(VANCE_H10.values()), rtol=5e-4)  # four to six figures printed


def test_decision_intervals_for_a_run_length_of_370():
    """D. M. Hawkins (1993), table of k and h for ARL0 = 370, printed to 0.01, from memory.

    Its last entry, h = 1.61 at k = 1.5, is left out: our integral equation gives 1.604, and 200,000 simulated
    charts ran 369.0 +- 0.8 at 1.604 but 377.6 +- 0.8 at 1.61.
    """
    pairs = {0.25: 8.01, 0.5: 4.77, 0.75: 3.34, 1.0: 2.52, 1.25: 1.99}
    ours = [charts.decision_interval(370.0, k) for k in pairs]
    np.testing.assert_allclose(ours, list(pairs.values()), atol=0.0051)  # rounding of the printed h


def test_run_length_by_simulation_twin():
    """The integral equation against plain simulation of the chart."""
    rng = np.random.default_rng(3)
    lengths = [charts.first_alarm(rng.normal(1.0, 1.0, 200), h=4.0)[0] + 1 for _ in range(4000)]
    standard_error = np.std(lengths) / np.sqrt(len(lengths))
    assert abs(np.mean(lengths) - charts.run_length(1.0, 4.0)) < 3 * standard_error


def test_worked_example_of_the_tabular_sums():
    """NIST/SEMATECH e-Handbook 6.3.2.3: target 325, k = 0.3175, h = 4.1959 and the groups' means as printed
    there (from memory); the sums worked by hand: 0 + 3.325 - 0.3175 = 3.0075 at the 13th group, and so on."""
    means = [
        324.925,
        324.675,
        324.725,
        324.350,
        325.350,
        325.225,
        324.125,
        324.525,
        325.225,
        324.600,
        324.625,
        325.150,
        328.325,
        327.250,
        327.825,
        328.500,
        326.675,
        327.775,
        326.875,
        328.350,
    ]
    upper, lower = charts.cumulative_sums(np.array(means) - 325, k=0.3175)
    assert np.flatnonzero(upper > 4.1959)[0] == 13
    assert upper[12:15] == pytest.approx([3.0075, 4.94, 7.4475], abs=5e-5)
    assert charts.first_alarm(np.array(means) - 325, 4.1959, 0.3175) == (13, "up")
    assert charts.onset(np.array(means) - 325, 13, "up", 0.3175) == 12
    assert lower.max() < 4.1959


def test_scores_of_heavy_tailed_noise_are_standard_normal():
    rng = np.random.default_rng(11)
    y = charts.normal_scores(rng.standard_t(4, 20_000), tail_dof=4)
    from scipy import stats  # an outside test of normality

    assert stats.kstest(y, "norm").pvalue > 0.01


def test_one_wild_reading_does_not_ring():
    y = np.zeros(30)
    y[10] = charts.normal_scores(np.array([20.0]), tail_dof=4)[0]
    assert charts.first_alarm(y, h=5.0) == (None, None)
    assert charts.first_alarm(np.where(np.arange(30) == 10, 20.0, 0.0), h=5.0) == (10, "up")


def test_a_gap_leaves_the_sums_as_they_were():
    upper, lower = charts.cumulative_sums(np.array([2.0, np.nan, 1.0, -3.0]))
    assert upper == pytest.approx([1.5, 1.5, 2.0, 0.0])
    assert lower == pytest.approx([0.0, 0.0, 0.0, 2.5])


def test_sums_of_a_long_log_follow_their_recursion():
    """S_i = max(0, S_(i-1) + y_i - k), step by step, against all at once over 100,000 scores."""
    y = np.random.default_rng(8).standard_normal(100_000)
    y[::97] = np.nan
    upper, lower = charts.cumulative_sums(y)
    high = low = 0.0
    for i, score in enumerate(y):
        if np.isfinite(score):
            high, low = max(0.0, high + score - 0.5), max(0.0, low - score - 0.5)
        assert abs(upper[i] - high) < 1e-9 and abs(lower[i] - low) < 1e-9  # running sums of 5e4: rounding of 1e-11
        assert (upper[i] == 0) == (high == 0) or abs(high) < 1e-9
