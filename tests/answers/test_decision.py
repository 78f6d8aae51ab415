"""Which option to take: the rule by hand, what never moves it, and that every face of the program names the same."""

from collections.abc import Iterator
from dataclasses import asdict, replace
from datetime import date, datetime, time, timedelta
from functools import cache
from math import floor
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_studies import random_study
from studies import Given, answered, demo_data, study_of

from filtration import Comparison, compare, forecast
from filtration.answers.decision import CASES, DRAWS, SEED, Candidate, Decision, decide
from filtration.base.places import demo_names
from filtration.plan.dated_plan import plan
from filtration.plan.fleet import budget
from filtration.plan.fleet_rows import FleetRow
from filtration.plan.outcome import Outcome, outcome_of
from filtration.present.charts.pictures import chart
from filtration.present.documents import answer_document, fleet_document, forecast_document, plan_document
from filtration.present.exports.by_ending import WAYS, bytes_of
from filtration.present.words import answer as words
from filtration.present.words import odds as sure_words
from filtration.present.words import pages as page_words
from filtration.present.words.phrases import due, rounded_down

FIRST_DAY = date(2027, 3, 1)
RANDOM = 3  # of ``SEEDS``, studies drawn at random, every face of which is asked; may be raised to all thirty
SEEDS = range(40, 70)


def options(*figures: tuple[float, float], own: float = 30.0, set_price: float = 18.0) -> list[Candidate]:
    """Return candidates a, b … of some years and chances."""
    return [
        Candidate(id="abcdef"[at], meets_needs=True, chance=chance, year=year, own=own, set_price=set_price)
        for at, (year, chance) in enumerate(figures)
    ]


@pytest.mark.parametrize(
    ("figures", "own", "set_price", "advised", "equal"),
    [
        ([(230.0, 0.1)], 30.0, 18.0, "a", ""),
        ([(230.0, 1.0), (234.0, 1.0)], 30.0, 18.0, "a", "b"),  # as sure, and dearer by less than half of 18
        ([(230.0, 1.0), (240.0, 1.0)], 30.0, 18.0, "a", ""),  # by more than half
        ([(230.0, 0.45), (234.0, 0.70)], 30.0, 18.0, "b", ""),
        ([(230.0, 0.45), (234.0, 0.66), (237.0, 0.70)], 30.0, 18.0, "b", "c"),  # within a case of twenty of the surest
        ([(230.0, 0.45), (234.0, 0.64), (237.0, 0.70)], 30.0, 18.0, "c", ""),  # not within it
        ([(230.0, 0.45), (247.9, 0.95)], 30.0, 18.0, "b", ""),  # one set more is little dearer
        ([(230.0, 0.45), (248.1, 0.95)], 30.0, 18.0, "a", ""),  # more is not, however sure
        (
            [(230.0, 0.45), (259.0, 0.95)],
            300.0,
            18.0,
            "b",
            "",
        ),  # a tenth of the part a filter makes, where that is more
        ([(230.0, 0.45), (261.0, 0.95)], 300.0, 18.0, "a", ""),
        ([(237.0, 0.70), (230.0, 0.45), (234.0, 0.70)], 30.0, 18.0, "c", "a"),  # in any order
        ([(0.0, 0.2), (0.0, 0.9)], 0.0, 0.0, "b", ""),
    ],
)
def test_what_to_take_by_hand(
    figures: list[tuple[float, float]], own: float, set_price: float, advised: str, equal: str
) -> None:
    found = decide(options(*figures, own=own, set_price=set_price))
    assert (found.advised, "".join(found.equal)) == (advised, equal)
    assert found.cheapest == min(options(*figures), key=lambda each: each.year).id


def test_nothing_that_fails_the_needs_is_taken() -> None:
    one, two = options((100.0, 1.0), (200.0, 0.1))
    assert decide([replace(one, meets_needs=False), two]).advised == "b"
    assert decide([replace(one, meets_needs=False)]) == Decision(advised=None, cheapest=None, equal=())


MANY = st.lists(st.tuples(st.integers(100, 150), st.integers(0, 20)), min_size=1, max_size=6)


@given(MANY, st.floats(0.0, 5000.0), st.integers(0, 400), st.integers(0, 40))
def test_what_costs_the_same_with_every_option_moves_nothing(
    figures: list[tuple[int, int]], more: float, own: int, set_price: int
) -> None:
    some = options(*((float(year), chance / 20.0) for year, chance in figures), own=own, set_price=set_price)
    assert decide([replace(each, year=each.year + more) for each in some]) == decide(some)


@cache
def _answer(case: str | int, draws: int = 0) -> Comparison:
    return answered(demo_data(case) if isinstance(case, str) else random_study(case), draws)


