"""Runs strung together, against sums a reader can do by hand."""

from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
import pytest
import slow_solver
from slow_solver_cases import cases_of
from studies import Given, demo_data, study_of

from filtration import Study, compare
from filtration.answers.figures import Schedule, schedule_of
from filtration.loading.assembly import Entry, entry_of, runner_of
from filtration.loading.lifetime import Care, best_most_runs, first_runs, follow, rates_of, shortest_run_days
from filtration.loading.run import Runner
from filtration.study.values import rinse_price, soak_price

# A sheet that is full at 5 g, in a tub whose dirt comes evenly and does not grow: the deposit is the clock, and
# each run lasts as long as the room that the rinse before it made.
SHEET: Given = {
    "name": "Sheet",
    "kind": "pleated",
    "size": "10 x 2.5 in",
    "rating": "20 um",
    "dirt_capacity": "5 g",
    "price": 20,
    "rinse_recovery": 0.8,
    "soak_every_rinses": 4,
    "soak_recovery": 0.5,
}
FOAM: Given = {
    "name": "Foam",
    "kind": "foam",
    "area": "0.01 m^2",
    "thickness": "50 mm",
    "pores_per_inch": 30,
    "price": 9,
}


@dataclass(frozen=True, kw_only=True)
class Followed:
    """One option put together and scheduled."""

    data: Given
    study: Study
    entry: Entry
    runner: Runner
    schedule: Schedule


def _followed(*elements: Given, stages: list[str] | None = None, **tables: Given) -> Followed:
    """Schedule one option at a tub whose deposit does not grow, with no limit but what ``needs`` says."""
    data = demo_data("freezer")
    data["tub"] |= {"disinfectant": "kept"} | tables.pop("tub", {})
    data["needs"] = {
        "turnovers_per_hour": 1,
        "see_through": "0.01 m",
        "rinse_at_least_every": "never",
        "replace_at_least_every": "never",
        "discard_after": "200 day",
        "shortest_run": "0 day",
    } | tables.pop("needs", {})
    data["elements"] = list(elements)
    data["options"] = [{"name": "only", "stages": stages or [element["name"] for element in elements]}]
    data |= {key: data.get(key, {}) | table for key, table in tables.items()}
    study = study_of(data)
    entry = entry_of(study, study.options[0], study.pumps[0])
    runner = runner_of(study, [entry])
    schedule = schedule_of(study, [entry], runner)
    assert schedule is not None
    return Followed(data=data, study=study, entry=entry, runner=runner, schedule=schedule)


def _care(followed: Followed) -> Care:
    """Lay out what services cost, by the public prices of one."""
    stages, prices = followed.entry.option.stages, followed.study.prices
    return Care(
        rinse_recovery=np.array([[element.rinse_recovery for element in stages]]),
        soak_recovery=np.array([[element.soak_recovery for element in stages]]),
        soak_every=np.array([[element.soak_every_rinses for element in stages]]),
        rinse_cost=np.array([[rinse_price(element, prices) for element in stages]]),
        soak_cost=np.array([[soak_price(element, prices) for element in stages]]),
        replace_cost=np.array([[element.price + prices.disposal_each for element in stages]]),
        replace_share=0.2,
    )


def _endless(followed: Followed, until_days: float) -> Any:
    """Follow an option that is never replaced for being rinsed often enough."""
    stages = len(followed.entry.option.stages)
    most = np.full((1, stages), np.iinfo(np.int64).max)
    return follow(followed.runner, _care(followed), np.array([0]), most, np.zeros(1), until_days)


def test_what_a_rinse_leaves_shortens_the_next_run() -> None:
    """Full at 5 g, a rinse takes off 80 %: room for 5 g in run 1, 4 g in runs 2 to 4, after the soak 4.5 g in run 5."""
    services = _endless(_followed(SHEET), 100.0)
    days = services.days[:, 0]
    assert days[1:4] / days[0] == pytest.approx([0.8, 0.8, 0.8], rel=0.01)
    assert days[4] / days[0] == pytest.approx(0.9, rel=0.01)
    assert days[5] / days[0] == pytest.approx(0.8, rel=0.01)


def test_a_soak_follows_every_fourth_rinse() -> None:
    """Rinses come after each run; the fourth, eighth and so on with a soak."""
    services = _endless(_followed(SHEET), 100.0)
    assert len(services.days) > 8
    assert services.rinsed[:, 0, 0].all()
    assert np.flatnonzero(services.soaked[:, 0, 0])[:2].tolist() == [3, 7]


