"""The generic fit against closed forms, and what a prior or a wild reading should do."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filtration.base.arrays import Array
from filtration.readings.fitting import fit

X = np.linspace(0.0, 9.0, 10)


def line(readings: Array, sd: float = 1.0, priors: Array | None = None) -> Callable[[Array], Array]:
    """Return the rows of a straight line over X; a prior is unknown, mean and standard deviation."""

    def rows(at: Array) -> Array:
        found = (at[:, :1] + at[:, 1:] * X - readings) / sd
        if priors is None:
            return found
        return np.hstack([found, *((at[:, [int(which)]] - mean) / spread for which, mean, spread in priors)])

    return rows


@pytest.mark.parametrize("known_errors", [True, False])
def test_a_straight_line_has_the_covariance_of_the_normal_equations(known_errors: bool) -> None:  # noqa: FBT001 - a parameter of the test
    """Values and covariance of a line against numpy's polynomial fit, errors known or taken from what is left over."""
    readings = 3.0 - 0.7 * X + 0.2 * np.random.default_rng(3).standard_normal(10)
    found = fit(line(readings, 0.2), np.zeros(2), np.full(2, 1e-3), known_errors=known_errors)
    values, covariance = np.polyfit(X, readings, 1, w=np.full(10, 1.0 / 0.2), cov="unscaled" if known_errors else True)
    assert found.values == pytest.approx(values[::-1], rel=1e-9)
    assert found.covariance == pytest.approx(covariance[::-1, ::-1], rel=1e-8)


def test_a_prior_pulls_as_much_as_it_is_sure() -> None:
    """One reading 4 +- 1 and a belief 0 +- 0.5 of the same unknown: mean 0.8, variance 0.2, by Bayes' rule."""
    found = fit(lambda at: np.hstack([at - 4.0, at / 0.5]), np.array([9.0]), np.array([1e-3]))
    assert found.values == pytest.approx([0.8])
    assert found.covariance == pytest.approx(np.array([[0.2]]))


def test_a_prior_fills_in_what_the_readings_leave_open() -> None:
    """Readings at one place alone leave the slope open: its belief comes back unchanged."""
    found = fit(
        lambda at: np.hstack([at[:, :1] + at[:, 1:] * np.zeros(5) - 2.0, (at[:, 1:] - 7.0) / 3.0]),
        np.zeros(2),
        np.full(2, 1e-3),
    )
    assert found.values == pytest.approx([2.0, 7.0])
    assert np.diag(found.covariance) == pytest.approx([0.2, 9.0])


@pytest.mark.parametrize("which", range(10))
@pytest.mark.parametrize("off", [-40.0, 40.0])
def test_one_wild_reading_of_ten(which: int, off: float) -> None:
    """Forty standard errors off, a reading moves a plain fit by what least squares says and a doubtful one hardly."""
    readings = 3.0 - 0.7 * X
    readings[which] += off
    truth, step = np.array([3.0, -0.7]), np.full(2, 1e-3)
    plain = fit(line(readings), np.zeros(2), step)
    robust = fit(line(readings), np.zeros(2), step, doubtful=np.ones(10, dtype=bool))
    sd = np.sqrt(np.diag(np.linalg.inv(np.array([[10.0, 45.0], [45.0, 285.0]]))))
    moved_plain, moved = np.abs(plain.values - truth) / sd, np.abs(robust.values - truth) / sd
    assert plain.values == pytest.approx(np.polyfit(X, readings, 1)[::-1])
    assert moved_plain.max() > 4.0
    assert moved.max() < 0.5
    assert robust.weights[which] < 0.01
    assert np.delete(robust.weights, which).min() > 0.9


def test_only_the_rows_that_are_doubtful_are_doubted() -> None:
    """A wild reading that nobody doubts pulls in full, as if none were doubtful."""
    readings = 3.0 - 0.7 * X
    readings[4] += 40.0
    doubtful = np.zeros(10, dtype=bool)
    plain = fit(line(readings), np.zeros(2), np.full(2, 1e-3), doubtful=doubtful)
    assert plain.values == pytest.approx(np.polyfit(X, readings, 1)[::-1])
    doubtful[4] = True
    doubted = fit(line(readings), np.zeros(2), np.full(2, 1e-3), doubtful=doubtful)
    assert doubted.values == pytest.approx([3.0, -0.7], abs=0.2)
    assert doubted.weights == pytest.approx(np.where(doubtful, 0.0, 1.0), abs=0.01)


@pytest.mark.parametrize(
    "rows",
    [
        pytest.param(lambda at: at[:, :1] + at[:, 1:] - np.ones(5), id="only the sum is seen"),
        pytest.param(lambda at: at[:, :1] - np.ones(5) + 0.0 * at[:, 1:], id="one is not seen at all"),
        pytest.param(lambda at: at[:, :1] + at[:, 1:] - 1.0, id="fewer readings than unknowns"),
    ],
)
def test_rows_that_say_nothing_of_an_unknown_are_refused(rows: Callable[[Array], Array]) -> None:
    with pytest.raises(ValueError, match=r"^the rows say nothing of some of the unknowns$"):
        fit(rows, np.array([0.3, 0.3]), np.full(2, 1e-3))


@given(
    level=st.floats(-50.0, 50.0),
    size=st.floats(0.5, 20.0),
    rate=st.floats(0.1, 1.5),
    aside=st.floats(0.7, 1.4),
)
def test_exact_readings_give_the_unknowns_back(level: float, size: float, rate: float, aside: float) -> None:
    """A decay to a level, read without error and begun somewhere near: the unknowns come back, with nothing left."""
    truth = np.array([level, size, rate])
    readings = level + size * np.exp(-rate * X)
    start = np.array([level + 1.0, size * aside, rate / aside])
    found = fit(lambda at: at[:, :1] + at[:, 1:2] * np.exp(-at[:, 2:] * X) - readings, start, np.full(3, 1e-4))
    assert found.values == pytest.approx(truth, rel=1e-6, abs=1e-6)
    assert np.abs(found.residuals).max() < 1e-6
    assert found.evaluations > 6
