"""What readings teach: the walk from day to day, the errors of each way of reading, the fit of all unknowns."""

import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from owners import CENTRAL, a_year, looked, owner, record, row, study_in_use, timed, tub_of

from filtration.base.defaults import UNKNOWNS
from filtration.base.draws import central_factors, factors_of
from filtration.readings.learning import _placed, _rises, _surprises, across, learn, nothing_known
from filtration.readings.record import MODEL, spread_of
from filtration.readings.sorting import record_of
from filtration.study.values import Hand


@pytest.mark.parametrize("option", ["pleated-20", "pleated-5", "spun-20", "foam-20-ppi", "foam-then-pleated-20"])
def test_the_walk_from_day_to_day_meets_the_slow_solver(option: str) -> None:
    """Flow and tube through a run, a rinse and a soak, every score 0, against the solver of all layers and classes.

    What lies after the tube's tee is worked out with the library ``fluids``.
    """
    study = study_in_use(option)
    rinses = "spun" not in option
    tub = tub_of(CENTRAL, option)
    rows, truth = [], []
    for soak in (False, True) if rinses else (False,):
        start, length = tub.since, tub.next_due() - tub.since
        for share in (0.3, 0.6, 0.8, 0.95):
            day = start + share * length
            rows += [row(day, "flow", "500 L/h"), row(day, "column", "1 cm")]
            truth += [tub.flow_m3_s(day), tub.tube_pa(day)]
        if rinses:
            tub.rinse(day, soak=soak)
            rows.append(row(day, "soak" if soak else "rinse"))
    middle = factors_of(np.zeros((1, len(UNKNOWNS))), {})
    predicted = record(rows, 400.0, study).predicted(middle)[:, 0]
    assert predicted[::2] == pytest.approx(truth[::2], rel=0.01)
    cliff = 0.06 if option.startswith("foam-20") else 0.03  # full, foam shuts within a day
    assert predicted[1::2] == pytest.approx(truth[1::2], rel=cliff, abs=5.0)


@pytest.mark.parametrize("key", [unknown.key for unknown in UNKNOWNS if unknown.key not in ("haze", "prices")])
def test_every_unknown_means_the_same_to_the_slow_solver(key: str) -> None:
    """One score at a time off the middle, up to when the slow solver says that the element is due."""
    study = study_in_use()
    for score in (-1.0, 1.0):
        scores = CENTRAL | {key: score}
        tub = tub_of(scores, "pleated-20")
        days = [0.01 + share * tub.next_due() for share in (0.0, 0.5, 0.9)]
        truth = [tub.flow_m3_s(day) for day in days]
        tub.rinse(days[-1])
        truth.append(tub.flow_m3_s(days[-1] + 1.0))
        rows = [row(day, "flow", "500 L/h") for day in days] + [row(days[-1], "rinse")]
        rows.append(row(days[-1] + 1.0, "flow", "500 L/h"))
        points = np.array([[scores[unknown.key] for unknown in UNKNOWNS]])
        predicted = record(rows, 100.0, study).predicted(factors_of(points, {}))[:, 0]
        assert predicted == pytest.approx(truth, rel=0.005)


def test_without_readings_the_prior_stands() -> None:
    found = looked([row(3.0, "rinse")], 6.0)
    assert found.belief is found.prior
    assert found.readings_used == 0
    assert all((each.p10, each.p90) == (each.prior_p10, each.prior_p90) for each in found.fitted)
    assert {each.unknown for each in found.fitted} == {u.key for u in UNKNOWNS} - {"haze", "prices"}
    assert (found.dirt.p10, found.dirt.p90) == (found.dirt.prior_p10, found.dirt.prior_p90)