SAME_FOR_ALL = {
    "disinfectant": {"prices": {"disinfectant_per_month": 25.0}},
    "dear electricity": {"prices": {"electricity_per_kwh": 1.2}},
    "free electricity": {"prices": {"electricity_per_kwh": 0.0}},
    "dear pump": {"pump": {"price": 400.0}},
}


def _of_one_pump_in_the_water(case: str | int) -> Given:
    """Return a study whose pump takes and heats the same with every option."""
    data = demo_data(case) if isinstance(case, str) else random_study(case)
    data.pop("pumps", None)
    data["pump"] = {**demo_data("freezer")["pump"], "placed": "in the water"} | {"max_flow": "4000 L/h"}
    data.setdefault("plumbing", {})["length_outside"] = "0 m"
    return data


@cache
def _decided(case: str | int, change: str | None = None) -> Decision:
    data = _of_one_pump_in_the_water(case)
    moved = {table: data.get(table, {}) | keys for table, keys in SAME_FOR_ALL[change].items()} if change else {}
    return compare(study_of(data | moved)).decision


@pytest.mark.parametrize("change", SAME_FOR_ALL)
@pytest.mark.parametrize("case", ["freezer", "barrel", *SEEDS[:3]])
def test_prices_that_are_the_same_for_all_move_no_advice(case: str | int, change: str) -> None:
    assert _decided(case, change) == _decided(case)


@pytest.mark.parametrize("case", ["freezer", SEEDS[0], SEEDS[1]])
def test_draws_and_seed_move_ranges_alone(case: str | int) -> None:
    study = _answer(case).study
    plain, more = _answer(case), [compare(study, draws=16), compare(study, draws=512), compare(study, draws=64, seed=7)]

    def fixed(answer: Comparison) -> list[Any]:
        chances = [
            replace(option.sureness, ranges={}, outcomes={}) if option.sureness else None for option in answer.options
        ]
        odds = replace(answer.odds, draws=0, seed=0, drivers=(), measure=None, flow_band=None)
        return [answer.decision, [option.id for option in answer.options], chances, odds]

    for answer in more:
        assert fixed(answer) == fixed(plain)
    assert len({repr(answer.options[0].sureness) for answer in more}) == len(more) or not plain.advised


def test_chances_are_of_all_cases_and_none_is_lost() -> None:
    answer = _answer("freezer")
    best = sum(option.sureness.chance_of_being_best for option in answer.options if option.sureness)
    assert best + answer.odds.chance_none_meets_needs == pytest.approx(1.0)
    assert all(option.sureness is not None and not option.sureness.ranges for option in answer.options)
    odds = answer.odds
    assert 0.0 < odds.chance_all_lack_flow + odds.chance_too_hazy <= odds.chance_none_meets_needs
    assert answer.odds.chance_too_hazy_in_half_the_time <= answer.odds.chance_too_hazy


def test_an_element_spent_within_a_day_fails_the_needs() -> None:
    """Dirt a hundred times over: the days tell it, not a year of thousands."""
    data = demo_data("freezer")
    data["tub"]["uses_per_day"] = 400
    data["needs"]["see_through"] = "0.01 m"
    for option in answered(data).options:
        if option.days_to_first_service is not None and 0.0 < option.days_to_first_service < 1.0:
            assert "spent within a day" in {reason.kind for reason in option.reasons}
            assert any("it lasts only" in line for line in words.why_not(option))
            break
    else:
        pytest.fail("no element was spent within a day")


# ---- every face names it, with the same figures -------------------------------------------------------------------


def _faces(found: Outcome) -> Iterator[tuple[str, str]]:
    """Yield the text of every file that names the option to take."""
    for ending, whats in WAYS.items():
        for what in whats:
            if ending != ".xlsx" and (ending, what) != (".csv", "answer"):
                text = bytes_of(found, ending, what).decode()
                yield f"{ending} {what}", text.replace("\r\n ", "").replace("\r\n", "\n")


