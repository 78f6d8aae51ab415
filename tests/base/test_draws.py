"""Scores and percentiles of what is not known exactly."""

from statistics import NormalDist

import pytest

from filtration.base.draws import ONE_IN_TEN, PERCENT, TOLD_SCORES


def test_scores_are_those_of_the_percentiles_told() -> None:
    """By the standard library's normal distribution."""
    assert pytest.approx(NormalDist().inv_cdf(0.9), rel=1e-12) == ONE_IN_TEN
    assert [100.0 * NormalDist().cdf(score) for score in TOLD_SCORES] == pytest.approx(PERCENT)