def test_the_dirt_of_a_day_is_as_open_as_that_of_a_dip_and_the_number_of_dips() -> None:
    """The product of two lognormals: their spreads add as squares of logarithms; 90 % lies 1.2816 of those up."""
    spreads = {unknown.key: unknown.spread for unknown in UNKNOWNS}
    found = looked([], 0.0).dirt
    width = 1.2816 * np.hypot(np.log(spreads["load_per_dip"]), np.log(spreads["uses"]))
    assert (found.prior_p10, found.prior_p90) == pytest.approx((np.exp(-width), np.exp(width)), rel=1e-3)


def test_a_surprise_by_hand() -> None:
    """A first reading 4 off, of weight 1/4, moves a mean of 0 of variance 1 to 0.8, of variance 0.8 (Bayes)."""
    slopes, weights = np.array([[-1.0], [-1.0]]), np.array([0.25, 1.0])
    found = _surprises(np.array([4.0, 0.0]), slopes, np.zeros(1), weights)
    assert found == pytest.approx([4.0 / 2.0**0.5, -0.8 / 1.8**0.5])


@pytest.mark.parametrize(("then", "rises"), [(1470.0, False), (1530.0, True)])
def test_a_flow_rises_beyond_both_errors(then: float, *, rises: bool) -> None:
    """Two readings of one bucket, each 2.5 % off: their difference is 3.5 % off: 5 % is none, 9 % is one."""
    seen = record([row(0.2, "bucket", timed(10.0, 1400.0)), row(0.4, "bucket", timed(10.0, then))], 1.0)
    assert _rises(_placed(seen, learn(seen, nothing_known()))[-1]) is rises


def test_one_reading_blends() -> None:
    """The flow believed in lies between what the prior says and the reading, and nearer to the surer of them."""
    before = looked([], 0.0)
    low = 0.85 * before.flow_today_l_per_h[1]
    after = looked([row(0.0, "flow", f"{low:.1f} L/h")], 0.0)
    assert low < after.flow_today_l_per_h[1] < before.flow_today_l_per_h[1]
    widths = [np.log(each.flow_today_l_per_h[2] / each.flow_today_l_per_h[0]) for each in (before, after)]
    by_hand = 1.0 / np.hypot(1.0 / widths[0], 1.0 / (2.563 * np.hypot(0.03, MODEL)))
    assert widths[1] == pytest.approx(by_hand, rel=0.25)


def test_many_sharp_readings_find_the_truth() -> None:
    """A tub of known factors, read with a meter forty times a run over three runs: the day is known."""
    scores = CENTRAL | {"load_per_dip": 0.8, "cake_resistance": -0.7, "sum_k": -0.6, "rinse_loss": 0.7}
    study, rows = study_in_use(), []
    tub = tub_of(scores, "pleated-20")
    for _ in range(3):
        start, end = tub.since, tub.next_due()
        days = np.linspace(start, end, 41)[1:]
        rows += [row(day, "flow", f"{3.6e6 * tub.flow_m3_s(day):.2f} L/h") for day in days]
        tub.rinse(end)
        rows.append(row(end, "rinse"))
    truth, length = tub.next_due() - end, tub.next_due() - tub.since
    found = looked(rows, end, study)
    low, middle, high = found.next_service.in_days
    assert middle == pytest.approx(truth, abs=0.05 * length)
    assert low <= truth <= high
    assert high - low < 0.25 * length
    assert found.dirt.p10 < 1.8**0.8 < found.dirt.p90


@pytest.mark.parametrize("seed", [1, 5, 9])
def test_every_draw_explains_the_readings(seed: int) -> None:
    """Draws off the belief itself miss an owner's readings by more than their errors; bent ones by hardly more."""
    kept = owner(seed)
    seen = record_of(kept.study, kept.readings, kept.today, nothing_known())
    learnt = learn(seen, nothing_known())
    value = np.array([each.value for each in seen.observations])[:, None]
    spread = np.array(
        [
            np.hypot(each.spread, kept.study.hand.bucket_mark * (each.bucket_m3 is not None))
            for each in seen.observations
        ]
    )
    straight = learnt.belief.mean + np.random.default_rng(1).standard_normal((128, len(UNKNOWNS))) @ learnt.belief.root
    missed = []
    for scores, back in ((straight, learnt.belief.return_factor), learnt.drawn(128, 0)):
        off = np.log(value / seen.predicted(factors_of(scores, {}), back)) / spread[:, None]
        missed.append(float(np.median(np.sqrt((off**2).mean(axis=0)))))
    assert missed[1] < 1.3 < missed[0]


