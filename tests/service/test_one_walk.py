"""One walk serves every answer: whoever asks, an option has the same first run and the same year, to the last digit."""

from dataclasses import replace
from functools import cache
from math import ceil, exp, inf, log
from typing import Any

import pytest
from owners import at, record, study_in_use
from random_studies import random_study
from studies import DIRT_ALONE, Given, answered, demo_data, study_of

from filtration import OptionAnswer, Study
from filtration.answers.draws import drawn_options, kept_options
from filtration.answers.figures import L_PER_H, FirstRun, Followed, answer_of, entry_id, follow, follow_all
from filtration.answers.series import answer_alone
from filtration.answers.size_search import first_runs_of
from filtration.answers.sizing import area_for_interval
from filtration.base.draws import central_factors, factors_of, normal_scores, sobol_points
from filtration.base.places import demo_names
from filtration.loading.assembly import Entry, entries_of, entry_of
from filtration.loading.table import COARSE, FINE, Fineness
from filtration.loading.tabulate import tables_of
from filtration.plan.ahead import fit_of
from filtration.plan.by_calendar import central_services
from filtration.plan.fleet import budget
from filtration.plan.fleet_rows import FleetRow
from filtration.readings.outlook import outlook_of
from filtration.service.care import ENDLESS, care_of
from filtration.service.lives import Life
from filtration.service.pace import EVEN
from filtration.service.visits import KINDS, Services
from filtration.service.walk import walk_services

STUDIES = 6  # drawn at random; a bench may raise it to 50
OPTIONS = 3
APART = 5  # options of a study that are also worked out alone, spread over all of them
CASES: list[str | int] = [*demo_names(), *range(STUDIES)]


def _data(case: str | int) -> Given:
    """Return the tables of a demo, by its name, or of a study drawn at random, by its seed."""
    return demo_data(case) if isinstance(case, str) else random_study(case, OPTIONS)


def _driven(study: Study) -> list[Entry]:
    return [entry for entry in entries_of(study) if entry.loop is not None]


@cache
def _study(case: str | int) -> Study:
    return study_of(_data(case))


@cache
def _followed(case: str | int) -> tuple[Followed, ...]:
    """Follow all options of a case side by side, once for all tests."""
    return tuple(follow(_study(case), _driven(_study(case))))


def _figures(answer: OptionAnswer) -> dict[str, Any]:
    """Return what all answers must agree on: the first run, and the year."""
    return {
        "first run": answer.days_to_first_service,
        "ends by": answer.governed_by,
        "flow when due": answer.due_flow_l_per_h,
        "rinses": [stage.rinses_before_replacing for stage in answer.stages],
        "services": answer.services_per_year,
        "elements": [stage.elements_per_year for stage in answer.stages],
        "cost": answer.cost_per_year.total,
    }


# ---- one answer, whoever asks -------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", CASES)
def test_an_option_is_the_same_alone_among_others_and_in_a_plan(case: str | int) -> None:
    """``compare``, ``follow`` with others and without, ``answer_alone``, and a plan that works its option out anew."""
    study, answer, followed = _study(case), answered(_data(case)), _followed(case)
    for place, among in enumerate(followed):
        option = answer.option(entry_id(study, among.entry))
        expected = _figures(option)
        assert _figures(answer_of(among)) == expected
        if place % ceil(len(followed) / APART):
            continue
        (alone,) = follow(study, [among.entry])
        assert _figures(answer_of(alone)) == expected
        assert _figures(answer_alone(study, option.id)) == expected
        planned = fit_of(replace(study), option, answer)
        assert (planned is None) is (option.cost_per_year.total is None)
        if planned is not None:
            assert planned.answer is not option
            assert _figures(planned.answer) == expected


@pytest.mark.parametrize("case", CASES)
def test_a_run_that_the_flow_ends_ends_at_the_flow_wanted(case: str | int) -> None:
    for followed in _followed(case):
        if followed.first is not None and followed.first.limit in ("flow", "pressure"):
            assert followed.first.due_m3_s == pytest.approx(followed.wanted_m3_s, rel=1e-4), followed.entry.option.id


