"""The program against a slow, accurate solver of the same model that shares nothing with it."""

import ast
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import slow_solver
from random_studies import random_answer, random_study
from slow_solver_cases import (
    MIDDLE,
    WORST,
    FirstRun,
    all_differences,
    cases_of,
    even_train,
    first_runs,
    too_far,
    without_time_limits,
)
from studies import answered, demo_data, study_of

from filtration import Comparison, OptionAnswer, compare
from filtration.answers.figures import follow
from filtration.base.places import demo_names
from filtration.loading.assembly import entry_of
from filtration.loading.table import COARSE, FINE

STUDIES_IN_CI = 20
FIRST_RUNS_IN_CI = range(100, 108)


def test_the_slow_solver_shares_nothing_with_the_program() -> None:
    """The reference imports nothing of the program, at any place in its file."""
    tree = ast.parse(Path(slow_solver.__file__).read_text(encoding="utf-8"))
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add("." * node.level + (node.module or "").split(".")[0])
    assert found == {
        "__future__",
        "math",
        "time",
        "collections",
        "dataclasses",
        "typing",
        "numpy",
        "chemicals",
        "scipy",
    }


@pytest.mark.parametrize("seed", range(STUDIES_IN_CI))
def test_random_studies_agree_with_the_slow_solver(seed: int) -> None:
    """Flow, loss, days, deposit, clarity and the limit that governs are the slow solver's."""
    assert not too_far(all_differences(random_study(seed), random_answer(seed)))


@pytest.mark.parametrize("name", demo_names())
def test_demo_studies_agree_with_the_slow_solver(name: str) -> None:
    """The demo tubs, with the defaults of the study file's contract and every option side by side."""
    data = demo_data(name)
    pumps = data.pop("pumps", None) or [data["pump"]]
    for pump in pumps:
        alone = data | {"pump": pump}
        assert not too_far(all_differences(alone, answered(alone)))


@pytest.fixture(scope="module")
def random_first_runs() -> list[FirstRun]:
    """Follow first runs of random options, one to three elements each, that no calendar ends."""
    studies = [study for seed in FIRST_RUNS_IN_CI for study in (random_study(seed), even_train(seed))]
    return [run for study in studies for run in first_runs(without_time_limits(study), FINE, COARSE)]


@pytest.mark.parametrize("kind", ["single", "train"])
@pytest.mark.parametrize("draws", [False, True], ids=["central case", "draws"])
def test_first_runs_agree_with_the_slow_solver(random_first_runs: list[FirstRun], kind: str, *, draws: bool) -> None:
    """Days of first runs that dirt ends, in the middle and at worst, and whether there is one at all."""
    of_kind = [run for run in random_first_runs if run.kind == kind]
    assert not [run for run in of_kind if not run.relative[draws] <= WORST[kind][draws]]
    by_dirt = [run.relative[draws] for run in of_kind if run.theirs > 0.0 and run.governed_by != "time limit"]
    assert len(by_dirt) >= 5
    assert np.median(by_dirt) <= MIDDLE[kind][draws]


# ---- run after run --------------------------------------------------------------------------------------------


def _slow_runs(case: dict[str, Any], soaked: list[bool]) -> list[float]:
    """Follow the slow solver over several runs [day]; after each but the last all is rinsed, and maybe soaked."""
    plant = slow_solver.plant_of(case)
    state = slow_solver.new_filter(plant)
    limits = slow_solver.limits_of(case, slow_solver.moment(plant, state))
    days = []
    for soak in [*soaked, False]:
        day, _, due = slow_solver.run(plant, limits, 1e-6, state)
        days.append(day)
        state = slow_solver.rinsed(plant, due, soaked=soak)
    return days


@pytest.mark.parametrize("stages", [["Pleated 20"], ["Foam 20 ppi"], ["Pleated 5"], ["Foam 20 ppi", "Pleated 20"]])
def test_runs_after_rinses_and_a_soak_agree_with_the_slow_solver(stages: list[str]) -> None:
    """What a rinse leaves counts: six runs, a rinse after each and a soak after the fourth, within 2 %."""
    data = demo_data("freezer")
    data["needs"] |= {"rinse_at_least_every": "never", "discard_after": "1000 day", "see_through": "1 m"}
    data["options"] = [{"name": "only", "stages": stages}]
    study = study_of(data)
    (followed,) = follow(study, [entry_of(study, study.options[0], study.pumps[0])])
    assert followed.life is not None
    services = followed.life.services
    _, case = next(cases_of(data))
    slow = _slow_runs(case, [False, False, False, True, False])
    assert services.counted[: len(slow), 0].all()
    assert services.length_days[: len(slow), 0] == pytest.approx(slow, rel=2e-2)


# ---- common practice, no source: the direction or the band ------------------------------------------------------


def _named(comparison: Comparison) -> dict[str, OptionAnswer]:
    return {answer.name: answer for answer in comparison.options}


def _freezer_with(table: str, **changes: Any) -> dict[str, OptionAnswer]:
    """Answer the freezer tub with a few options and something changed."""
    data = demo_data("freezer")
    data["options"] = [option for option in data["options"] if option["name"] in ("Spun 10", "Pleated 20")]
    return _named(answered(data | {table: data.get(table, {}) | changes}))


@pytest.mark.parametrize("name", ["Spun 1", "Spun 5"])
def test_common_practice_fine_spun_elements_choke_a_small_pump(freezer: Comparison, name: str) -> None:
    """Common practice: 1 and 5 um spun elements cannot hold three turnovers an hour even when clean."""
    answer = _named(freezer)[name]
    assert answer.clean_turnovers_per_hour < 3.0
    assert (answer.days_to_first_service, answer.governed_by, answer.meets_needs) == (0.0, "flow", False)


