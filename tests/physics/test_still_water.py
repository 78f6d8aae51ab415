"""Still water: the closed forms against their limits, a balance, and the two equations stepped in time."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from filtration.base.arrays import Array
from filtration.physics.still_water import StillWater, in_both_parts, still_water_of
from filtration.physics.tub import life_mean_share, sessions_held

REMOVALS = np.array([0.0, 1e-7, 0.01, 0.7, 5.0, 60.0, 300.0])
MINUTE = 1.0 / 1440.0
TUBS = [  # minutes until dye is even, share that lags, share of the day the pump runs, life [day], sessions a day
    (10.0, 0.3, 1.0, 6.2, 1.0),
    (60.0, 0.3, 0.5, 20.0, 3.0),
    (240.0, 0.02, 1.0, 12.0, 0.5),
    (720.0, 0.9, 0.25, 8.0, 2.0),
    (4320.0, 0.5, 1.0, 10.0, 1.0),
]


def still_of(minutes: float, share: float = 0.3, share_of_day: float = 1.0) -> StillWater:
    found = still_water_of(minutes * MINUTE, share, share_of_day)
    assert found is not None
    return found


def rates_of(removal: float, still: StillWater) -> Array:
    """Give the matrix M of the two parts, straight from how they swap water."""
    share = float(still.share)
    into_loop, into_still = share * float(still.exchange_per_day), (1.0 - share) * float(still.exchange_per_day)
    return np.array([[-removal / (1.0 - share) - into_loop, into_loop], [into_still, -into_still]])


def stepped(right: Callable[[float, Array], Array], start: Array, days: float) -> Array:
    found = solve_ivp(right, (0.0, days), start, method="LSODA", rtol=1e-10, atol=1e-13)
    return np.asarray(found.y[:, -1])


def left(days: float) -> Callable[[Array], Array]:
    return lambda rate: np.exp(-rate * days)


@pytest.mark.parametrize(("minutes", "share", "share_of_day"), [tub[:3] for tub in TUBS])
def test_dye_dropped_on_the_loop_is_even_within_5_percent_when_the_owner_says(
    minutes: float, share: float, share_of_day: float
) -> None:
    """The two parts become even at κ₁ + κ₂ = 3h/t: what lies between them falls to exp(-3) in t of pumping."""
    still = still_of(minutes, share, share_of_day)
    assert float(still.exchange_per_day) == pytest.approx(3.0 * share_of_day / (minutes * MINUTE))
    pumped = minutes * MINUTE / share_of_day  # the day's mean, so that a pump off half the day takes twice as long
    loop, lagging = in_both_parts(left(pumped), np.zeros(1), still, (1.0 / (1.0 - share), 0.0))
    assert (1.0 - share) * loop + share * lagging == pytest.approx(1.0)
    assert (loop - lagging) * (1.0 - share) == pytest.approx(math.exp(-3.0))


@pytest.mark.parametrize("just_before", [True, False])
def test_dye_that_is_even_at_once_is_one_volume(just_before: bool) -> None:  # noqa: FBT001 - a case
    assert still_water_of(0.0, 0.3, 1.0) is None
    assert still_water_of(0.1, 0.0, 1.0) is None
    at_once = still_of(1e-9)
    mixed = sessions_held(REMOVALS, 9.0, 2.0, just_before=just_before)
    held = sessions_held(REMOVALS, 9.0, 2.0, just_before=just_before, still=at_once)
    assert held == pytest.approx(mixed, rel=1e-6, abs=1e-9)
    assert life_mean_share(9.0 * REMOVALS, at_once, 9.0) == pytest.approx(life_mean_share(9.0 * REMOVALS), rel=1e-8)


def test_a_small_part_that_lags_changes_no_load_but_holds_its_own_dirt() -> None:
    """With s → 0 the loop is one volume; the part keeps, of a steady inflow, S t/(3V) more than that."""
    small, life, even = still_of(30.0, 1e-7), 8.0, 30.0 * MINUTE
    assert life_mean_share(life * REMOVALS, small, life) == pytest.approx(life_mean_share(life * REMOVALS), rel=1e-5)
    removal = REMOVALS[3:]  # settled by then, so that the inflow is all that drives the excess
    loop, lagging = in_both_parts(lambda rate: -np.expm1(-rate * 60.0) / rate, removal, small)
    assert loop == pytest.approx(-np.expm1(-removal * 60.0) / removal, rel=1e-5)
    assert lagging - loop == pytest.approx(np.full(4, even / 3.0), rel=1e-5)


SHARES, MINUTES, RATES = st.floats(0.02, 0.9), st.floats(0.1, 40000.0), st.floats(0.0, 5000.0)


@given(SHARES, MINUTES, RATES, st.floats(0.1, 400.0), st.floats(0.1, 20.0))
def test_the_water_that_lags_holds_at_least_as_much(
    share: float, minutes: float, rate: float, life: float, sessions: float
) -> None:
    still, removal = still_of(minutes, share), np.array([rate])
    loop, lagging = in_both_parts(left(life), removal, still)
    assert lagging >= loop - 1e-12
    for just_before in (False, True):
        mixed = sessions_held(removal, life, sessions, just_before=just_before)
        held = sessions_held(removal, life, sessions, just_before=just_before, still=still)
        assert held > 0.0 or mixed == pytest.approx(0.0, abs=1e-9)
        if life * sessions >= 1.0:
            assert held >= mixed * (1.0 - 1e-9)
    assert life_mean_share(removal * life, still, life) <= life_mean_share(removal * life) * (1.0 + 1e-9)


@given(SHARES, MINUTES, RATES, st.floats(0.1, 400.0))
def test_what_came_in_was_caught_or_is_in_the_water(share: float, minutes: float, rate: float, life: float) -> None:
    still, removal = still_of(minutes, share), np.array([max(rate, 1e-6)])
    caught = life_mean_share(removal * life, still, life)
    loop, lagging = in_both_parts(
        lambda each: -np.expm1(-np.maximum(each, 1e-12) * life) / np.maximum(each, 1e-12) / life, removal, still
    )
    assert caught + (1.0 - share) * loop + share * lagging == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize(("minutes", "share", "share_of_day", "life", "sessions"), TUBS)
def test_the_mean_over_a_life_is_that_of_the_two_equations(
    minutes: float, share: float, share_of_day: float, life: float, sessions: float
) -> None:
    """An inflow of one volume's worth a day into both, stepped; C₁ is added up as it goes."""
    still = still_of(minutes, share, share_of_day)
    for removal in REMOVALS[2:]:
        matrix = rates_of(removal, still)

        def right(_: float, state: Array, matrix: Array = matrix) -> Array:
            return np.concatenate([matrix @ state[:2] + 1.0, state[:1]])

        *_, gathered = stepped(right, np.zeros(3), life)
        share_caught = float(life_mean_share(removal * life, still, life))
        assert share_caught == pytest.approx(removal * gathered / life, rel=1e-8)
    assert sessions > 0.0