@pytest.mark.parametrize("case", CASES)
def test_a_plan_by_the_calendar_begins_with_the_first_run(case: str | int) -> None:
    """With even use the service of a plan comes when the first run of the comparison ends."""
    for followed in _followed(case):
        if followed.first is not None:
            services = central_services(_study(case), followed.entry, answer_of(followed), EVEN, 1.0)
            assert services.day[0, 0] == followed.first.days


@pytest.mark.parametrize("case", CASES)
def test_sizing_starts_from_the_run_of_the_comparison(case: str | int) -> None:
    """What is there now, its time limits aside, where none of them ends the run."""
    study = _study(case)
    needs = replace(study.needs, rinse_limit_days=inf, replace_limit_days=inf)
    for followed in _followed(case):
        option = answer_of(followed)
        if option.days_to_first_service and option.governed_by != "time limit":
            (now,) = first_runs_of(replace(study, needs=needs), [followed.entry])
            # a table goes as far as its limits let it, and lies in single precision
            assert now.days == pytest.approx(option.days_to_first_service, rel=1e-4)
            assert now.limit == option.governed_by
            assert now.due_m3_s * L_PER_H == pytest.approx(option.due_flow_l_per_h, rel=1e-4)


@pytest.mark.parametrize("name", demo_names())
def test_the_present_run_of_size_is_that_of_the_comparison(name: str) -> None:
    answer = answered(demo_data(name))
    option = next(each for each in answer.options if each.meets_needs and each.governed_by != "time limit")
    assert area_for_interval(answer.study, option.id, 10.0).present_days == option.days_to_first_service


def test_fleets_have_the_figures_of_each_tub_by_itself() -> None:
    """All tubs side by side, each among the options of the others: the option taken costs and wears what it does."""
    rows = [FleetRow(where=str(case), tables=_data(case)) for case in CASES]
    for case, tub in zip(CASES, budget(rows, draws=0).tubs, strict=True):
        answer = answered(_data(case))
        chosen = [each for each in answer.options if (each.name, each.pump) == (tub.option, tub.pump)]
        assert len(chosen) == (tub.option is not None)
        for option in chosen:
            assert tub.cost.central == option.cost_per_year.total
            elements: dict[str, float] = {}
            for stage in option.stages:
                elements[stage.element] = elements.get(stage.element, 0.0) + (stage.elements_per_year or 0.0)
            assert {name: count.central for name, count in tub.elements.items()} == elements


def test_options_of_many_tubs_side_by_side_are_what_they_are_alone() -> None:
    together = follow_all([(_study(case), _driven(_study(case))) for case in CASES])
    for case, followed in zip(CASES, together, strict=True):
        for of, alone in zip(followed, _followed(case), strict=True):
            assert _figures(answer_of(of)) == _figures(answer_of(alone))


# ---- draws --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("option", ["pleated-20", "spun-20", "foam-20-ppi", "wound-50", "foam-then-pleated-20"])
def test_a_forecast_without_readings_has_the_first_runs_of_the_draws(option: str) -> None:
    """On the day an element is fitted it is due when the comparison's draws say, the same factors given."""
    study = study_in_use(option, needs={"turnovers_per_hour": 2})
    scores = normal_scores(sobol_points(64, 5))
    entry = entry_of(study, next(each for each in study.options if each.id == option), study.pumps[0])
    kept = kept_options(study, [entry], [[ENDLESS] * len(entry.media)], [factors_of(scores, study.spreads)])
    (drawn,) = drawn_options(kept)
    outlook = outlook_of(record([], 0.0, study), factors_of(scores, study.spreads), at(0.0))
    by_limit = drawn.first_days >= kept[0][0].care.limit_days - 1e-6
    compared = drawn.flows & (drawn.first_days > 0.0) & ~by_limit
    assert compared.sum() > 10
    assert (outlook.lacks == ~drawn.flows).all()
    assert outlook.due_day[compared].tolist() == drawn.first_days[compared].tolist()


def _done(services: Services, what: str, stage: int) -> list[bool]:
    done: list[bool] = services.done[:, KINDS.index(what), stage, 0].tolist()
    return done


