"""Courses of one option, against the slow solver, by hand, and against what must hold."""

import tomllib
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import slow_solver
from hypothesis import given
from hypothesis import strategies as st
from random_studies import random_study
from slow_solver_cases import cases_of, fits
from studies import demo_data, study_of

from filtration import Comparison, InputError, NoAnswerError, OptionAnswer
from filtration.answers.clearness import (
    catch_by_size,
    clearness_of,
    lives_to_show,
    longest_water_life_days,
    views_by_water_life,
)
from filtration.answers.figures import answer_of as figured
from filtration.answers.ranking import central_of
from filtration.answers.series import (
    answer_alone,
    flow_runs,
    flow_runs_at,
    follow_among,
    follow_option,
    loading_of,
)
from filtration.base.draws import ONE_IN_TEN
from filtration.plan.spending import (
    Spending,
    best_of_either_sort,
    bought_in_a_year,
    break_even_day,
    is_reusable,
    own_hours_per_year,
    spending_of,
)
from filtration.service.events import Event
from filtration.study.file import study_from_dict
from filtration.study.text import text_of_tables

SEEDS = range(3)


def figures_of(option: OptionAnswer) -> dict[str, float]:
    """Return an option's numbers, but for the part of its cost that only a comparison knows."""
    numbers = {key: value for key in option.__slots__ if isinstance(value := getattr(option, key), float)}
    numbers.pop("choice_cost_per_year", None)
    return numbers | {"total": option.cost_per_year.total or 0.0, "events": float(len(option.events))}


def test_an_option_alone_has_the_figures_it_has_among_others(demo: Comparison) -> None:
    for option in demo.options[:2]:
        assert figures_of(answer_alone(demo.study, option.id)) == figures_of(option)


@pytest.mark.parametrize("name", ["pleated-20", "wound-50", "foam-then-pleated-20", "spun-1"])
def test_an_option_among_others_takes_the_course_it_takes_alone(freezer: Comparison, name: str) -> None:
    central = central_of(freezer.study)
    among, alone = follow_among(central, name), follow_option(freezer.study, name)
    (answer,) = (option for option in central.options if option.id == name)
    assert figures_of(figured(among)) == figures_of(answer) == figures_of(figured(alone))
    assert flow_runs(among) == flow_runs(alone)
    assert loading_of(among) == loading_of(alone)
    assert catch_by_size(among) == catch_by_size(alone)
    assert clearness_of(among) == clearness_of(alone)


def test_among_others_too_who_moves_no_water_has_no_course_and_nobody_is_told(freezer: Comparison) -> None:
    data = demo_data("freezer")
    data["plumbing"]["static_lift"] = "3 m"
    with pytest.raises(NoAnswerError, match="moves no water"):
        follow_among(central_of(study_from_dict(data)), "pleated-50")
    with pytest.raises(InputError, match="no option has the id or name 'nobody'"):
        follow_among(central_of(freezer.study), "nobody")


def test_no_such_option_is_told(freezer: Comparison) -> None:
    with pytest.raises(InputError, match="option: no option has the id or name 'nobody'; there are '"):
        follow_option(freezer.study, "nobody")


def test_a_pump_that_moves_nothing_has_no_course() -> None:
    data = demo_data("freezer")
    data["plumbing"]["static_lift"] = "3 m"
    study = study_from_dict(data)
    with pytest.raises(NoAnswerError, match="moves no water"):
        follow_option(study, "pleated-50")
    assert answer_alone(study, "pleated-50").clean_flow_l_per_h == 0.0