def test_no_soak_where_none_is_wanted() -> None:
    """With soak_every_rinses = 0 every rinse leaves the same, and every later run is as long."""
    services = _endless(_followed(SHEET | {"soak_every_rinses": 0}), 60.0)
    assert not services.soaked.any()
    assert services.days[1:, 0] / services.days[0, 0] == pytest.approx(0.8, rel=0.01)


def test_a_stage_of_its_own_counts_its_own_rinses() -> None:
    """Two stages rinsed at every service are soaked by their own counts: every second and every third rinse."""
    foam = FOAM | {"soak_every_rinses": 2}
    services = _endless(_followed(foam, SHEET | {"soak_every_rinses": 3}), 100.0)
    assert np.flatnonzero(services.soaked[:, 0, 0])[:3].tolist() == [1, 3, 5]
    assert np.flatnonzero(services.soaked[:, 0, 1])[:2].tolist() == [2, 5]


def test_a_run_is_cut_at_the_discard_age() -> None:
    """An element is discarded on the day of its age, however long the run has lasted; then all begins anew."""
    followed = _followed(SHEET, needs={"discard_after": "10 day"})
    services = _endless(followed, 100.0)
    counted = services.counted[:, 0]
    assert services.days[counted, 0].sum() == pytest.approx(10.0, abs=1e-6)
    assert services.replaced[counted, 0, 0].tolist() == [*([False] * (counted.sum() - 1)), True]
    assert not services.rinsed[counted, 0, 0][-1]
    assert services.renewed[0]


def test_the_calendar_ends_a_run() -> None:
    """Rinsed every three days whatever the flow: nineteen rinses, then discarded on day 60."""
    followed = _followed(
        SHEET | {"dirt_capacity": "100 g"}, needs={"rinse_at_least_every": "3 day", "discard_after": "60 day"}
    )
    services = _endless(followed, 100.0)
    assert services.days[:, 0] == pytest.approx(np.full(20, 3.0))
    assert services.rinsed[:, 0, 0].sum() == 19
    first = first_runs(followed.runner, np.array([0]))
    assert (first.days[0], first.limit[0]) == (3.0, "time limit")


def test_what_cannot_be_rinsed_has_a_calendar_of_its_own() -> None:
    """A wound element is replaced after its own longest time, a sheet rinsed after the other."""
    wound = {"name": "Wound", "kind": "depth", "size": "10 x 4.5 in", "rating": "50 um", "price": 5}
    needs = {"rinse_at_least_every": "2 day", "replace_at_least_every": "5 day"}
    alone = _followed(wound, needs=needs).schedule.services
    assert alone.days[:, 0] == pytest.approx([5.0])
    assert alone.replaced[:, 0, 0].tolist() == [True]


def test_number_of_rinses_is_that_of_least_cost() -> None:
    """The count chosen has the least (price + rinses) over time of all counts, worked out run by run here."""
    followed = _followed(
        SHEET | {"rinse_recovery": 0.6, "soak_every_rinses": 0, "price": 3}, needs={"discard_after": "90 day"}
    )
    runs = _endless(followed, 90.0).days[:, 0]
    rinse = 0.020 * 4.0
    replace = 3.0 + 0.5
    rates = [(replace + rinse * n) / runs[: n + 1].sum() for n in range(len(runs))]
    chosen = int(followed.schedule.services.rinsed[:, 0, 0].sum())
    assert rates[chosen] == pytest.approx(min(rates), rel=1e-12)
    assert float(followed.schedule.rates.cost_per_day[0]) == pytest.approx(min(rates), rel=1e-9)
    assert float(followed.schedule.rates.replaced_per_day[0, 0]) == pytest.approx(
        1.0 / runs[: chosen + 1].sum(), rel=1e-9
    )