@pytest.mark.parametrize("rating_um", [50, 75, 100])
def test_replacing_one_stage_lengthens_the_next_run_of_the_other_in_draws_too(rating_um: int) -> None:
    """A wound stage before a sheet: coarse tables, as of draws, have the same services as fine ones, dates within 1 %.

    The wound stage wears on while the sheet is rinsed, so that runs grow shorter and shorter until it is replaced; the
    run after that is longer than the one before.
    """
    wound: Given = {"name": "Wound", "kind": "wound", "size": "20 x 4.5 in", "rating": f"{rating_um} um", "price": 5}
    sheet = SHEET | {"rating": "5 um", "size": "10 x 2.5 in", "rinse_recovery": 0.9}
    data = _tub(wound, sheet, needs={"turnovers_per_hour": 3, "discard_after": "365 day"})
    data["options"] = [{"name": "both", "stages": ["Wound", "Sheet"]}]
    (followed,) = follow(study_of(data), _driven(study_of(data)))
    fine, coarse = (_walked(followed, how, 300.0) for how in (FINE, COARSE))
    for kind in KINDS:
        for stage in (0, 1):
            assert _done(coarse, kind, stage) == _done(fine, kind, stage)
    assert coarse.day[:, 0] == pytest.approx(fine.day[:, 0], rel=0.01)
    for services in (fine, coarse):
        length = services.length_days[:, 0]
        renewed = [
            place
            for place in range(1, len(length) - 1)
            if _done(services, "replace", 0)[place] and not _done(services, "replace", 1)[place]
        ]
        assert renewed
        assert all(length[place + 1] > 1.05 * length[place] for place in renewed)


def _walked(followed: Followed, how: Fineness, until_days: float) -> Services:
    """Walk the central case of an option, its stages never replaced for being rinsed often enough."""
    counts = [ENDLESS] * len(followed.entry.media)
    care = care_of(followed.study, followed.entry.option, central_factors(), counts)
    return walk_services(tables_of(followed.case, how), care, until=until_days).services()


# ---- small cases by hand ------------------------------------------------------------------------------------------

# A sheet so fine that it catches all but the bypass's 11 % of everything in each pass, in a tub of 400 L turned over
# several times an hour: whatever ten dips a day bring stays in it, whatever the flow. Of a dip that is 60 mg of skin,
# 20 mg of hair and 20 mg of fine matter, 0.16 % and 0.49 % of which lie outside the size classes, and 5 mg of grit that
# count a tenth: 100.37 mg.
CATCH_G_DAY = 10 * (60.0 + 20.0 * (1.0 - 0.0016) + 20.0 * (1.0 - 0.0049) + 0.1 * 5.0) / 1000.0
SHEET: Given = {
    "name": "Sheet",
    "kind": "pleated",
    "size": "20 x 4.5 in",
    "rating": "0.1 um",
    "price": 500,
    "rinse_recovery": 0.8,
    "rinse_water": "0 L",
    "soak_every_rinses": 0,
}
SMALL = {"dirt_capacity": "5 g", "dirt_capacity_dust": "like the tub's"}


def _tub(*elements: Given, **tables: Given) -> Given:
    """Return a tub whose dirt comes with bathers alone, with no limit but what ``needs`` says."""
    data = demo_data("freezer")
    data["pump"] |= {"shutoff_head": "6 m", "max_flow": "6000 L/h"}
    data["tub"] |= {
        "volume": "400 L",
        "uses_per_day": 10,
        "sessions_per_day": 10,
        "showered_share": 0,
        "feet": "rinsed",
        "uncovered_hours_per_day": 0,
        "disinfectant": "kept",
        "water_change_every": "60 day",
    } | tables.pop("tub", {})
    data["needs"] = DIRT_ALONE | tables.pop("needs", {})
    data["elements"] = list(elements)
    data["options"] = [{"name": element["name"], "stages": [element["name"]]} for element in elements]
    return data | tables