@pytest.mark.parametrize("name", ["pleated-20", "wound-50", "foam-then-pleated-20"])
def test_flow_falls_in_each_run_and_ends_at_the_wanted_flow(freezer: Comparison, name: str) -> None:
    followed = follow_option(freezer.study, name)
    runs, answer = flow_runs(followed), figured(followed)
    assert runs[0].flow_l_per_h[0] == pytest.approx(answer.clean_flow_l_per_h, rel=1e-6)
    assert runs[0].day[-1] == pytest.approx(answer.days_to_first_service)
    for run in runs:
        assert (np.diff(run.flow_l_per_h) <= 1e-6).all()
    wanted = freezer.wanted_flow_l_per_h
    assert [run.flow_l_per_h[-1] for run in runs[:-1]] == pytest.approx([wanted] * (len(runs) - 1), rel=1e-3)
    assert runs[-1].flow_l_per_h[-1] >= 0.999 * wanted  # the last may end by age
    for run, after in pairwise(runs):
        assert after.day[0] == pytest.approx(run.day[-1])
        assert after.flow_l_per_h[0] > run.flow_l_per_h[-1]
    assert runs[-1].ends_with == "replace"
    assert sum(len(run.day) for run in runs) <= 500


def test_a_life_has_the_rinses_and_soaks_of_the_answer(freezer: Comparison) -> None:
    followed = follow_option(freezer.study, "pleated-20")
    runs, stage = flow_runs(followed), figured(followed).stages[0]
    kinds = [run.ends_with for run in runs]
    assert len(kinds) == (stage.rinses_before_replacing or 0) + 1
    assert runs[-1].day[-1] == pytest.approx(stage.life_days)
    soaks = [place for place, kind in enumerate(kinds, start=1) if kind == "soak"]
    assert soaks == [place for place in range(1, len(kinds)) if place % 4 == 0]  # every fourth rinse, as by default


def test_more_dirt_shortens_the_runs_and_leaves_the_clean_flow(freezer: Comparison) -> None:
    central = flow_runs(follow_option(freezer.study, "pleated-20"))
    dirtier = flow_runs_at(freezer.study, "pleated-20", ONE_IN_TEN)
    cleaner = flow_runs_at(freezer.study, "pleated-20", -ONE_IN_TEN)
    assert dirtier[0].day[-1] < central[0].day[-1] < cleaner[0].day[-1]
    for runs in (dirtier, cleaner):
        assert runs[0].flow_l_per_h[0] == pytest.approx(central[0].flow_l_per_h[0])
    data = demo_data("freezer")  # the same by hand: 1.8 is the default spread of the dirt a dip brings
    more = flow_runs_at(study_from_dict(data | {"uncertainty": {"load_per_dip": 1.0}}), "pleated-20", ONE_IN_TEN)
    assert more[0].day == pytest.approx(central[0].day)


def test_an_option_without_the_flow_never_runs(freezer: Comparison) -> None:
    followed = follow_option(freezer.study, "spun-1")
    assert flow_runs(followed) == ()
    assert len(loading_of(followed).deposit_g) == 1
    new, due = catch_by_size(followed).new, catch_by_size(followed).due
    assert new == due


@pytest.mark.parametrize("name", ["pleated-20", "wound-50", "foam-then-pleated-20"])
def test_the_loss_rises_to_what_the_pump_leaves(freezer: Comparison, name: str) -> None:
    followed = follow_option(freezer.study, name)
    loading, answer = loading_of(followed), figured(followed)
    assert (np.diff(loading.loss_kpa) > 0.0).all()
    assert (np.diff(loading.deposit_g) > 0.0).all()
    assert loading.loss_kpa[-1] == pytest.approx(loading.left_kpa, rel=1e-5)
    assert loading.loss_kpa[-1] == pytest.approx(answer.due_filter_loss_kpa, rel=1e-5)
    assert loading.deposit_g[-1] == pytest.approx(answer.deposit_when_due_g)


def _plants(seed: int) -> list[tuple[str, Any]]:
    data = random_study(seed)
    return [(name, slow_solver.plant_of(case)) for name, case in cases_of(data) if fits(case)]


