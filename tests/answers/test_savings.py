"""What would save most in a year: the figures of a compare with the same keys, within the floors and the needs."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from random_studies import random_study
from studies import Given, answered, central, changed, demo_data, study_of

from filtration import InputError, OptionAnswer, Saving, Savings, savings
from filtration.answers.cheaper import largest_saving
from filtration.base.defaults import UNKNOWNS, model
from filtration.base.draws import Belief
from filtration.base.places import demo_names
from filtration.cli.common import set_in
from filtration.study.believed import with_belief

DEMOS = demo_names()
PRIVATE = ("barrel", "freezer")
SEEDS = range(12)


@cache
def saved(demo: str) -> Savings:
    return savings(answered(demo_data(demo)))


def every(found: Savings) -> list[Saving]:
    return [*found.changes, *([found.together] if found.together else [])]


def by_kind(found: Savings) -> dict[str, Saving]:
    return {each.kind: each for each in found.changes}


def with_settings(data: Given, saving: Saving) -> OptionAnswer:
    """Return the figures that the central case of a compare has of the option with the same keys set."""
    there = central(study_of(set_in(data, saving.settings)))
    return next(option for option in there.options if option.id == saving.then.id)


def alike(option: OptionAnswer) -> OptionAnswer:
    """Return an option's own figures, without what comes from the others beside it."""
    return replace(option, choice_cost_per_year=None, sureness=None)


@pytest.mark.parametrize("demo", DEMOS)
def test_figures_are_those_of_compare_with_the_same_keys(demo: str) -> None:
    """To the last digit, all figures of the option."""
    found = saved(demo)
    now = found.now
    assert now is not None
    assert now == answered(demo_data(demo)).advised
    for saving in every(found):
        assert alike(with_settings(demo_data(demo), saving)) == alike(saving.then)
        assert saving.saves_per_year == (now.cost_per_year.total or 0.0) - saving.cost_per_year


@pytest.mark.parametrize("demo", PRIVATE)
def test_private_tubs_have_something_to_save_and_what_to_mind(demo: str) -> None:
    found = saved(demo)
    assert found.changes[0].kind == "hours"
    assert all(each.cautions for each in found.changes)
    assert "residual" in by_kind(found)["hours"].cautions
    assert ("frost" in by_kind(found)["hours"].cautions) == (demo == "freezer")  # the barrel stands indoors
    assert [each.saves_per_year for each in found.changes] == sorted(
        (each.saves_per_year for each in found.changes), reverse=True
    )
    assert found.together is not None
    assert found.together.saves_per_year > found.changes[0].saves_per_year
    assert set(found.changes[0].settings) <= set(found.together.settings)


def holds(found: Savings) -> None:
    """Check that each saves, meets the needs and keeps within the floors."""
    study = found.study
    for each in every(found):
        assert each.saves_per_year > 0.0
        assert each.meets_needs
        assert not each.then.reasons
        assert each.see_through_worst_m >= study.needs.see_through_m * (1.0 - 1e-6)
        hours = [float(setting.rpartition("=")[2]) for setting in each.settings if "hours_per_day" in setting]
        for few in hours:
            assert few >= model("advice.least_hours")
            volumes = few * (each.then.due_flow_l_per_h or 0.0) / (1e3 * study.tub.volume_m3)
            assert volumes >= model("advice.least_volumes_a_day")
            assert study.disinfectant != "kept"
            assert not study.shared_with_public
        lives = [float(setting.split("=")[1].split()[0]) for setting in each.settings if "water_change" in setting]
        for life in lives:
            assert life <= (study.water_rule_days if study.shared_with_public else model("water.life_most"))


@pytest.mark.parametrize("demo", DEMOS)
def test_demos_keep_within_floors_and_needs(demo: str) -> None:
    holds(saved(demo))


@pytest.mark.parametrize("seed", SEEDS)
def test_random_tubs_keep_within_floors_and_needs(seed: int) -> None:
    found = savings(answered(random_study(seed)))
    holds(found)
    assert largest_saving(answered(random_study(seed))) == (found.changes[0] if found.changes else None)


@pytest.mark.parametrize("told", [{"tub.disinfectant": "kept"}, {"tub.shared_with_public": True}])
def test_no_fewer_hours_where_a_residual_is_kept_or_the_public_bathes(told: Given) -> None:
    assert "hours" in by_kind(savings(answered(changed({}))))
    assert "hours" not in by_kind(savings(answered(changed(told))))


def test_the_public_is_offered_no_older_water_than_the_rule_and_no_lesser_need() -> None:
    told = {"tub.shared_with_public": True, "tub.uses_per_day": 1, "tub.water_change_every": "30 day"}
    found = by_kind(savings(answered(changed(told))))
    assert not found.keys() & {"hours", "turnovers", "time limit"}
    assert found["water"].after == "36 day"  # 111 US gallons over 3


