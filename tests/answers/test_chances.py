"""How sure an answer is: the draws, what they lead to, and what is made of them."""

from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import fields, replace
from functools import partial
from multiprocessing import get_context
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_studies import random_study
from seeds import figures_of, fleet_figures_of, forecast_figures_of, logbook_of, moving_of, plan_figures_of
from studies import FOAM, WOUND, answered, changed, demo_data, demo_with, short, study_of

from filtration import Comparison, compare
from filtration.answers import chances, draws
from filtration.answers.chances import Spread, spreads_of, verdict_of
from filtration.answers.draws import drawn_options, kept_options
from filtration.answers.drivers import total_indices
from filtration.answers.odds import most_runs_of
from filtration.base.defaults import UNKNOWNS
from filtration.base.draws import central_factors, factors_at, sobol_points
from filtration.base.places import demo_names
from filtration.loading.assembly import entry_of
from filtration.present.documents import answer_document
from filtration.study.file import study_from_dict

PLEATED = short()["elements"][0]
BARREL = demo_with("barrel", "Spun 20", "Wound 50", "Pleated 20", "Foam then pleated 20")
SEVERAL = {"elements": [PLEATED, {**WOUND, "rating": "20 um", "price": 6}, {**FOAM, "price": 6}]}


def test_medians_and_spreads_of_the_factors() -> None:
    """A lognormal factor has median 1, and its geometric standard deviation is the spread of the table (definition)."""
    factors = factors_at(sobol_points(4096, 1), {})
    for unknown in UNKNOWNS:
        values = getattr(factors, unknown.key)
        if unknown.law == "uniform":
            assert unknown.low <= values.min() < values.max() <= unknown.high
            assert np.median(values) == pytest.approx(0.5 * (unknown.low + unknown.high), abs=2e-3)
        else:
            assert np.median(values) == pytest.approx(1.0, rel=5e-3)
            assert np.exp(np.log(values).std()) == pytest.approx(unknown.spread, rel=1e-2)


@pytest.mark.parametrize("name", demo_names())
def test_the_central_case_stands_in_the_middle_of_its_cases(name: str) -> None:
    """The middle first service of the cases that meet the needs lies near the central one, where half of all do."""
    answer = answered(demo_data(name), draws=1024)
    compared = 0
    for option in answer.options:
        if option.meets_needs and option.sureness is not None and option.sureness.chance_of_meeting_needs >= 0.5:
            _, middle, _ = option.sureness.ranges["days_to_first_service"]
            assert middle == pytest.approx(option.days_to_first_service, rel=0.15), option.id
            compared += 1
    assert compared >= 2


def test_the_owners_spread_wins() -> None:
    known = factors_at(sobol_points(64, 0), {"load_per_dip": 1.0})
    assert np.all(known.load_per_dip == 1.0)
    study = study_from_dict(changed({"uncertainty": {unknown.key: 1 for unknown in UNKNOWNS if unknown.spread}}))
    factors = factors_at(sobol_points(64, 0), study.spreads)
    assert all(np.all(getattr(factors, unknown.key) == 1.0) for unknown in UNKNOWNS if unknown.spread)


def test_the_first_sobol_point_is_kept_and_halves_are_balanced() -> None:
    """Each half of a power of two of Sobol points fills every half of each axis evenly (Sobol 1967)."""
    points = sobol_points(256, 7)
    assert points.shape == (256, len(UNKNOWNS))
    assert np.all((points[:128] < 0.5).sum(axis=0) == 64)
    assert np.all((points < 0.5).sum(axis=0) == 128)


def test_what_does_not_vary_has_no_drivers() -> None:
    (nothing,) = total_indices(lambda points: np.ones((1, points.shape[1])), 3, 64, 0)
    assert nothing == pytest.approx([0.0, 0.0, 0.0])