def test_shortest_run_left_out_is_half_the_first_and_at_least_three_days() -> None:
    """Left out: half the first run, at least 3 days, no more than 0.8 of it but a day; stated: as stated."""
    followed = _followed(SHEET)
    first = np.array([0.5, 2.0, 5.0, 10.0])
    assert shortest_run_days(followed.runner, first).tolist() == [0.0, 0.0, 0.0, 0.0]
    data = followed.data
    needs = {key: value for key, value in data["needs"].items() if key != "shortest_run"}
    study = study_of(data | {"needs": needs})
    runner = runner_of(study, [entry_of(study, study.options[0], study.pumps[0])])
    assert shortest_run_days(runner, first).tolist() == [1.0, 1.6, 3.0, 5.0]
    study = study_of(data | {"needs": needs | {"shortest_run": "4 day"}})
    runner = runner_of(study, [entry_of(study, study.options[0], study.pumps[0])])
    assert shortest_run_days(runner, first).tolist() == [4.0, 4.0, 4.0, 4.0]


@pytest.mark.parametrize(("shortest", "rinses"), [("90 %", 0), ("70 %", 99), ("0 %", 99)])
def test_no_run_until_replacing_is_shorter_than_the_owner_wants(shortest: str, rinses: int) -> None:
    """A rinse that leaves a fifth: runs of 80 % are not allowed above that share of the first, and allowed below."""
    dear = SHEET | {"price": 500, "soak_every_rinses": 0}
    first = float(first_runs(_followed(dear).runner, np.array([0])).days[0])
    least = float(shortest.split(maxsplit=1)[0]) / 100.0 * first
    followed = _followed(dear, needs={"shortest_run": f"{least:.6f} day", "discard_after": "80 day"})
    services, rates = followed.schedule.services, followed.schedule.rates
    assert float(rates.shortest_days[0]) >= least * (1.0 - 1e-6)
    done = int(services.rinsed[:, 0, 0].sum())
    assert done == 0 if rinses == 0 else done > 3


def _mixed(rating_um: int) -> Followed:
    """Schedule a wound element before a sheet whose need is the flow."""
    wound = {"name": "Wound", "kind": "depth", "size": "20 x 4.5 in", "rating": f"{rating_um} um", "price": 5}
    sheet = SHEET | {"rating": "5 um"}
    del sheet["dirt_capacity"]
    return _followed(wound, sheet, needs={"turnovers_per_hour": 3, "discard_after": "365 day"})


@pytest.mark.parametrize("rating_um", [20, 50, 100])
def test_a_stage_is_replaced_from_a_fifth_of_the_extra_loss(rating_um: int) -> None:
    """At the first service the wound stage goes if it carries a fifth of the extra loss, by the slow solver's count."""
    followed = _mixed(rating_um)
    _, case = next(cases_of(followed.data))
    plant = slow_solver.plant_of(case)
    new = slow_solver.new_filter(plant)
    limits = slow_solver.limits_of(case, slow_solver.moment(plant, new))
    _, _, due = slow_solver.run(plant, limits, 1e-6)
    flow, loaded = slow_solver.flow_and_losses(plant, due)
    clean = []
    for element in plant.elements:
        factors = slow_solver.layers_loss_factors(element, 0.0 * element.layer_volume_m3, plant.rho)
        clean.append(slow_solver.stage_loss_pa(flow, *factors, 0.0, plant.mu))
    extra = np.array(loaded) - np.array(clean)
    share = extra[0] / extra.sum()
    assert abs(share - 0.2) > 0.01
    services = followed.schedule.services
    assert bool(services.replaced[0, 0, 0]) is bool(share >= 0.2)
    assert services.rinsed[0, 0, 1] or services.replaced[0, 0, 1]
    assert not services.rinsed[:, 0, 0].any()


def test_stages_that_stay_keep_their_deposit() -> None:
    """What is neither rinsed nor replaced goes on from where it was: the next run starts with its deposit."""
    followed = _mixed(100)
    services, runner, rows = followed.schedule.services, followed.runner, np.array([0])
    assert not services.replaced[0, 0, 0]
    first = first_runs(runner, rows).when_due
    start = runner.state_after(rows, services.used_days[1], services.extra_cake_kg[1], np.zeros(1))
    assert start.layer_kg[0, 0] == pytest.approx(first.layer_kg[0, 0], rel=1e-4)
    left = 1.0 - followed.entry.option.stages[1].rinse_recovery
    assert start.layer_kg[0, 1] == pytest.approx(left * first.layer_kg[0, 1], rel=1e-3)
    assert start.cake_kg[0, 1] == pytest.approx(left * first.cake_kg[0, 1], rel=1e-3)