@pytest.mark.parametrize("case", [*demo_names(), *SEEDS[:RANDOM]])
def test_every_face_names_the_same_option_and_figures(case: str | int) -> None:
    """The document, the plan, the fleet, the forecast and every file, each asked by itself."""
    data = demo_data(case) if isinstance(case, str) else random_study(case)
    study, answer = study_of(data), _answer(case, DRAWS)
    taken = answer.advised
    fleet = budget([FleetRow(where="a", tables=data)])
    (tub,) = fleet.tubs
    if taken is None:
        assert not tub.meets_needs
        return
    year, days = taken.cost_per_year.total, taken.days_to_first_service
    assert year is not None
    assert days is not None
    assert (tub.option, tub.pump, tub.cost.central) == (taken.name, taken.pump, year)
    assert tub.chance_of_meeting_needs == taken.chance
    assert taken.sureness is not None
    (told_tub,) = fleet_document(fleet)["tubs"]  # type: ignore[misc, has-type]
    assert told_tub["cost_per_year"]["range"] == pytest.approx(list(taken.sureness.ranges["cost_per_year"]), rel=1e-12)
    document = answer_document(answer)
    assert document["advised"] == taken.id == answer_document(_answer(case))["advised"]
    assert words.headline(answer).startswith(f"Take {taken.name}")
    assert due(days) in words.headline(answer)
    assert taken.name in sure_words.sureness(answer)[0]
    assert taken.name in page_words.dots(answer)[1]
    planned = plan(study, today=FIRST_DAY)
    assert (planned.option, planned.gap.long_run) == (taken.id, pytest.approx(year, abs=0.005))
    if study.in_use is None and not planned.uneven:
        ahead = [event for event in planned.events if event.what in ("rinse", "replace")]
        first = min(ahead, key=lambda event: (event.date, event.earliest))  # of a train, the stage that may come first
        low, _, high = taken.sureness.ranges["days_to_first_service"]
        assert first.date == FIRST_DAY + timedelta(days=floor(days))
        assert (first.earliest - FIRST_DAY).days == min(floor(days), floor(low))
        assert first.latest is not None
        assert (first.latest - FIRST_DAY).days == max(floor(days), floor(high))
        assert floor(rounded_down(days)) == floor(days)
    assert plan_document(planned)["name"] == taken.name
    found = outcome_of(study, option=None, today=FIRST_DAY)
    for face, text in _faces(found):
        assert any(stage.element in text for stage in taken.stages), face
        others = [option.name for option in answer.options if taken.name not in option.name]
        if face == ".txt answer":
            assert f"Recommended  {taken.name}" in text
        if face in (".ics plan", ".csv plan", ".html card"):
            stages = {stage.element for stage in taken.stages}
            assert not [name for name in others if name in text and name not in stages and name not in taken.name], face


@pytest.mark.parametrize("case", demo_names())
def test_a_forecast_without_readings_says_what_the_answer_says(case: str) -> None:
    """One tub, one new element, nothing read: the same day, the same range."""
    answer = _answer(case, DRAWS)
    taken = answer.advised
    assert taken is not None
    data = demo_data(case) | {"in_use": {"option": taken.id, "since": FIRST_DAY.isoformat()}}
    noon = datetime.combine(FIRST_DAY, time(12)).astimezone()
    found = forecast(study_of(data), (), today=noon).next_service
    days, sure = taken.days_to_first_service, taken.sureness
    assert days is not None
    assert sure is not None
    low, _, high = sure.ranges["days_to_first_service"]
    since_noon = (found.in_days[0] + 0.0, found.in_days[1], found.in_days[2])
    start = since_noon[1] - days
    assert abs(start) < 1.0  # fitted on that day, at whatever hour a date alone stands for
    assert since_noon == pytest.approx((min(low, days) + start, days + start, max(high, days) + start), rel=2e-3)
    assert forecast_document(forecast(study_of(data), (), today=noon))["option"] == taken.name


@pytest.mark.parametrize("name", ["life", "view"])
def test_charts_of_one_option_show_the_one_to_take(name: str) -> None:
    answer = _answer("freezer")
    assert answer.advised is not None
    assert chart(answer, name).to_dict() == chart(answer, name, answer.advised.id).to_dict()


def test_the_same_cases_everywhere(monkeypatch: pytest.MonkeyPatch) -> None:
    """A command that drew its own cases would fail here: whoever asks, as many points of one seed decide."""
    from filtration.answers import odds
    from filtration.base import draws

    asked: list[tuple[int, int]] = []

    def seen(number: int, seed: int, *size: int) -> Any:
        asked.append((number, seed))
        return draws.sobol_points(number, seed, *size)

    monkeypatch.setattr(odds, "sobol_points", seen)
    study = _answer("barrel").study
    decisions = [compare(study, draws=drawn, seed=seed).decision for drawn, seed in ((0, 0), (16, 3), (512, 0))]
    assert len({repr(asdict(each)) for each in decisions}) == 1
    assert (CASES, SEED) in asked


def test_best_still_works_for_a_version_and_says_what_to_use() -> None:
    answer = _answer("freezer")
    with pytest.warns(DeprecationWarning, match=r"cheapest.*advised"):
        assert answer.best is answer.cheapest