@pytest.mark.parametrize("name", ["freezer", "barrel", "quay"])
def test_the_central_case_among_the_draws_is_that_without_draws(
    name: str, answer_of: Callable[[str], Comparison]
) -> None:
    """A draw with every factor at its median is the central case, option by option, but for its coarser steps."""
    answer = answer_of(name)
    study = answer.study
    entries = [entry_of(study, option, pump) for pump in study.pumps for option in study.options]
    by_name = {(option.name, option.pump): option for option in answer.options}
    options = [by_name[entry.option.name, entry.pump.name] for entry in entries]
    kept = kept_options(study, entries, [most_runs_of(option) for option in options], [central_factors()])
    errors = []
    for found, option in zip(drawn_options(kept), options, strict=True):
        assert 3.6e6 * found.clean_flow_m3_s[0] == option.clean_flow_l_per_h
        assert bool(found.meets[0]) is option.meets_needs
        if option.services_per_year is not None:
            errors.append(found.services_per_day[0] * 365.25 / option.services_per_year - 1.0)
            assert found.worst_view_m[0] == pytest.approx(option.see_through_worst_m, rel=0.003)
        if option.days_to_first_service:
            errors.append(found.first_days[0] / option.days_to_first_service - 1.0)
    assert np.median(np.abs(errors)) < 0.002
    assert np.max(np.abs(errors)) < 0.02


def _spreads(draws: int = 256, seed: int = 0) -> list[Spread]:
    study = study_of(BARREL)
    entries = [entry_of(study, option, pump) for pump in study.pumps for option in study.options]
    return spreads_of(study, entries, [[20] * len(entry.media) for entry in entries], draws, seed)


@pytest.fixture(scope="module")
def whole() -> list[Spread]:
    """Return what becomes of options side by side, their draws in blocks of the usual size."""
    assert 256 * len(BARREL["options"]) <= chances._CHUNK
    return _spreads()


def _same(one: list[Spread], other: list[Spread]) -> bool:
    return all(
        np.array_equal(a.cost, b.cost) and np.array_equal(a.meets, b.meets) and a.ranges == b.ranges
        for a, b in zip(one, other, strict=True)
    )


def test_chunks_change_nothing(whole: list[Spread], monkeypatch: pytest.MonkeyPatch) -> None:
    """Options by themselves or many at a time: the same figures, to the last digit."""
    monkeypatch.setattr(chances, "_CHUNK", 1)
    assert _same(whole, _spreads())


