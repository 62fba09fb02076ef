"""The statistics of measured against computed sags: by JCGM 100 and Student's tables, and SciPy."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from calc.learned import FEWEST, bias, of_moments, student

DIFFERENCES = st.lists(st.floats(-60, 60, allow_nan=False).map(lambda one: round(one, 3)), min_size=2, max_size=60)


@pytest.mark.parametrize("degrees", [*range(1, 41), 60, 100, 199, 1000, 100_000])
def test_students_factor_is_scipys(degrees):
    assert student(degrees) == pytest.approx(stats.t.ppf(0.975, degrees), abs=1e-6)


@given(DIFFERENCES)
def test_mean_and_spread_and_interval_are_scipys(differences):
    found = bias(differences)
    assert found.cards == len(differences)
    assert found.mean_mm == pytest.approx(stats.tmean(differences), abs=1e-9)
    assert found.spread_mm == pytest.approx(stats.tstd(differences), abs=1e-9)
    assert found.u_mm == pytest.approx(stats.sem(differences), abs=1e-9)
    if found.u_mm > 1e-9:
        low, high = stats.t.interval(0.95, len(differences) - 1, found.mean_mm, found.u_mm)
        assert (found.mean_mm - found.expanded_mm, found.mean_mm + found.expanded_mm) == pytest.approx((low, high))
        # Zero lies outside of the interval just where Student's test rejects it.
        assert found.sure == (stats.ttest_1samp(differences, 0).pvalue < 0.05)


@given(DIFFERENCES)
def test_a_databases_mean_and_deviation_give_the_same(differences):
    of_rows = bias(differences, [1.5] * len(differences))
    moments = of_moments(len(differences), stats.tmean(differences), stats.tstd(differences), 2.25 * len(differences))
    assert moments.u_mm == pytest.approx(of_rows.u_mm, abs=1e-9)
    assert moments.expanded_mm == pytest.approx(of_rows.expanded_mm, abs=1e-9)


def test_readings_that_agree_by_chance_are_no_surer_than_they_can_be_read():
    """Three equal differences, each read to 1.2 mm: the mean is good to 1.2/√3 and no better."""
    found = bias([3.0, 3.0, 3.0], [1.2, 1.2, 1.2])
    assert found.spread_mm == 0
    assert found.u_mm == pytest.approx(1.2 / 3**0.5)
    assert found.expanded_mm == pytest.approx(stats.norm.ppf(0.975) * 1.2 / 3**0.5)


def test_one_job_has_no_spread_and_nobody_is_sure_of_it():
    found = bias([9.0], [1.0])
    assert (found.cards, found.mean_mm) == (1, 9.0)
    assert found.spread_mm is found.u_mm is found.expanded_mm is None
    assert not found.sure
    assert not found.enough


def test_three_jobs_are_the_fewest_that_are_offered():
    assert FEWEST == 3
    assert not bias([3.0, 3.1]).enough
    assert bias([3.0, 3.1, 2.9]).enough