@pytest.mark.parametrize(("minutes", "share", "share_of_day", "life", "sessions"), TUBS)
def test_sessions_are_pulses_into_the_two_equations(
    minutes: float, share: float, share_of_day: float, life: float, sessions: float
) -> None:
    """Session by session, the equations stepped between: C₂ just after the last one, just before the next."""
    life, still = round(life * sessions) / sessions, still_of(minutes, share, share_of_day)
    for removal in REMOVALS[1:]:
        matrix = rates_of(removal, still)
        state = after = np.zeros(2)
        for _ in range(round(life * sessions)):
            after = state + 1.0
            state = stepped(lambda _, held, matrix=matrix: matrix @ held, after, 1.0 / sessions)
        for just_before, there in ((False, after[1]), (True, state[1])):
            held = sessions_held(np.array([removal]), life, sessions, just_before=just_before, still=still)
            assert float(held[0]) == pytest.approx(there, rel=2e-8, abs=1e-9)


def test_single_precision_stays_single_and_true() -> None:
    """The cases of an option stand in single precision; their still water is worked out in double."""
    single, still = REMOVALS.astype(np.float32), still_of(60.0)
    held = sessions_held(single, 9.0, 2.0, just_before=False, still=still)  # type: ignore[arg-type]  # as a case has it
    share = life_mean_share(single, still, 1.0)  # type: ignore[arg-type]
    assert held.dtype == share.dtype == np.float32
    assert held == pytest.approx(sessions_held(REMOVALS, 9.0, 2.0, just_before=False, still=still), rel=1e-5)
    assert share == pytest.approx(life_mean_share(REMOVALS, still, 1.0), rel=1e-5)
