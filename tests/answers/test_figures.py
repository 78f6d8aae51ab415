"""The figures of one option, reckoned by hand from the study and from each other: one filter, and two side by side."""

from collections import Counter
from dataclasses import fields
from itertools import pairwise
from math import floor

import pytest
from studies import Given, central, changed, study_of

from filtration import OptionAnswer
from filtration.answers.results import CostPerYear
from filtration.answers.series import answer_alone, flow_runs, flow_runs_at, follow_among, loading_of, pressure_drops

YEAR = 365.25
LIFE_DAYS = (
    420.0 / 3.785411784 / 3.0 / 6.0
)  # of the water, by a spa's rule: US gallons over three for each bather a day
TWO: Given = {
    "options": [
        {"name": "Alone", "stages": ["Pleated 20"]},
        {"name": "Pair", "stages": ["Pleated 20"], "housings_in_parallel": 2},
    ],
    "needs.rinse_at_least_every": "never",
    "pump.price": 60,
    "pump.hours_per_day": 18,
    "prices": {"own_time_per_hour": 12, "disinfectant_per_month": 2, "discount_rate": 0, "horizon": "3 year"},
}


@pytest.fixture(params=[0, 1], ids=["alone", "pair"])
def option(request: pytest.FixtureRequest) -> OptionAnswer:
    """Return a filter that the flow ends, rinsed and soaked, alone or as a pair."""
    found: OptionAnswer = central(study_of(changed(TWO))).options[request.param]
    return found


def test_flows_losses_and_dirt(option: OptionAnswer) -> None:
    """Three turnovers an hour are 1,260 L/h, at which each run ends."""
    (stage,), housings = option.stages, option.housings_in_parallel
    assert (option.housings, option.kind, option.rating_um) == (housings, "pleated", 20.0)
    assert (option.meets_needs, option.governed_by) == (True, "flow")
    assert option.days_to_first_service == option.flow_alone_days
    assert option.clean_turnovers_per_hour == pytest.approx(option.clean_flow_l_per_h / 420.0)
    assert option.due_flow_l_per_h == pytest.approx(1260.0, rel=1e-6)
    assert option.deposit_when_due_g == pytest.approx(housings * (stage.deposit_when_due_g or 0.0))
    assert 0.0 < (option.clean_filter_loss_kpa or 0.0) < (option.due_filter_loss_kpa or 0.0) < 23.6  # of 2.4 m of water
    assert option.worst_view_m == min(option.see_through_new_m, option.see_through_worst_m) < option.see_through_clean_m
    for tube, loss in ((option.clean_tube_kpa, option.clean_filter_loss_kpa), (option.due_tube_kpa, 3.0)):
        assert (tube or 0.0) > (loss or 0.0)
    assert (option.bare_tube_kpa or 0.0) < (option.clean_tube_kpa or 0.0) < (option.due_tube_kpa or 0.0)


