"""Runs strung together, against sums a reader can do by hand."""

from itertools import product

import numpy as np
import pytest
import slow_solver
from slow_solver_cases import cases_of
from studies import DIRT_ALONE, Given, demo_data, study_of

from filtration import compare
from filtration.answers.figures import FirstRun, Followed, follow
from filtration.base.arrays import Array, Counts, Flags
from filtration.base.cases import taken
from filtration.base.draws import central_factors
from filtration.loading.assembly import entry_of
from filtration.service.care import ENDLESS, Care, care_of
from filtration.service.lives import Life, Rates, rates_of
from filtration.service.visits import KINDS, Services, Visits
from filtration.service.walk import walk_services

# A sheet that is full at 5 g, in a tub whose dirt comes evenly and does not grow: the deposit is the clock, and
# each run lasts as long as the room that the rinse before it made.
SHEET: Given = {
    "name": "Sheet",
    "kind": "pleated",
    "size": "10 x 2.5 in",
    "rating": "20 um",
    "dirt_capacity": "5 g",
    "dirt_capacity_dust": "like the tub's",
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


def _data(*elements: Given, stages: list[str] | None = None, **tables: Given) -> Given:
    """Put one option in a tub whose deposit does not grow, with no limit but what ``needs`` says."""
    data = demo_data("freezer")
    data["tub"] |= {"disinfectant": "kept"} | tables.pop("tub", {})
    data["needs"] = DIRT_ALONE | {"discard_after": "200 day"} | tables.pop("needs", {})
    data["elements"] = list(elements)
    data["options"] = [{"name": "only", "stages": stages or [element["name"] for element in elements]}]
    data |= {key: data.get(key, {}) | table for key, table in tables.items()}
    return data


def _followed_in(data: Given) -> Followed:
    """Follow the one option of a study."""
    study = study_of(data)
    (followed,) = follow(study, [entry_of(study, study.options[0], study.pumps[0])])
    return followed


def _followed(*elements: Given, stages: list[str] | None = None, **tables: Given) -> Followed:
    """Follow one option in a tub as ``_data`` has it."""
    return _followed_in(_data(*elements, stages=stages, **tables))


def _life(followed: Followed) -> Life:
    """Return the life of an option that runs."""
    assert followed.life is not None
    return followed.life


def _first(followed: Followed) -> FirstRun:
    """Return the first run of an option that runs."""
    assert followed.first is not None
    return followed.first


def _with_counts(followed: Followed, *counts: int) -> Care:
    """Return how an option is looked after that is replaced after other numbers of runs than cost least."""
    return care_of(followed.study, followed.entry.option, central_factors(), counts)


def _walked(followed: Followed, until_days: float, *counts: int) -> Visits:
    """Walk an option whose stages are replaced after so many runs until all is new at once."""
    care = _with_counts(followed, *counts)
    return walk_services(_life(followed).tables, care, until=until_days, to_renewal=True)


def _endless(followed: Followed, until_days: float) -> Services:
    """Walk an option that is never replaced for being rinsed often enough."""
    return _walked(followed, until_days, *[ENDLESS] * len(followed.entry.option.stages)).services()


def _done(services: Services, what: str, stage: int = 0) -> Flags:
    """Return at which services (k,) of the one case something is done to a stage."""
    return services.done[:, KINDS.index(what), stage, 0]


def _long_run(followed: Followed, counts: Counts) -> tuple[Rates, Array]:
    """Return the averages and the cost a day of a train, its stages replaced after other numbers of runs (t, s)."""
    rows = np.zeros(len(counts), dtype=np.intp)
    care = taken(_life(followed).care, rows, 1).with_counts(counts.T)
    until = 2.0 * followed.study.needs.discard_days
    rates = rates_of(walk_services(_life(followed).tables.of(rows), care, until=until, to_renewal=True), care.most_runs)
    return rates, rates.cost_per_day(care)


def test_what_a_rinse_leaves_shortens_the_next_run() -> None:
    """Full at 5 g, a rinse takes off 80 %: room for 5 g in run 1, 4 g in runs 2 to 4, after the soak 4.5 g in run 5."""
    services = _endless(_followed(SHEET), 100.0)
    days = services.length_days[:, 0]
    assert days[1:4] / days[0] == pytest.approx([0.8, 0.8, 0.8], rel=0.01)
    assert days[4] / days[0] == pytest.approx(0.9, rel=0.01)
    assert days[5] / days[0] == pytest.approx(0.8, rel=0.01)


def test_a_soak_follows_every_fourth_rinse() -> None:
    """Rinses come after each run; the fourth, eighth and so on with a soak."""
    services = _endless(_followed(SHEET), 100.0)
    assert len(services.day) > 8
    assert _done(services, "rinse").all()
    assert np.flatnonzero(_done(services, "soak"))[:2].tolist() == [3, 7]


def test_no_soak_where_none_is_wanted() -> None:
    """With soak_every_rinses = 0 every rinse leaves the same, and every later run is as long."""
    services = _endless(_followed(SHEET | {"soak_every_rinses": 0}), 60.0)
    assert not _done(services, "soak").any()
    assert services.length_days[1:, 0] / services.length_days[0, 0] == pytest.approx(0.8, rel=0.01)


def test_a_stage_of_its_own_counts_its_own_rinses() -> None:
    """Two stages rinsed at every service are soaked by their own counts: every second and every third rinse."""
    foam = FOAM | {"soak_every_rinses": 2}
    services = _endless(_followed(foam, SHEET | {"soak_every_rinses": 3}), 100.0)
    assert np.flatnonzero(_done(services, "soak", 0))[:3].tolist() == [1, 3, 5]
    assert np.flatnonzero(_done(services, "soak", 1))[:2].tolist() == [2, 5]


def test_a_run_is_cut_at_the_discard_age() -> None:
    """An element is discarded on the day of its age, however long the run has lasted; then all begins anew."""
    followed = _followed(SHEET, needs={"discard_after": "10 day"})
    services = _endless(followed, 100.0)
    counted = services.counted[:, 0]
    assert services.length_days[counted, 0].sum() == pytest.approx(10.0, abs=1e-6)
    assert _done(services, "replace")[counted].tolist() == [*([False] * (counted.sum() - 1)), True]
    assert not _done(services, "rinse")[counted][-1]
    assert services.renewed[0]


def test_the_calendar_ends_a_run() -> None:
    """Rinsed every three days whatever the flow: nineteen rinses, then discarded on day 60."""
    followed = _followed(
        SHEET | {"dirt_capacity": "100 g"}, needs={"rinse_at_least_every": "3 day", "discard_after": "60 day"}
    )
    services = _endless(followed, 100.0)
    assert services.length_days[:, 0] == pytest.approx(np.full(20, 3.0))
    assert _done(services, "rinse").sum() == 19
    first = _first(followed)
    assert (first.days, first.limit) == (3.0, "time limit")


def test_what_cannot_be_rinsed_has_a_calendar_of_its_own() -> None:
    """A wound element is replaced after its own longest time, a sheet rinsed after the other."""
    wound = {"name": "Wound", "kind": "wound", "size": "10 x 4.5 in", "rating": "50 um", "price": 5}
    needs = {"rinse_at_least_every": "2 day", "replace_at_least_every": "5 day"}
    alone = _life(_followed(wound, needs=needs)).services
    assert alone.length_days[:, 0] == pytest.approx([5.0])
    assert _done(alone, "replace").tolist() == [True]


def test_number_of_rinses_is_that_of_least_cost() -> None:
    """The count chosen has the least (price + rinses) over time of all counts, worked out run by run here."""
    followed = _followed(
        SHEET | {"rinse_recovery": 0.6, "soak_every_rinses": 0, "price": 3}, needs={"discard_after": "90 day"}
    )
    runs = _endless(followed, 90.0).length_days[:, 0]
    rinse = 0.020 * 4.0
    replace = 3.0 + 0.5
    rates = [(replace + rinse * n) / runs[: n + 1].sum() for n in range(len(runs))]
    life = _life(followed)
    chosen = int(_done(life.services, "rinse").sum())
    assert rates[chosen] == pytest.approx(min(rates), rel=1e-12)
    assert float(life.rates.cost_per_day(life.care)[0]) == pytest.approx(min(rates), rel=1e-9)
    assert float(life.rates.replaced_per_day[0, 0]) == pytest.approx(1.0 / runs[: chosen + 1].sum(), rel=1e-9)


def test_shortest_run_left_out_is_half_the_first_and_at_least_three_days() -> None:
    """Left out: half the first run, at least 3 days, no more than 0.8 of it but a day; stated: as stated."""
    data = _data(SHEET)
    first = np.array([0.5, 2.0, 5.0, 10.0])

    def shortest(needs: Given) -> list[float]:
        study = study_of(data | {"needs": needs})
        days: list[float] = care_of(study, study.options[0], central_factors()).shortest_days(first).tolist()
        return days

    assert shortest(data["needs"]) == [0.0, 0.0, 0.0, 0.0]
    needs = {key: value for key, value in data["needs"].items() if key != "shortest_run"}
    assert shortest(needs) == [1.0, 1.6, 3.0, 5.0]
    assert shortest(needs | {"shortest_run": "4 day"}) == [4.0, 4.0, 4.0, 4.0]


@pytest.mark.parametrize(("shortest", "rinses"), [("90 %", 0), ("70 %", 99), ("0 %", 99)])
def test_no_run_until_replacing_is_shorter_than_the_owner_wants(shortest: str, rinses: int) -> None:
    """A rinse that leaves a fifth: runs of 80 % are not allowed above that share of the first, and allowed below."""
    dear = SHEET | {"price": 500, "soak_every_rinses": 0}
    least = float(shortest.split(maxsplit=1)[0]) / 100.0 * _first(_followed(dear)).days
    followed = _followed(dear, needs={"shortest_run": f"{least:.6f} day", "discard_after": "80 day"})
    life = _life(followed)
    assert float(life.rates.shortest_days[0]) >= least * (1.0 - 1e-6)
    done = int(_done(life.services, "rinse").sum())
    assert done == 0 if rinses == 0 else done > 3


def _mixed(rating_um: int) -> Given:
    """Put a wound element before a sheet whose need is the flow."""
    wound = {"name": "Wound", "kind": "wound", "size": "20 x 4.5 in", "rating": f"{rating_um} um", "price": 5}
    sheet = SHEET | {"rating": "5 um"}
    del sheet["dirt_capacity"], sheet["dirt_capacity_dust"]
    return _data(wound, sheet, needs={"turnovers_per_hour": 3, "discard_after": "365 day"})


@pytest.mark.parametrize("rating_um", [20, 50, 100])
def test_a_stage_is_replaced_from_a_fifth_of_the_extra_loss(rating_um: int) -> None:
    """At the first service the wound stage goes if it carries a fifth of the extra loss, by the slow solver's count."""
    data = _mixed(rating_um)
    _, case = next(cases_of(data))
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
    services = _life(_followed_in(data)).services
    assert bool(_done(services, "replace", 0)[0]) is bool(share >= 0.2)
    assert _done(services, "rinse", 1)[0] or _done(services, "replace", 1)[0]
    assert not _done(services, "rinse", 0).any()


def test_stages_that_stay_keep_their_deposit() -> None:
    """What is neither rinsed nor replaced goes on from where it was: the next run starts with its deposit."""
    followed = _followed_in(_mixed(100))
    services, tables = _life(followed).services, _life(followed).tables
    assert not _done(services, "replace", 0)[0]
    before = _first(followed).when_due
    after = tables.deposits(services.used_days[1], services.extra_cake_kg[1], np.zeros(1), tables.all)
    assert after[0].layer_kg == pytest.approx(before[0].layer_kg, rel=1e-4)
    left = 1.0 - followed.entry.option.stages[1].rinse_recovery
    assert after[1].layer_kg == pytest.approx(left * before[1].layer_kg, rel=1e-3)
    assert after[1].cake_kg == pytest.approx(left * before[1].cake_kg, rel=1e-3)


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
    shortest = _life(followed).care.shortest_days(np.array([_first(followed).days]))
    most = round(followed.study.needs.discard_days / max(shortest[0], 2.5)) + 1
    tried, costs = _long_run(followed, np.array(list(product(range(1, most + 1), repeat=2))))
    best, (cost,) = _long_run(followed, _life(followed).care.most_runs.T)
    allowed = tried.shortest_days >= shortest[0]
    assert allowed.any()
    assert float(best.shortest_days[0]) >= shortest[0]
    assert float(cost) <= 1.02 * costs[allowed].min()


@pytest.mark.parametrize("limit_days", [25, 30, 40])
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
    wound = {"name": "Wound", "kind": "wound", "size": "20 x 4.5 in", "rating": "100 um", "dirt_capacity": "10 g"}
    sheet = SHEET | {"rating": "5 um", "rinse_recovery": 0.3, "dirt_capacity": "50 g"}
    followed = _followed(wound, sheet, needs={"shortest_run": "1 day", "discard_after": "365 day"})
    assert _first(followed).limit == "full"
    assert _done(_life(followed).services, "replace")[0]
    assert float(_life(followed).rates.shortest_days[0]) > 1.0


def test_a_rinse_that_takes_nothing_off_ends() -> None:
    """Where neither rinse nor soak takes anything off, the element is replaced when it is due."""
    followed = _followed(SHEET | {"rinse_recovery": 0, "soak_every_rinses": 0}, needs={"shortest_run": "3 day"})
    assert _done(_life(followed).services, "replace").tolist() == [True]


def test_rates_of_a_sequence_that_renews_itself() -> None:
    """Runs of one life over and over: rates are counts over its length, the cost what they cost."""
    followed = _followed(SHEET, needs={"discard_after": "40 day"})
    care, visits = _with_counts(followed, 3), _walked(followed, 1000.0, 3)
    services = visits.services()
    assert _done(services, "replace").tolist() == [False, False, True]
    length = services.length_days[:, 0].sum()
    rates = rates_of(visits, care.most_runs)
    assert float(rates.services_per_day[0]) == pytest.approx(3.0 / length, rel=1e-12)
    assert float(rates.rinsed_per_day[0, 0]) == pytest.approx(2.0 / length, rel=1e-12)
    cost = (20.0 + 0.5 + 2.0 * 0.020 * 4.0) / length
    assert float(rates.cost_per_day(care)[0]) == pytest.approx(cost, rel=1e-12)
    assert float(rates.shortest_days[0]) == services.length_days[:, 0].min()


def test_a_train_renews_itself_only_when_all_is_new() -> None:
    """Stages replaced after two and after three runs are all new at once after six."""
    services = _walked(_followed(FOAM, SHEET), 1000.0, 2, 3).services()
    assert services.renewed[0]
    assert len(services.day) == 6
    assert np.flatnonzero(_done(services, "replace", 0)).tolist() == [1, 3, 5]
    assert np.flatnonzero(_done(services, "replace", 1)).tolist() == [2, 5]


def test_what_a_rinse_leaves_grows() -> None:
    """What a rinse left on the face grows by 2 % a day at 4 degC beside what comes in (model.md, section 8)."""
    tables, one = _life(_followed(SHEET, tub={"disinfectant": "none"})).tables, np.ones((1, 1))

    def cake(extra_kg: float, day: float) -> float:
        (held,) = tables.deposits(tables.new, extra_kg * one, np.array([day]), tables.all)
        return float(held.cake_kg[0])

    grown = [cake(1e-3, day) - cake(0.0, day) for day in (0.0, 1.0, 2.0)]
    assert grown == pytest.approx([1e-3, 1e-3 * np.exp(0.02), 1e-3 * np.exp(0.04)], rel=1e-9)


def test_an_element_that_lasts_little_is_rinsed_rather_than_thrown_away() -> None:
    """Full after some 2 days, nine tenths of which a rinse brings back: rinsed for long, not replaced each time."""
    sheet = SHEET | {"rinse_recovery": 0.9, "soak_every_rinses": 0, "dirt_capacity": "2 g"}
    data = _data(sheet)
    data["tub"]["uses_per_day"] *= _first(_followed_in(data)).days / 2.0
    del data["needs"]["shortest_run"]
    followed = _followed_in(data)
    assert _first(followed).days < 3.0
    assert int(_done(_life(followed).services, "rinse").sum()) > 20