@pytest.mark.parametrize("seed", SEEDS)
def test_views_over_a_waters_life_are_the_slow_solvers(seed: int) -> None:
    """New elements: before and after each session, with the slow solver's own capture, contents and light."""
    study = study_of(random_study(seed))
    for name, plant in _plants(seed):
        option = next(option for option in study.options if option.name == name)
        followed = follow_option(study, option.id)
        never = replace(followed, first=None)  # new twice over: the slow solver's state is the new one
        seen = clearness_of(never)
        removal = slow_solver.moment(plant, slow_solver.new_filter(plant)).removal_1_day
        tub, sessions = plant.tub, plant.tub["sessions_per_day"]
        for place in {0, len(seen.day) // 2, len(seen.day) - 1}:
            age = seen.day[place]
            aged = tub | {"water_life_days": age}
            after = {kind: slow_solver.content_after(s, removal, age, sessions) for kind, s in plant.load.items()}
            assert seen.after_m[place] == pytest.approx(slow_solver.see_through_m(aged, after), rel=2e-3)
            earlier = age - 1.0 / sessions
            if earlier > 1e-9:
                aged = tub | {"water_life_days": earlier}
                held = {k: slow_solver.content_before(s, removal, earlier, sessions) for k, s in plant.load.items()}
                assert seen.before_m[place] == pytest.approx(slow_solver.see_through_m(aged, held), rel=2e-3)
            assert seen.before_m[place] >= seen.after_m[place]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_catch_by_size_is_the_slow_solvers(seed: int) -> None:
    study = study_of(random_study(seed))
    for name, plant in _plants(seed):
        option = next(option for option in study.options if option.name == name)
        caught = catch_by_size(follow_option(study, option.id))
        through = np.ones(24)
        for element in plant.elements:
            through = through * (1.0 - (1.0 - slow_solver.BYPASS_SHARE) * slow_solver.capture(element, 0.0))
        assert caught.new == pytest.approx(1.0 - through, rel=1e-6, abs=1e-9)
        assert caught.diameter_um == pytest.approx(1e6 * slow_solver.CLASS_M)
        assert all(due >= new - 1e-12 for new, due in zip(caught.new, caught.due, strict=True))


def test_the_last_view_is_the_answers(demo: Comparison) -> None:
    for option in demo.options[:2]:
        seen = clearness_of(follow_option(demo.study, option.id))
        life = demo.study.tub.water_life_days
        if seen.day[-1] == pytest.approx(life):
            assert seen.after_m[-1] == pytest.approx(option.worst_view_m)


def test_the_longest_water_life_gives_just_the_view(freezer: Comparison) -> None:
    followed = follow_option(freezer.study, "pleated-20")
    for view in (2.0, 4.0, 6.0):
        life = longest_water_life_days(followed, view)
        assert views_by_water_life(followed, (life,))[0] == pytest.approx(view, rel=1e-6)
    assert longest_water_life_days(followed, 1e-3) == 365.0
    assert longest_water_life_days(followed, 79.0) == 0.0
    lives = lives_to_show(freezer.study)
    assert lives[0] == 1.0
    assert lives[-1] == 30.0
    assert all(earlier > later for earlier, later in pairwise(views_by_water_life(followed, lives)))


def _event(day: int, amount: float, item: str = "a", what: Any = "buy") -> Event:
    return Event(day=day, what=what, item=item, count=1.0, amount=amount)


def test_spending_adds_up_by_hand() -> None:
    spent = spending_of([_event(0, 5.0), _event(0, 2.0), _event(10, 1.0), _event(400, 3.0)])
    assert spent == Spending(day=(0, 10, 400), total=(7.0, 8.0, 11.0))


def test_spending_ends_with_the_answers_total(demo: Comparison) -> None:
    for option in demo.options:
        if option.events:
            assert spending_of(option.events).total[-1] == pytest.approx(option.horizon_total.undiscounted)


@pytest.mark.parametrize(
    ("reusable", "disposable", "day"),
    [
        (((0, 50.0),), ((0, 20.0), (30, 40.0), (60, 60.0)), 60),
        (((0, 10.0),), ((0, 20.0),), 0),
        (((0, 50.0),), ((0, 20.0), (30, 40.0)), None),
        (((0, 50.0), (40, 80.0)), ((0, 20.0), (30, 60.0), (50, 90.0)), 50),  # dearer again at 40
        (((0, 50.0),), ((0, 20.0), (30, 50.0), (60, 80.0)), 60),  # as much at 30 is not less
        (((0, 20.0),), ((0, 20.0), (30, 40.0)), 30),
        (((0, 20.0), (30, 40.0)), ((0, 40.0),), None),  # less at first, as much in the end
        (((0, 20.0),), ((0, 20.004),), None),  # no whole cent
        (((5, 9.0),), ((0, 1.0), (5, 10.0)), 0),  # nothing paid yet is less
    ],
)
def test_the_day_from_which_rinsing_pays_by_hand(reusable: Any, disposable: Any, day: int | None) -> None:
    def spending(points: Any) -> Spending:
        days, totals = zip(*points, strict=True)
        return Spending(day=days, total=totals)

    assert break_even_day(spending(reusable), spending(disposable)) == day


def test_a_train_that_throws_one_stage_away_is_no_reusable_one(freezer: Comparison) -> None:
    option = next(option for option in freezer.options if option.id == "pleated-20")
    (stage,) = option.stages
    mixed = replace(option, stages=(stage, replace(stage, rinses_before_replacing=None)))
    assert is_reusable(option)
    assert not is_reusable(mixed)
    assert best_of_either_sort([mixed, option, mixed, option]) == {True: option, False: mixed}
    assert best_of_either_sort([option]) == {True: option}


def test_a_years_shopping_is_the_first_years_purchases(freezer: Comparison) -> None:
    option = next(option for option in freezer.options if option.id == "wound-50")
    bought = {purchase.item: purchase for purchase in bought_in_a_year(freezer.study.elements, option.events)}
    assert set(bought) == {"housing", "Wound 50"}
    assert (bought["housing"].what, bought["housing"].amount) == ("equipment", 35.0)
    wound = [e for e in option.events if e.what == "buy" and e.item == "Wound 50" and e.day < 365.25]
    assert bought["Wound 50"].what == "element"
    assert bought["Wound 50"].count == len(wound)
    assert bought["Wound 50"].amount == pytest.approx(5.0 * len(wound))


def test_own_hours_are_rinses_and_soaks_times_minutes(answer_of: Callable[[str], Comparison]) -> None:
    answer = answer_of("quay")
    option = next(option for option in answer.options if option.cost_per_year.own_time)
    hours = own_hours_per_year(answer.study, option)
    assert hours * 15.0 == pytest.approx(option.cost_per_year.own_time)  # the file's price of an hour


@pytest.mark.parametrize("name", ["barrel", "freezer", "quay"])
def test_a_demo_written_out_reads_as_before(name: str) -> None:
    data = demo_data(name)
    assert tomllib.loads(text_of_tables(data)) == data


_KEYS = st.text(max_size=8)
_PLAIN = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"])),
    st.integers(-(2**62), 2**62),
    st.floats(allow_nan=False),
    st.booleans(),
    st.dates(),
)
_VALUES = st.recursive(_PLAIN, lambda inner: st.lists(inner, max_size=3), max_leaves=5)
_TABLES = st.recursive(
    st.dictionaries(_KEYS, _VALUES, max_size=3),
    lambda inner: st.dictionaries(
        _KEYS, st.one_of(_VALUES, inner, st.lists(inner, min_size=1, max_size=2)), max_size=3
    ),
    max_leaves=6,
)


@given(_TABLES)
def test_whatever_a_file_can_hold_is_written_and_read_back(data: dict[str, Any]) -> None:
    assert tomllib.loads(text_of_tables(data)) == data