BUSY = {"uses_per_day": 12, "disinfectant": "none"}
BARE = {"soak_every_rinses": 0}
TRAINS = {
    "foam keeps much": (
        (FOAM | {"rinse_recovery": 0.6}, SHEET),
        {"discard_after": "40 day"},
        {"uses_per_day": 12},
    ),
    "both keep half": (
        (SHEET | {"rinse_recovery": 0.5, "price": 6}, FOAM | {"rinse_recovery": 0.5, "price": 3}),
        {"discard_after": "30 day"},
        {},
    ),
    "sheet keeps most": (
        (SHEET | BARE | {"rinse_recovery": 0.4}, FOAM | {"price": 30}),
        {"discard_after": "30 day"},
        {},
    ),
    "short runs not wanted, sheet dear": (
        (
            FOAM | {"rinse_recovery": 0.62, "soak_price": 1.2, "price": 29.2, "pores_per_inch": 45},
            SHEET | {"rinse_recovery": 0.78, "soak_every_rinses": 2, "price": 14.9, "dirt_capacity": "50 g"},
        ),
        {"discard_after": "90 day", "shortest_run": "8 day", "turnovers_per_hour": 3},
        BUSY,
    ),
    "short runs not wanted, sheet cheap": (
        (
            SHEET | BARE | {"rinse_recovery": 0.31, "price": 3.4, "dirt_capacity": "50 g"},
            FOAM | {"rinse_recovery": 0.82, "soak_every_rinses": 2, "price": 26, "area": "0.0128 m^2"},
        ),
        {"discard_after": "60 day", "shortest_run": "3 day", "turnovers_per_hour": 3, "rinse_at_least_every": "14 day"},
        BUSY,
    ),
    "sheet cheap, foam dear": (
        (
            SHEET | {"rinse_recovery": 0.66, "soak_recovery": 0.7, "price": 3.2, "dirt_capacity": "50 g"},
            FOAM | BARE | {"rinse_recovery": 0.81, "price": 26.1, "area": "0.0105 m^2"},
        ),
        {"discard_after": "90 day", "shortest_run": "3 day", "turnovers_per_hour": 3, "rinse_at_least_every": "14 day"},
        BUSY,
    ),
}


@pytest.mark.parametrize("name", TRAINS)
def test_counts_of_a_train_are_the_best_of_all(name: str) -> None:
    """Of all pairs of counts of a train of two that can be rinsed, none costs 2 % less than the pair chosen."""
    elements, needs, tub = TRAINS[name]
    followed = _followed(*elements, needs=needs, tub=tub)
    runner, care, rows = followed.runner, _care(followed), np.array([0])
    oldest = followed.study.needs.discard_days
    shortest = shortest_run_days(runner, first_runs(runner, rows).days)
    chosen = best_most_runs(runner, care, rows, shortest, 2.0 * oldest)
    most = round(oldest / max(shortest[0], 2.5)) + 1
    pairs = np.array(list(product(range(1, most + 1), repeat=2)))
    all_rows = np.zeros(len(pairs), dtype=np.intp)
    tried = rates_of(follow(runner, care, all_rows, pairs, shortest[all_rows], 2.0 * oldest), care, all_rows)
    best = rates_of(follow(runner, care, rows, chosen, shortest, 2.0 * oldest), care, rows)
    allowed = tried.shortest_days >= shortest[0]
    assert allowed.any()
    assert float(best.shortest_days[0]) >= shortest[0]
    assert float(best.cost_per_day[0]) <= 1.02 * tried.cost_per_day[allowed].min()


@pytest.mark.parametrize("limit_days", [25, 30, 45])
def test_the_age_of_one_stage_does_not_spend_another(limit_days: int) -> None:
    """A run cut short because a wound element is old is no short run: the sheet behind it is rinsed on."""
    data = demo_data("freezer")
    data["needs"] |= {"replace_at_least_every": f"{limit_days} day", "see_through": "1 m"}
    wound, sheet = (
        next(one for one in data["elements"] if one["name"] == name) for name in ("Wound 100", "Pleated 20")
    )
    wound["size"] = "20 x 4.5 in"
    data |= {"elements": [wound, sheet], "options": [{"name": "both", "stages": ["Wound 100", "Pleated 20"]}]}
    (answer,) = compare(study_of(data)).options
    first, second = answer.stages
    assert first.life_days == pytest.approx(limit_days, rel=1e-6)
    assert (second.rinses_before_replacing or 0) > 10
    assert (second.life_days or 0.0) > 300.0