def test_hours_turn_over_four_volumes_a_day() -> None:
    """A weak pump in a large tub: eight hours would not do."""
    told = {"tub.volume": "2 m^3", "needs.turnovers_per_hour": 0.2, "tub.depth": "0.4 m", "prices.water_per_m3": 0}
    found = savings(answered(changed(told | {"pump.max_flow": "900 L/h", "pump.shutoff_head": "1.5 m"})))
    holds(found)
    assert by_kind(found)["hours"].after == 13


def test_pumps_named_in_a_list_have_keys_of_their_own() -> None:
    data = changed({})
    pump = data.pop("pump")
    for names in (("Only",), ("Large", "Small one")):
        sizes = dict(zip(names, ("38 W", "30 W"), strict=False))
        data["pumps"] = [pump | {"name": name, "power": power} for name, power in sizes.items()]
        found = savings(answered(data))
        assert found.now is not None
        assert by_kind(found)["hours"].settings == (f"pumps.{found.now.pump}.hours_per_day=8",)
        assert alike(with_settings(data, found.changes[0])) == alike(found.changes[0].then)


def test_another_pump_is_of_those_named() -> None:
    data = changed({})
    pump = data.pop("pump")
    data["pumps"] = [pump | {"name": "Large"}, pump | {"name": "Small", "power": "20 W"}]
    found = savings(answered(data), "pleated-20@Large")
    saving = by_kind(found)["pump"]
    assert (saving.key, saving.before, saving.after, saving.settings) == ("pumps", "Large", "Small", ())
    assert alike(saving.then) == alike(answered(data).option("pleated-20@Small"))
    assert found.together is not None
    assert found.together.then.pump == "Small"
    assert found.together.settings[0] == "pumps.Small.hours_per_day=8"


def test_a_larger_cartridge_has_its_price_in_the_study_else_a_guess() -> None:
    """Thrown away often, a long one costs less."""
    spun = {"name": "Spun 20", "kind": "spun", "size": "10 x 2.5 in", "rating": "20 um", "price": 9}
    long = spun | {"name": "Spun 20 long", "size": "20 x 2.5 in", "price": 9.5}
    alone = {"elements": [spun], "tub.uses_per_day": 14, "needs.replace_at_least_every": "never"}
    guess = by_kind(savings(answered(changed(alone)))).get("size")
    assert guess is None or "guessed price" in guess.cautions
    found = by_kind(savings(answered(changed(alone | {"elements": [spun, long]})), "spun-20"))["size"]
    assert found.settings == ("elements.Spun 20.size=20 x 2.5 in", "elements.Spun 20.price=9.5")
    assert found.cautions == ("housing",)


def test_a_need_eased_a_little_where_it_ends_the_run() -> None:
    limit = by_kind(savings(answered(changed({"tub.uses_per_day": 1}))))
    assert (limit["time limit"].key, limit["time limit"].after) == ("needs.rinse_at_least_every", "21 day")
    assert "turnovers" not in limit
    flow = {"prices.own_time_per_hour": 20, "needs.rinse_at_least_every": "never", "tub.uses_per_day": 12}
    found = by_kind(savings(answered(changed(flow))))
    assert (found["turnovers"].before, found["turnovers"].after) == (3.0, 2.5)
    stated = by_kind(savings(answered(changed(flow | {"needs.flow": "1260 L/h"}))))
    assert "turnovers" not in stated


def test_readings_are_kept_in_mind() -> None:
    """A study seen by readings is set otherwise in their light."""
    data = changed({})
    belief = Belief(mean=np.full(len(UNKNOWNS), 0.3), covariance=np.eye(len(UNKNOWNS)))
    seen = savings(with_belief(study_of(data), belief))
    for saving in every(seen):
        there = central(with_belief(study_of(set_in(data, saving.settings)), belief))
        assert alike(there.options[0]) == alike(saving.then)
    unseen = savings(answered(data))
    assert seen.changes[0].then != unseen.changes[0].then


def test_unknown_options_are_named() -> None:
    with pytest.raises(InputError, match="the nearest is 'pleated-20'"):
        savings(answered(changed({})), "pleated-2")


def test_nothing_is_saved_where_nothing_meets_the_needs() -> None:
    found = savings(answered(changed({"needs.turnovers_per_hour": 50})))
    assert (found.now, found.changes, found.together) == (None, (), None)
    assert found.table().empty


@pytest.mark.parametrize("demo", DEMOS)
def test_the_largest_is_the_first(demo: str) -> None:
    changes = saved(demo).changes
    assert largest_saving(answered(demo_data(demo))) == (changes[0] if changes else None)


def test_the_table_has_a_row_each() -> None:
    found = saved("freezer")
    table = found.table()
    assert list(table["saves_per_year"]) == [each.saves_per_year for each in every(found)]
    assert tuple(table.iloc[0][["key", "from", "to"]]) == ("pump.hours_per_day", 24.0, 8)
    assert "<table" in found._repr_html_()
