"""How sure the whole answer is, against laws that anybody can work out, and one option against two."""

import numpy as np
import pytest
from scipy.stats import norm
from studies import WOUND, Given, answered, changed

from filtration import Comparison
from filtration.answers.drivers import narrowed
from filtration.base.defaults import UNKNOWNS
from filtration.base.draws import factors_at, sobol_points

LACKING: Given = {"needs.turnovers_per_hour": 3.25}  # of 3.26 that the clean filter gives


@pytest.fixture(scope="module")
def drawn() -> Comparison:
    """Return one option whose first run the flow ends."""
    return answered(changed({"needs.rinse_at_least_every": "never"}), 64)


@pytest.mark.parametrize(("spread", "error"), [(10.0, 5.0), (10.0, 20.0), (4.0, 1.0)])
def test_a_reading_narrows_as_bayes_says(spread: float, error: float) -> None:
    """Days of a normal distribution, read with a normal error: what is left is as wide as e / sqrt(s2 + e2) of it."""
    days = 100.0 + spread * norm.ppf((np.arange(4001) + 0.5) / 4001)
    shuffled = np.random.default_rng(1).permutation(days)
    found = narrowed("bucket", 7.0, shuffled, shuffled.copy(), np.full(days.shape, error))
    share = error / np.hypot(spread, error)
    assert (found.with_what, found.day) == ("bucket", 7.0)
    assert found.before == pytest.approx((100.0 - 1.2816 * spread, 100.0 + 1.2816 * spread), rel=1e-3)
    assert found.width_share == pytest.approx(share, rel=0.06)
    low, high = found.after
    assert high - low == pytest.approx(2.0 * 1.2816 * spread * share, rel=0.1)
    assert abs(low + high - 200.0) < spread


def test_the_reading_named_is_one_that_can_be_made(drawn: Comparison) -> None:
    """New, or some way to the first service, with a range that is narrower after it than before."""
    measure, option = drawn.odds.measure, drawn.options[0]
    assert measure is not None
    days = option.days_to_first_service or 0.0
    assert measure.with_what in {"bucket", "clear tube with and without element"}
    assert 0.0 <= measure.day < days
    assert measure.before[0] < days < measure.before[1]
    assert 0.0 < measure.after[1] - measure.after[0] < measure.before[1] - measure.before[0]
    assert 0.5 < measure.width_share < 1.0
    assert measure.is_worth_a_minute is (measure.width_share <= 0.9)


def test_the_flow_of_the_first_run_lies_in_its_band(drawn: Comparison) -> None:
    """From new to the first service of the central case, at even steps, in order, and never rising."""
    band, option = drawn.odds.flow_band, drawn.options[0]
    assert band is not None
    assert band.option == option.id
    assert band.day == pytest.approx(np.linspace(0.0, option.days_to_first_service or 0.0, 25))
    low, middle, high = (np.array(each) for each in (band.low_l_per_h, band.middle_l_per_h, band.high_l_per_h))
    assert (low < middle).all()
    assert (middle < high).all()
    assert all((np.diff(each) <= 1e-9).all() for each in (low, middle, high))
    assert low[0] < option.clean_flow_l_per_h < high[0]
    assert middle[-1] == pytest.approx(1260.0, rel=0.05)


def test_what_drives_stands_first(drawn: Comparison) -> None:
    """All unknowns for each figure, the largest first; no days by prices."""
    for of in ("days_to_first_service", "cost_per_year"):
        some = [driver for driver in drawn.odds.drivers if driver.of == of]
        assert {driver.unknown for driver in some} == {unknown.key for unknown in UNKNOWNS}
        shares = [driver.total_index for driver in some]
        assert shares == sorted(shares, reverse=True)
        assert 0.0 <= shares[-1] <= shares[0] <= 1.2
        assert sum(shares) > 0.9  # total indices add up to no less than all of the variance
    index = {
        driver.unknown: driver.total_index for driver in drawn.odds.drivers if driver.of == "days_to_first_service"
    }
    assert index["prices"] == pytest.approx(0.0, abs=1e-6)
    assert index["load_per_dip"] > 0.05


def test_two_options_lack_no_more_than_either() -> None:
    """A case counts as lost only where every option fails in it."""
    wound = WOUND | {"rating": "50 um", "price": 6}
    alone = [answered(changed(LACKING)).odds, answered(changed(LACKING | {"elements.0": wound})).odds]
    both = answered(changed(LACKING | {"elements.1": wound})).odds
    for name in ("chance_all_lack_flow", "chance_none_meets_needs"):
        apart = [getattr(each, name) for each in alone]
        assert 0.0 < getattr(both, name) <= min(apart) < 1.0
    for odds in (*alone, both):
        assert odds.chance_all_lack_flow + odds.chance_too_hazy <= odds.chance_none_meets_needs
        assert odds.chance_too_hazy_in_half_the_time <= odds.chance_too_hazy


def test_the_chance_of_haze_by_its_law() -> None:
    """Of cases that nothing meets: a black disc of 4.8 over the water's 0.06, haze and 0.01 for each dip per 100 L."""
    odds = answered(changed({"needs.see_through": "12 m", "needs.turnovers_per_hour": 1})).odds
    factors = factors_at(sobol_points(256, 0), {})
    dips = 420.0 / 3.785411784 / 3.0 / 4.2  # per 100 L in the life of the water
    seen = [4.8 / (0.06 + factors.haze * (0.3 + 0.01 * dips * share * factors.uses)) for share in (1.0, 0.5)]
    assert odds.chance_all_lack_flow == 0.0
    hidden = [float((each < 12.0).mean()) for each in seen]
    assert [odds.chance_too_hazy, odds.chance_too_hazy_in_half_the_time] == pytest.approx(hidden)
    assert 0.0 < hidden[1] < hidden[0] < 1.0