def _of(data: Given) -> tuple[FirstRun, Life]:
    """Follow the one option of a tub."""
    study = study_of(data)
    (followed,) = follow(study, _driven(study))
    assert followed.first is not None
    assert followed.life is not None
    return followed.first, followed.life


def test_full_by_hand() -> None:
    """5 g at 1.0037 g a day: full after 4.98 days, at a flow that the sheet has hardly lessened."""
    first, _ = _of(_tub(SHEET | SMALL))
    assert round(CATCH_G_DAY, 4) == 1.0037
    assert first.limit == "full"
    assert first.days == pytest.approx(5.0 / CATCH_G_DAY, rel=1e-3)
    assert first.held_g == [pytest.approx(5.0, rel=1e-4)]


def test_what_a_rinse_and_a_soak_leave_by_hand() -> None:
    """A rinse leaves a fifth of 5 g, every second one is soaked, which leaves half of that: room for 4 and 4.5 g."""
    _, life = _of(_tub(SHEET | SMALL | {"soak_every_rinses": 2, "soak_recovery": 0.5}))
    grams = CATCH_G_DAY * life.services.length_days[:, 0]
    assert grams[:6] == pytest.approx([5.0, 4.0, 4.5, 4.0, 4.5, 4.0], rel=1e-3)
    assert _done(life.services, "soak", 0)[:4] == [False, True, False, True]


def test_what_a_rinse_leaves_grows_by_hand() -> None:
    """At 4 degC a deposit grows by 2 % a day: m' = c + g m, from m0 to 5 g in ln((5 + c/g) / (m0 + c/g)) / g days."""
    _, life = _of(_tub(SHEET | SMALL, tub={"disinfectant": "none", "water_temperature": "4 degC"}))
    steady = CATCH_G_DAY / 0.02
    by_hand = [log((5.0 + steady) / (left + steady)) / 0.02 for left in (0.0, 1.0, 1.0)]
    assert life.services.length_days[:3, 0] == pytest.approx(by_hand, rel=1e-3)


def test_age_by_hand() -> None:
    """Rinsed after 4.98 days and every 3.99 days from then on, five times by day 20.92; discarded on day 24."""
    _, life = _of(_tub(SHEET | SMALL, needs={"discard_after": "24 day"}))
    services = life.services
    expected = [(5.0 + 4.0 * rinses) / CATCH_G_DAY for rinses in range(5)]
    assert services.day[:5, 0] == pytest.approx(expected, rel=1e-3)
    assert services.day[:, 0].tolist()[5:] == [24.0]
    assert _done(services, "rinse", 0) == [True] * 5 + [False]
    assert _done(services, "replace", 0) == [False] * 5 + [True]
    assert services.renewed[0]


def test_clarity_by_hand() -> None:
    """The run ends at the flow at which one sees as far as is wanted just after a session, and no sooner.

    1,500 L, pumped through a sheet that catches 89 % of every size in a pass: at 1,200 L/h k = 0.89 * 28.8 / 1.5 = 17.1
    a day. Ten sessions a day then leave S / (1 - exp(-k / 10)) of what one of them brings, S, as the dirt of 60 days
    is long gone. Water and haze take 0.06 + 0.3 + 0.01 * 600 dips / 15 = 0.76 a metre, and a black disc is seen as far
    as 4.8 over the attenuation.
    """
    data = _tub(SHEET, tub={"volume": "1500 L"}, needs={"turnovers_per_hour": 0.05})
    session_per_m = float(study_of(data).tub.session_attenuation_per_m.sum())
    removal = 0.89 * 24.0 * 1.2 / 1.5
    view = 4.8 / (0.76 + session_per_m / (1.0 - exp(-removal / 10.0)))
    data["needs"]["see_through"] = f"{view:.12f} m"
    first, _ = _of(data)
    assert first.limit == "clarity"
    assert first.due_m3_s * L_PER_H == pytest.approx(1200.0, rel=1e-4)
    caught = CATCH_G_DAY * (1.0 - 1.0 / (removal * 60.0))  # a thousandth leaves with the water; new, half of that
    assert first.held_g == [pytest.approx(caught * first.days, rel=1e-3)]