def test_what_is_done_a_year(option: OptionAnswer) -> None:
    """Per element as often as its life says, all housings together; a soak with every fourth rinse of a life."""
    (stage,), housings = option.stages, option.housings_in_parallel
    life_days, rinses = stage.life_days or 0.0, stage.rinses_before_replacing or 0
    assert (stage.element, stage.service) == ("Pleated 20", "rinse")
    assert life_days <= 365.0 + 1e-6
    assert stage.elements_per_year == option.elements_per_year == pytest.approx(housings * YEAR / life_days)
    assert stage.rinses_per_year == pytest.approx(housings * YEAR / life_days * rinses)
    assert stage.soaks_per_year == pytest.approx(housings * YEAR / life_days * (rinses // 4))
    assert option.services_per_year == pytest.approx((rinses + 1) * YEAR / life_days)
    assert 3.0 <= (option.shortest_run_days or 0.0) <= (option.days_to_first_service or 0.0)


def test_what_a_year_costs(option: OptionAnswer) -> None:
    """EUR 18 an element, 20 L and 10 minutes a rinse, 1 a soak, 0.5 for the bin; a pump of 38 W for 18 hours a day."""
    (stage,), cost, energy = option.stages, option.cost_per_year, option.energy_kwh_per_year
    bought, rinses, soaks = stage.elements_per_year or 0.0, stage.rinses_per_year or 0.0, stage.soaks_per_year or 0.0
    kwh = 0.038 * 18.0 * YEAR
    assert (energy.pumping, energy.cooling) == (pytest.approx(kwh), pytest.approx(kwh / 2.0))  # all of it is heat
    warming = 38.0 * 0.75 * 86400.0 / (420.0 * 0.99997 * 4200.0)
    assert option.warming_k_per_day == pytest.approx(warming, rel=1e-3)
    refill = 420.0 * 0.99997 * 4200.0 * (12.0 - 4.0) / 3.6e6 / 2.0
    assert energy.water_changes == pytest.approx(YEAR / LIFE_DAYS * refill, rel=1e-3)
    assert cost.elements == pytest.approx(18.0 * bought)
    assert cost.rinsing == pytest.approx(0.020 * 4.0 * rinses + 1.0 * soaks)
    assert cost.own_time == pytest.approx((rinses + soaks) * 10.0 / 60.0 * 12.0)
    assert cost.disposal == pytest.approx(0.5 * bought)
    assert (cost.pumping, cost.cooling) == (pytest.approx(0.3 * kwh), pytest.approx(0.3 * kwh / 2.0))
    assert cost.equipment == pytest.approx(60.0 / 4.0 + 35.0 / 10.0 * option.housings)
    assert cost.water_changes == pytest.approx(YEAR / LIFE_DAYS * (0.42 * 4.0 + 0.3 * refill), rel=1e-3)
    assert cost.disinfectant == pytest.approx(24.0)
    parts = {part.name: getattr(cost, part.name) for part in fields(CostPerYear)}
    assert option.total_per_year == parts.pop("total") == pytest.approx(sum(parts.values()))
    assert cost.own == pytest.approx(sum(parts[name] for name in ("elements", "rinsing", "own_time", "disposal")))
    differs = ("elements", "rinsing", "own_time", "disposal", "equipment")
    assert option.choice_cost_per_year == pytest.approx(sum(parts[name] for name in differs))


def test_what_happens_on_which_day(option: OptionAnswer) -> None:
    """Three years: everything bought on the first day, water as it ages, each year's power at its end."""
    housings, days = option.housings_in_parallel, {(event.what, event.item): list[int]() for event in option.events}
    amounts = Counter[str]()
    for event in option.events:
        days[event.what, event.item].append(event.day)
        amounts[event.what if event.item != "water" else "water"] += event.amount
        each = {"pump": 1, "electricity": event.count, "disinfectant": 12, "water": 1}.get(event.item, housings)
        assert event.count == pytest.approx(each)
    horizon = 3 * YEAR
    assert days["buy", "pump"] == days["buy", "housing"] == [0]
    assert days["buy", "Pleated 20"][0] == 0
    assert days["buy", "Pleated 20"][1:] == days["replace", "Pleated 20"]
    assert days["rinse", "Pleated 20"][0] == floor(option.days_to_first_service or 0.0)
    assert days["soak", "Pleated 20"][0] == days["rinse", "Pleated 20"][3]
    changes = floor(horizon / LIFE_DAYS)
    assert days["change water", "water"] == [floor(number * LIFE_DAYS) for number in range(1, changes + 1)]
    assert days["buy", "electricity"] == days["buy", "disinfectant"] == [365, 730, 1095]
    assert [event.day for event in option.events] == sorted(event.day for event in option.events)
    power = (option.energy_kwh_per_year.pumping or 0.0) + (option.energy_kwh_per_year.cooling or 0.0)
    assert sum(event.count for event in option.events if event.item == "electricity") == pytest.approx(3 * power)
    times = {what: housings * len(days[what, "Pleated 20"]) for what in ("rinse", "soak", "replace", "buy")}
    minutes = {"rinse": 0.08 + 2.0, "soak": 1.0 + 2.0, "replace": 0.5}  # with 10 minutes at EUR 12 an hour
    for what, price in minutes.items():
        assert amounts[what] == pytest.approx(price * times[what])
    equipment = 60.0 + 35.0 * housings
    assert amounts["buy"] == pytest.approx(18.0 * times["buy"] + equipment + 3 * (0.3 * power + 24.0))
    assert option.horizon_total.undiscounted == option.horizon_total.discounted == pytest.approx(sum(amounts.values()))


def test_the_flow_of_sixty_days(option: OptionAnswer) -> None:
    """Each run falls from the flow after a rinse to that wanted, a gap after it; the last begins within 60 days."""
    days, flows, gaps = option.flow_record.day, option.flow_record.flow_l_per_h, [0]
    gaps += [place + 1 for place, flow in enumerate(flows) if flow is None]
    assert (len(days), gaps[-1]) == (len(flows), len(flows))
    assert (days[0], flows[0]) == (0.0, pytest.approx(option.clean_flow_l_per_h))
    for number, (start, end) in enumerate(pairwise(gaps)):
        run = [flow for flow in flows[start : end - 1] if flow is not None]
        assert len(run) == end - start - 1 == 16
        assert all(after < before for before, after in pairwise(run))
        assert run[-1] == pytest.approx(1260.0, rel=1e-4)
        assert days[start] < 60.0
        assert days[end - 1] == days[end - 2]
        if number:
            assert days[start] == pytest.approx(days[start - 1])
            assert run[0] < option.clean_flow_l_per_h
        else:
            assert days[end - 1] == pytest.approx(option.days_to_first_service)
    assert days[-1] >= 60.0


@pytest.mark.parametrize("changes", [{"needs.turnovers_per_hour": 5}, {"plumbing.static_lift": "4 m"}])
def test_what_never_starts_has_no_year(changes: Given) -> None:
    """Due before it starts: nothing is held, done or paid; what moves no water has no loss either."""
    (option,) = central(study_of(changed(changes))).options
    assert (option.days_to_first_service, option.flow_alone_days, option.governed_by) == (0.0, 0.0, "flow")
    assert option.due_flow_l_per_h == option.clean_flow_l_per_h
    assert option.due_filter_loss_kpa == option.clean_filter_loss_kpa
    assert (option.clean_filter_loss_kpa is None) == (option.clean_flow_l_per_h == 0.0)
    assert option.see_through_new_m == option.see_through_worst_m
    assert (option.deposit_when_due_g, option.stages[0].deposit_when_due_g) == (0.0, 0.0)
    of_stage = ("life_days", "elements_per_year", "rinses_per_year", "soaks_per_year", "rinses_before_replacing")
    assert {getattr(option.stages[0], name) for name in of_stage} == {None}
    assert {getattr(option.cost_per_year, part.name) for part in fields(CostPerYear)} == {None}
    assert {option.services_per_year, option.warming_k_per_day, option.total_per_year, option.elements_per_year} == {
        None
    }
    assert (option.events, option.flow_record.day, option.horizon_total.undiscounted) == ((), (), None)


def test_a_life_run_by_run(option: OptionAnswer) -> None:
    """As many runs as rinses and one more, day after day, a soak with every fourth, a new element at the end."""
    worked, (stage,) = central(study_of(changed(TWO))), option.stages
    followed = follow_among(worked, option.id)
    runs, rinses = flow_runs(followed), stage.rinses_before_replacing or 0
    assert len(runs) == rinses + 1
    done = ["soak" if number % 4 == 0 else "rinse" for number in range(1, rinses + 1)]
    assert [run.ends_with for run in runs] == [*done, "replace"]
    assert (runs[0].day[0], runs[0].flow_l_per_h[0]) == (0.0, pytest.approx(option.clean_flow_l_per_h))
    assert runs[-1].day[-1] == pytest.approx(stage.life_days)
    assert {len(run.day) for run in runs} == {max(4, min(48, 420 // len(runs)))}
    for before, after in pairwise(runs):
        assert before.day[-1] == pytest.approx(after.day[0])
        assert before.flow_l_per_h[-1] == pytest.approx(1260.0, rel=1e-4)
    dirtier = flow_runs_at(worked.study, option.id, 1.0)
    assert dirtier[0].day[-1] < runs[0].day[-1]
    assert flow_runs_at(worked.study, option.id, 0.0)[0].day[-1] == pytest.approx(runs[0].day[-1], rel=1e-6)
    loading = loading_of(followed)
    assert (loading.option, loading.flow_l_per_h) == (option.id, pytest.approx(1260.0))
    assert (loading.deposit_g[0], loading.deposit_g[-1]) == (0.0, pytest.approx(option.deposit_when_due_g))
    assert (
        loading.loss_kpa[-1] == pytest.approx(loading.left_kpa, rel=1e-3) == pytest.approx(option.due_filter_loss_kpa)
    )
    assert all(less < more for less, more in pairwise(loading.loss_kpa))
    alone = answer_alone(worked.study, option.id)
    assert (alone.days_to_first_service, alone.choice_cost_per_year) == (option.days_to_first_service, None)


def test_pressure_drop_at_the_flow_wanted() -> None:
    """A curve a kind in the option's size; its own rating stands on it, clean and with dirt, until it chokes."""
    worked = central(study_of(changed(TWO)))
    found = pressure_drops(worked.study, worked.followed, "alone", ratings=[10.0, 20.0, 50.0])
    (own, pair) = (found.own[name] for name in ("alone", "pair"))
    assert (found.option, found.pump, found.flow_l_per_h) == ("alone", "pump", pytest.approx(1260.0))
    assert [(curve.kind, curve.size, curve.rating_um) for curve in found.curves] == [
        (kind, "10 x 2.5 in", (10.0, 20.0, 50.0)) for kind in ("spun", "wound", "pleated")
    ]
    sheet = found.curves[2]
    for held_g in (0.0, 3.0):
        losses = [loss or 0.0 for loss in sheet.losses_kpa(held_g)]
        assert losses[0] > losses[1] > losses[2] > 0.0
    assert sheet.losses_kpa(0.0)[1] == pytest.approx(own.loss_kpa[0], rel=1e-6)
    assert sheet.losses_kpa(1e6) == (None, None, None)
    assert own.loss_kpa[0] > pair.loss_kpa[0] > 0.25 * own.loss_kpa[0]  # half the flow through each: a square's quarter
    assert found.left_kpa == pytest.approx(own.left_kpa) == pytest.approx(worked.options[0].due_filter_loss_kpa)