def test_blocks_of_draws_change_nothing(whole: list[Spread], monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (chances, draws):
        monkeypatch.setattr(module, "BLOCK", 32)
    assert _same(whole, _spreads())


@pytest.fixture
def alone(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Return an answer worked out at one place; from now on each option is a job of its own."""
    found = answer_document(compare(study_of(BARREL), draws=64))
    monkeypatch.setattr(chances, "_CHUNK", 64)
    return found


def test_any_executor_gives_the_same(alone: dict[str, Any]) -> None:
    """A pool of processes gives the same bytes as none."""
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        assert answer_document(compare(study_of(BARREL), draws=64, executor=pool)) == alone


@pytest.mark.filterwarnings("ignore")
def test_a_dask_cluster_gives_the_same(alone: dict[str, Any]) -> None:
    """The executor of dask.distributed serves without a line of ours."""
    from distributed import Client, LocalCluster

    with (
        LocalCluster(n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        assert answer_document(compare(study_of(BARREL), draws=64, executor=client.get_executor())) == alone


def test_prices_move_each_part_and_elements_are_counted_in_all_housings(
    drawn_answer_of: Callable[[str], Comparison],
) -> None:
    """One factor on all prices, of 10 and 90 % alike in each part that nothing else moves; two housings want two."""
    answer = drawn_answer_of("quay")
    for option in answer.options:
        ranges = option.sureness.ranges if option.sureness else {}
        parts = {name: ranges.get(f"cost_per_year.{name}") for name in ("pumping", "cooling", "water_changes")}
        for name, found in parts.items():
            paid = getattr(option.cost_per_year, name)
            if found is not None and paid is not None:  # some lack the flow in the central case alone
                assert found[2] / paid > 1.1
                assert [each / paid for each in found] == pytest.approx(
                    [each / option.cost_per_year.pumping for each in parts["pumping"] or ()], rel=0.01
                )
    two = next(option for option in answer.options if option.housings_in_parallel == 2 and option.sureness)
    assert two.sureness is not None
    (stage,) = two.stages
    low, _, high = two.sureness.ranges[f"elements_per_year.{stage.element}"]
    assert low <= (stage.elements_per_year or 0.0) <= high
    assert two.services_per_year is not None
    assert high >= 2.0  # two at a time, and each at least once a year by age


def test_what_the_wrong_choice_costs_stands_by_the_wrong_option() -> None:
    """The same element at EUR 100 more: dearer by a hundred a piece, in every case that decides."""
    answer = compare(
        study_from_dict(changed({"elements": [PLEATED, {**PLEATED, "name": "Dear", "price": 118}]})), draws=64
    )
    cheap, dear = answer.options
    assert (cheap.name, dear.name) == ("Pleated 20", "Dear")
    assert cheap.sureness is not None
    assert dear.sureness is not None
    assert cheap.sureness.cost_of_choosing_wrong_per_year == 0.0
    apart = (dear.cost_per_year.total or 0.0) - (cheap.cost_per_year.total or 0.0)
    assert apart > 50.0
    assert dear.sureness.cost_of_choosing_wrong_per_year == pytest.approx(apart, rel=0.3)


def test_quasi_random_error_falls_faster_than_monte_carlo() -> None:
    """The mean of the logarithm of the first run: from 64 to 1024 points random points gain a factor 4, Sobol more."""
    study = study_from_dict(short())
    (entry,) = [entry_of(study, option, study.pumps[0]) for option in study.options]
    smooth = replace(study, needs=replace(study.needs, rinse_limit_days=1e3, see_through_m=0.1, flow_m3_s=2e-4))
    truth = chances.run_options(smooth, [entry], [[20]], sobol_points(16384, 99))[0].first_days
    truth = np.log(truth).mean()

    def error(points: int, *, quasi: bool) -> float:
        means = []
        for seed in range(10):
            random = np.random.default_rng(seed).random((points, len(UNKNOWNS)))
            cube = sobol_points(points, seed) if quasi else random
            means.append(np.log(chances.run_options(smooth, [entry], [[20]], cube)[0].first_days).mean())
        return float(np.sqrt(np.mean((np.array(means) - truth) ** 2)))

    fall = error(64, quasi=True) / error(1024, quasi=True)
    assert error(1024, quasi=True) < 0.5 * error(1024, quasi=False)
    assert fall > 4.0


def test_options_share_their_draws() -> None:
    """An option under two names costs the same in every draw, and another's figures stay when it comes or goes."""
    twin = {**PLEATED, "name": "Twin"}
    study = study_from_dict(changed({"elements": [PLEATED, twin, {**WOUND, "rating": "20 um", "price": 6}]}))
    entries = [entry_of(study, option, study.pumps[0]) for option in study.options]
    one, other, wound = spreads_of(study, entries, [[20]] * 3, 128, 0)
    assert np.array_equal(one.cost, other.cost)
    (alone,) = spreads_of(study, entries[2:], [[20]], 128, 0)
    assert np.array_equal(wound.cost, alone.cost)
    verdict = verdict_of([one, other, wound], sobol_points(128, 0))
    assert verdict.best[1] == 0.0
    assert verdict.wrong[0] == verdict.wrong[1]


def test_chances_by_hand() -> None:
    """Three draws, two options: who is cheapest, who meets, and what the choice costs above the cheapest."""

    def spread(cost: list[float], meets: list[bool]) -> Spread:
        counted = np.where(meets, cost, np.inf)
        return Spread(ranges={}, dots={}, meets=np.array(meets), flows=np.array(meets), cost=counted, first_price=7.0)

    options = [
        spread([10.0, 30.0, 20.0, 5.0], [True, True, False, False]),
        spread([12.0, 25.0, 21.0, 5.0], [True, True, True, False]),
    ]
    verdict = verdict_of(options, np.full((4, len(UNKNOWNS)), 0.5))
    assert verdict.best.tolist() == [0.25, 0.5]
    assert verdict.none_meets == 0.25
    assert verdict.wrong == [2.5, pytest.approx(2.0 / 3.0)]


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 400))
def test_ranges_and_chances_of_any_study(seed: int) -> None:
    """Ranges are in order and finite, chances sum to one, and draws never change the order of the options."""
    answer, central = answered(random_study(seed), 64), answered(random_study(seed))
    assert [option.id for option in answer.options] == [option.id for option in central.options]
    assert answer.odds is not None
    total = answer.odds.chance_none_meets_needs
    for option in answer.options:
        assert option.sureness is not None
        total += option.sureness.chance_of_being_best
        assert 0.0 <= option.sureness.chance_of_being_best <= option.sureness.chance_of_meeting_needs <= 1.0
        wrong = option.sureness.cost_of_choosing_wrong_per_year
        assert wrong is None or wrong >= 0.0
        for low, middle, high in option.sureness.ranges.values():
            assert np.isfinite([low, middle, high]).all()
            assert 0.0 <= low <= middle <= high
        for outcomes in option.sureness.outcomes.values():
            assert list(outcomes) == sorted(outcomes)
            assert len(outcomes) == 20
    assert total == pytest.approx(1.0)
    assert answer.odds.worth_of_measuring_load_per_year >= 0.0