def test_a_buckets_marks_do_not_average_out() -> None:
    """Of n readings that share an error of 3 % the flow is known to 3 % at best; of a meter's own to 3 %/sqrt(n)."""
    rows = [row(0.001 * n, "bucket", timed(10.0, 1400.0)) for n in range(40)]
    spread = {}
    for kind in ("bucket", "flow"):
        same = rows if kind == "bucket" else [row(0.001 * n, "flow", "1400 L/h") for n in range(40)]
        low, _, high = looked(same, 0.1, draws=512).flow_today_l_per_h
        spread[kind] = np.log(high / low) / 2.563
    low, _, high = looked([], 0.1, draws=512).flow_today_l_per_h
    before = np.log(high / low) / 2.563
    assert spread["bucket"] == pytest.approx(1.0 / np.hypot(1.0 / before, 1.0 / 0.03), rel=0.15)
    assert spread["flow"] < 0.5 * spread["bucket"]


def test_twice_the_dips_is_twice_the_dirt_of_a_dip() -> None:
    """Counted dips of twice the study's on every day, or a bather of twice the dirt: the flows are the same."""
    read = [row(day, "flow", "1400 L/h") for day in (2.0, 5.5, 9.0)]
    counts = [row(day + 0.5, "uses", "12") for day in range(10)]
    central = central_factors()
    dirtier = replace(central, load_per_dip=2.0 * central.load_per_dip)
    for study, error in ((study_in_use(tub={"uncovered_hours_per_day": 0}), 5e-3), (study_in_use(), 0.02)):
        counted = record([*read, *counts], study=study).predicted(central)
        assert counted == pytest.approx(record(read, study=study).predicted(dirtier), rel=error)
        assert counted[-1, 0] < record(read, study=study).predicted(central)[-1, 0]


def test_counted_dips_are_known() -> None:
    """On a counted day it does not matter how many dips the study would have: 6 counted of 6, whatever the factor."""
    read = [row(day, "flow", "1400 L/h") for day in (2.0, 5.5)]
    counts = [row(day + 0.5, "uses", "6") for day in range(10)]
    central = central_factors()
    more = replace(central, uses=1.7 * central.uses)
    assert record([*read, *counts]).predicted(central) == pytest.approx(record(read).predicted(central), rel=1e-3)
    no_dust = study_in_use(tub={"uncovered_hours_per_day": 0})
    counted = record([*read, *counts], study=no_dust)
    assert counted.predicted(more) == pytest.approx(counted.predicted(central), rel=2e-3)


@settings(max_examples=10)
@given(order=st.permutations(range(5)))
def test_the_order_of_rows_does_not_matter(order: list[int]) -> None:
    rows = [row(day, kind, value) for day, kind, value in _MIXED]
    shuffled = record([rows[place] for place in order])
    assert shuffled.observations == record(rows).observations
    assert shuffled.predicted(central_factors()) == pytest.approx(record(rows).predicted(central_factors()))


_MIXED = (
    (1.0, "bucket", "10 L in 24.4 s"),
    (4.0, "column", "30 cm"),
    (6.0, "rinse", ""),
    (7.0, "flow", "1480 L/h"),
    (9.0, "pressure", "3 kPa"),
)


