"""A study seen in the light of readings: the central case moves to the belief, and the draws spread around it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from studies import demo_with, study_of

from filtration import compare
from filtration.base.defaults import UNKNOWNS
from filtration.base.draws import Belief, factors_at, factors_of, sobol_points
from filtration.loading.assembly import entry_of
from filtration.loading.case import case_of, load_of
from filtration.loading.table import FINE
from filtration.loading.tabulate import tables_of
from filtration.study.believed import with_belief

NAMES = [unknown.key for unknown in UNKNOWNS]
STUDY = study_of(demo_with("freezer", "Spun 20", "Wound 50", "Pleated 10", "Pleated 20", "Foam 20 ppi"))


def belief(spread: float = 0.0, **scores: float) -> Belief:
    """Return a belief with some mean scores and one standard deviation for all."""
    mean = np.array([scores.get(name, 0.0) for name in NAMES])
    return Belief(mean=mean, covariance=spread**2 * np.eye(len(NAMES)))


@settings(max_examples=5, deadline=None)
@given(st.lists(st.floats(-1.0, 1.0), min_size=len(NAMES), max_size=len(NAMES)))
def test_the_central_case_moves_to_what_the_draws_say_of_that_point(scores: list[float]) -> None:
    """The moved study has the runs that a draw of the study as it was has with the same factors, as finely worked."""
    unread = {"prices": 0.0, "haze": 0.0}  # which no reading of a flow moves
    point = belief(**dict(zip(NAMES, scores, strict=True)) | unread)
    factors, load = factors_of(point.mean[None], STUDY.spreads), load_of(STUDY)
    drawn = {
        option.id: tables_of(case_of(STUDY, entry_of(STUDY, option, STUDY.pumps[0]), factors, load), FINE)
        for option in STUDY.options
    }
    for answer in compare(with_belief(STUDY, point)).options:
        tables = drawn[answer.id]
        assert answer.clean_flow_l_per_h == pytest.approx(3.6e6 * tables.clean_m3_s[0], rel=1e-12)
        if answer.days_to_first_service:
            assert answer.days_to_first_service == pytest.approx(tables.first_days()[0], rel=1e-6)


def test_no_belief_and_the_prior_as_a_belief_give_the_same_draws() -> None:
    points = sobol_points(64, 3)
    before, after = factors_at(points, {}), factors_at(points, {}, belief(1.0))
    for name in NAMES:
        assert getattr(after, name) == pytest.approx(getattr(before, name), abs=1e-12)


def test_a_certain_belief_leaves_no_spread() -> None:
    answer = compare(with_belief(STUDY, belief(load_per_dip=1.0, dust=-0.5)), draws=16)
    best = answer.options[0]
    assert best.sureness is not None
    low, middle, high = best.sureness.ranges["days_to_first_service"]
    assert (low, high) == pytest.approx((middle, middle), rel=1e-9)
    assert middle == pytest.approx(best.days_to_first_service, rel=0.02)


def test_more_dirt_means_earlier_service_and_a_narrower_belief_a_narrower_range() -> None:
    """One score of load is 1.8 times the dirt; half the standard deviation is about half the width in logarithms."""
    plain, dirty = compare(STUDY), compare(with_belief(STUDY, belief(load_per_dip=1.0)))
    days = {answer.id: answer.days_to_first_service for answer in dirty.options}
    for answer in plain.options:
        if answer.days_to_first_service and days[answer.id]:
            assert days[answer.id] < answer.days_to_first_service or answer.governed_by == "time limit"
    widths = []
    for spread in (1.0, 0.5):
        ranges = compare(with_belief(STUDY, belief(spread)), draws=256).options[0].sureness
        assert ranges is not None
        low, _, high = ranges.ranges["cost_per_year.elements"]
        widths.append(np.log(high / low))
    assert widths[1] < 0.75 * widths[0]


def test_correlated_unknowns_are_drawn_together() -> None:
    """Covariance by hand: two unknowns that a reading ties together keep their sum."""
    tied = np.eye(len(NAMES))
    a, b = NAMES.index("load_per_dip"), NAMES.index("deposit_density")
    tied[np.ix_([a, b], [a, b])] = [[1.0, 0.99], [0.99, 1.0]]
    spreads = {"load_per_dip": 2.0, "deposit_density": 2.0}
    drawn = factors_at(sobol_points(256, 0), spreads, Belief(mean=np.zeros(len(NAMES)), covariance=tied))
    apart = np.log(drawn.load_per_dip / drawn.deposit_density)
    assert apart.std() == pytest.approx(np.log(2.0) * np.sqrt(2.0 - 2.0 * 0.99), rel=0.1)