def test_a_full_stage_that_cannot_be_rinsed_is_replaced() -> None:
    """A wound element full at 1 g goes at that service however little it chokes, and no run has no days."""
    wound = {"name": "Wound", "kind": "depth", "size": "20 x 4.5 in", "rating": "100 um", "dirt_capacity": "1 g"}
    sheet = SHEET | {"rating": "5 um", "rinse_recovery": 0.3, "dirt_capacity": "50 g"}
    followed = _followed(wound, sheet, needs={"shortest_run": "1 day", "discard_after": "365 day"})
    services, rates = followed.schedule.services, followed.schedule.rates
    first = first_runs(followed.runner, np.array([0]))
    assert first.limit[0] == "full"
    assert services.replaced[0, 0, 0]
    assert float(rates.shortest_days[0]) > 1.0


def test_a_rinse_that_takes_nothing_off_ends() -> None:
    """Where neither rinse nor soak takes anything off, the element is replaced when it is due."""
    followed = _followed(SHEET | {"rinse_recovery": 0, "soak_every_rinses": 0}, needs={"shortest_run": "3 day"})
    assert followed.schedule.services.replaced[:, 0, 0].tolist() == [True]


def test_rates_of_a_sequence_that_renews_itself() -> None:
    """Runs of one life over and over: rates are counts over its length, the cost what they cost."""
    followed = _followed(SHEET, needs={"discard_after": "40 day"})
    care, rows = _care(followed), np.array([0])
    services = follow(followed.runner, care, rows, np.array([[3]]), np.zeros(1), 1000.0)
    assert services.replaced[:, 0, 0].tolist() == [False, False, True]
    length = services.days[:, 0].sum()
    rates = rates_of(services, care, rows)
    assert float(rates.services_per_day[0]) == pytest.approx(3.0 / length, rel=1e-12)
    assert float(rates.rinsed_per_day[0, 0]) == pytest.approx(2.0 / length, rel=1e-12)
    cost = (20.0 + 0.5 + 2.0 * 0.020 * 4.0) / length
    assert float(rates.cost_per_day[0]) == pytest.approx(cost, rel=1e-12)
    assert float(rates.shortest_days[0]) == services.days[:, 0].min()


def test_a_train_renews_itself_only_when_all_is_new() -> None:
    """Stages replaced after two and after three runs are all new at once after six."""
    followed = _followed(FOAM, SHEET)
    services = follow(followed.runner, _care(followed), np.array([0]), np.array([[2, 3]]), np.zeros(1), 1000.0)
    assert services.renewed[0]
    assert len(services.days) == 6
    assert np.flatnonzero(services.replaced[:, 0, 0]).tolist() == [1, 3, 5]
    assert np.flatnonzero(services.replaced[:, 0, 1]).tolist() == [2, 5]


def test_what_a_rinse_leaves_grows() -> None:
    """What a rinse left on the face grows by 2 % a day at 4 degC beside what comes in (model.md, section 8)."""
    followed = _followed(SHEET, tub={"disinfectant": "none"})
    runner, rows = followed.runner, np.array([0])
    grown = [
        float(runner.state_after(rows, np.zeros((1, 1)), np.full((1, 1), 1e-3), np.array([day])).cake_kg[0, 0])
        - float(runner.state_after(rows, np.zeros((1, 1)), np.zeros((1, 1)), np.array([day])).cake_kg[0, 0])
        for day in (0.0, 1.0, 2.0)
    ]
    assert grown == pytest.approx([1e-3, 1e-3 * np.exp(0.02), 1e-3 * np.exp(0.04)], rel=1e-9)


def test_an_element_that_lasts_little_is_rinsed_rather_than_thrown_away() -> None:
    """Full after some 2 days, nine tenths of which a rinse brings back: rinsed for long, not replaced each time."""
    sheet = SHEET | {"rinse_recovery": 0.9, "soak_every_rinses": 0, "dirt_capacity": "2 g"}
    data = _followed(sheet).data
    first = float(_followed(sheet).schedule.first.days[0])
    data["tub"]["uses_per_day"] = data["tub"]["uses_per_day"] * first / 2.0
    del data["needs"]["shortest_run"]
    study = study_of(data)
    entry = entry_of(study, study.options[0], study.pumps[0])
    schedule = schedule_of(study, [entry], runner_of(study, [entry]))
    assert schedule is not None
    assert schedule.first.days[0] < 3.0
    assert int(schedule.services.rinsed[:, 0, 0].sum()) > 20