def test_more_dirt_shifts_the_whole_range() -> None:
    clean, dirty = (compare(study_from_dict(changed({"tub.uses_per_day": uses})), draws=128) for uses in (3, 9))
    ranges = [each.options[0].sureness for each in (clean, dirty)]
    assert all(sure is not None for sure in ranges)
    low, high = (sure.ranges["days_to_first_service"][1] for sure in ranges if sure is not None)
    assert high < low


def test_what_is_known_does_not_spread() -> None:
    """With every lognormal spread at 1, only pump exponent and onset are left to vary."""
    known = {unknown.key: 1 for unknown in UNKNOWNS if unknown.spread}
    curve = {"power": "38 W", "curve": [["0 L/h", "2.4 m"], ["1200 L/h", "1.8 m"], ["2400 L/h", "0 m"]]}
    answer = compare(study_from_dict(changed({"uncertainty": known, "pump": curve})), draws=64)
    sure = answer.options[0].sureness
    assert sure is not None
    low, _, high = sure.ranges["clean_flow_l_per_h"]
    assert high == pytest.approx(low, rel=1e-9)
    assert answer.odds is not None
    assert {driver.unknown for driver in answer.odds.drivers if driver.total_index > 0.01} <= {"onset"}


def test_nothing_drives_where_nothing_flows() -> None:
    answer = compare(study_from_dict(changed({"plumbing.static_lift": "3 m"})), draws=64)
    assert answer.odds is not None
    assert answer.odds.chance_none_meets_needs == 1.0
    assert answer.odds.drivers == ()
    assert answer.options[0].sureness is not None
    assert {field.name for field in fields(answer.options[0].sureness)}
    assert answer_document(answer)["options"]


@pytest.mark.parametrize("case", ["freezer", "barrel"])
def test_printed_ranges_move_by_less_than_a_tenth_from_seed_to_seed(case: str) -> None:
    """At the number of draws used, over ten seeds; chances by less than a case of twenty. All demos: bench_seeds.py."""
    study = study_of(demo_with(case, "Pleated 10", "Pleated 50"))
    moving = moving_of(partial(figures_of, study), range(10))
    assert [name for name in moving if not name.startswith(("worth", "choosing"))] == []


def test_what_plan_forecast_and_fleet_print_stands_from_seed_to_seed() -> None:
    """The later days of a plan, the next service and the totals of a fleet; more of them by bench_seeds.py."""
    answer, kept = compare(study_of(demo_data("freezer"))), logbook_of("freezer")
    assert moving_of(partial(plan_figures_of, answer), range(6, 9)) == []  # half as many cases fail
    assert moving_of(partial(forecast_figures_of, kept), range(3)) == []
    assert moving_of(partial(fleet_figures_of, [demo_with("freezer", "Pleated 10")]), range(3)) == []