@pytest.mark.parametrize(("name", "low", "high"), [("Spun 10", 2.0, 7.0), ("Spun 20", 5.0, 9.0)])
def test_common_practice_spun_elements_last_days(freezer: Comparison, name: str, low: float, high: float) -> None:
    """Common practice: a 10 um spun element lasts days, one of 20 um a week or so."""
    assert low <= _named(freezer)[name].days_to_first_service <= high


def test_common_practice_a_pleated_element_costs_little_flow(freezer: Comparison) -> None:
    """Common practice: 20 um pleated takes less than 3 % of the flow when clean and is due in about two weeks."""
    answer, without = _named(freezer)["Pleated 20"], freezer.loops[0].flow_l_per_h[-1]
    assert 0.97 * without < answer.clean_flow_l_per_h < without
    assert 11.0 <= answer.days_to_first_service <= 17.0


def test_common_practice_a_coarse_element_lets_fine_dirt_through(freezer: Comparison) -> None:
    """Common practice: a wound element much coarser than 20 um leaves the water dull."""
    seen = [_named(freezer)[name].see_through_worst_m for name in ("Spun 20", "Wound 50", "Wound 100")]
    assert seen[0] > seen[1] > seen[2]
    assert [reason.kind for reason in _named(freezer)["Wound 100"].reasons] == ["clarity"]


def test_common_practice_foam_alone_leaves_the_water_dull(freezer: Comparison) -> None:
    """Common practice: foam holds hair, not dust: it passes the flow and fails the clarity."""
    answer = _named(freezer)["Foam 20 ppi"]
    assert [reason.kind for reason in answer.reasons] == ["clarity"]
    assert (answer.days_to_first_service, answer.governed_by) == (0.0, "clarity")


def test_common_practice_area_decides_the_interval(freezer: Comparison) -> None:
    """Common practice: twice the pleated area goes more than twice as long."""
    named = _named(freezer)
    assert named["Pleated 20 long"].days_to_first_service > 2.0 * named["Pleated 20"].days_to_first_service


def test_common_practice_rating_hardly_changes_a_pleated_interval(freezer: Comparison) -> None:
    """Common practice: from 10 to 50 um pleated the interval changes by less than a fifth, the clarity by more."""
    fine, coarse = (_named(freezer)[name] for name in ("Pleated 10", "Pleated 50"))
    assert coarse.days_to_first_service == pytest.approx(fine.days_to_first_service, rel=0.2)
    assert fine.see_through_clean_m > 1.2 * coarse.see_through_clean_m


def test_common_practice_warmth_thins_the_water_and_feeds_growth(freezer: Comparison) -> None:
    """Common practice: at 20 degC thinner water lengthens the interval, faster growth shortens it."""
    warmth = freezer.warmth
    assert warmth is not None
    assert warmth.temperature_c == 20.0
    assert warmth.days_faster_growth < warmth.days_now < warmth.days_thinner_water
    assert warmth.days_faster_growth < warmth.days_both < warmth.days_thinner_water


def test_common_practice_every_elbow_costs_flow() -> None:
    """Common practice: with every elbow the flow falls, for every element."""
    answers = [_freezer_with("plumbing", elbows_90=number) for number in range(5)]
    for name in answers[0]:
        flows = [answer[name].clean_flow_l_per_h for answer in answers]
        assert (np.diff(flows) < 0.0).all()


def test_common_practice_a_dry_pump_keeps_its_heat_but_hoses_pick_it_up() -> None:
    """Common practice: a pump outside the water adds less motor heat; its hoses in the air take up heat again."""
    inside, outside = (_freezer_with("pump", placed=placed)["Pleated 20"] for placed in ("in the water", "outside"))
    data = demo_data("freezer")
    long_hoses = data["plumbing"] | {"length_outside": "3 m"}
    dry = compare(study_of(data | {"pump": data["pump"] | {"placed": "outside"}, "plumbing": long_hoses}))
    hoses = _named(dry)["Pleated 20"]
    heat = [answer.warming_k_per_day or 0.0 for answer in (outside, hoses, inside)]
    assert heat[0] < heat[1]
    assert heat[0] < heat[2]
    power = [answer.energy_kwh_per_year.cooling or 0.0 for answer in (outside, hoses, inside)]
    assert power[0] < power[1]
    assert power[0] < power[2]


def test_common_practice_wound_elements_cannot_be_rinsed(freezer: Comparison) -> None:
    """Common practice: wound and spun elements are replaced at every service, pleated ones rinsed."""
    named = _named(freezer)
    for name in ("Spun 10", "Spun 20", "Wound 50"):
        (stage,) = named[name].stages
        assert (stage.service, stage.rinses_before_replacing, stage.rinses_per_year) == ("replace", 0, 0.0)
        assert stage.life_days == pytest.approx(named[name].days_to_first_service, rel=1e-9)
    for name in ("Pleated 10", "Pleated 20", "Pleated 50"):
        (stage,) = named[name].stages
        assert stage.service == "rinse"
        assert (stage.rinses_before_replacing or 0) > 5


def test_common_practice_no_element_gives_the_flow_on_the_box(freezer: Comparison) -> None:
    """Common practice: elbows and filter take their share, so the rated flow must be well above the need."""
    assert all(
        answer.clean_flow_l_per_h < freezer.loops[0].flow_l_per_h[-1] < 0.8 * 2400.0 for answer in freezer.options
    )