@pytest.mark.parametrize(
    ("kind", "value", "spread"),
    [
        ("flow", "22 L/min", 0.03),
        ("column", "50 cm", np.hypot(0.02, 0.01)),
        ("pressure", "5 kPa", 0.1),
        ("pressure", "50 kPa", 0.02),
    ],
)
def test_each_way_of_reading_has_its_own_error(kind: str, value: str, spread: float) -> None:
    assert spread_of(row(0.0, kind, value), Hand(0.3, 0.02, 0.03))[2] == pytest.approx(
        np.hypot(spread, MODEL), rel=0.02
    )


def test_a_soak_brings_its_rinse_along_unless_one_is_written_down() -> None:
    services = [each.service for each in record([row(5.0, "soak")]).lives[0].stretches if each.service]
    assert [(each.rinsed, each.soaked) for each in services] == [(True, True)]
    both = [row(5.0, "rinse"), row(5.2, "soak")]
    services = [each.service for each in record(both).lives[0].stretches if each.service]
    assert [(each.rinsed, each.soaked) for each in services] == [(True, False), (False, True)]


def test_a_year_of_weekly_readings_fits_at_once() -> None:
    """Well under a second on a machine of today; counted in the processor's time, twice over for a slow one."""
    study, rows, today = a_year()
    whole = record_of(study, rows, today, nothing_known())
    start = time.process_time()
    learnt = learn(whole, nothing_known())
    assert time.process_time() - start < 2.0
    assert len(whole.observations) == 52
    assert np.abs(learnt.belief.mean).max() < 0.5  # made with every score at 0
    assert learnt.weights.min() > 0.9


def test_draws_are_moved_as_by_a_matrix_of_readings() -> None:
    """In a matrix of unknowns, by Woodbury's identity, as by ``inv(S S' + inv(W)) S`` written out."""
    draw = np.random.default_rng(4)
    for readings, unknowns in ((1, 3), (7, 3), (40, 19)):
        slopes = draw.standard_normal((readings, unknowns)) * draw.uniform(0.1, 30.0, unknowns)
        weights = draw.uniform(1e-3, 3.0, readings)
        dense = np.linalg.inv(slopes @ slopes.T + np.diag(1.0 / weights)) @ slopes
        assert across(slopes, weights) == pytest.approx(dense, rel=1e-9, abs=1e-12)


def test_many_flows_of_a_day_tell_what_their_mean_tells() -> None:
    """Their mean, off by 3 %/sqrt(n) and by the 1 % of the model, which more of them make no smaller."""
    flows = np.random.default_rng(5).normal(1400.0, 42.0, 400)
    hours = np.linspace(0.3, 0.6, len(flows))
    rows = [row(at, "flow", f"{flow:.2f} L/h") for at, flow in zip(hours, flows, strict=True)]
    (one,) = record(rows).observations
    assert one.rows == 400
    assert one.value * 3.6e6 == pytest.approx(flows.mean(), rel=2e-3)
    assert one.spread == pytest.approx(np.hypot(MODEL, 0.03 / 20.0), rel=0.01)
    assert one.day == pytest.approx(hours.mean())
    few = record(rows[:4]).observations
    assert [each.rows for each in few] == [1] * 4
    assert few[0].spread / 2.0 == pytest.approx(np.hypot(MODEL, 0.03 / 2.0))


def test_a_wild_flow_of_a_day_hardly_moves_its_mean() -> None:
    (one,) = record([row(0.3 + 0.01 * n, "flow", "400 L/h" if n == 7 else "1400 L/h") for n in range(30)]).observations
    assert one.value * 3.6e6 == pytest.approx(1400.0, rel=2e-3)  # a plain mean: 1367


def test_flows_before_and_after_a_rinse_stand_apart() -> None:
    rows = [row(0.3 + 0.01 * n, "flow", "1000 L/h" if n < 20 else "1400 L/h") for n in range(40)]
    before, after = record([*rows, row(0.495, "rinse")], study=study_in_use()).observations
    assert (before.rows, after.rows) == (20, 20)
    assert after.value / before.value == pytest.approx(1.4)
