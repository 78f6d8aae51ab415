"""Two thousand bad inputs, the same each time; ``bench/bench_bad_input.py`` gives as many as one likes."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import bad_input
import page_cache
import page_link
import pytest
from bad_input import Case, drawn, judged, said, soon, wrong_numbers
from facts import FACTS, both, broken_within, options_of
from studies import SHORT, answered, short

from filtration import Comparison, InputError, OptionAnswer, compare
from filtration.study.file import study_from_dict, study_from_text

SEED = 20260301
COUNTS = {"tables": 450, "text": 250, "readings": 120, "fleet": 78, "link": 98, "page": 4}
ONE_IN = 90


@pytest.mark.parametrize("kind", COUNTS)
def test_all_is_answered_or_refused_in_words(kind: str) -> None:
    came, findings = Counter[str](), list[str]()

    def see(case: Case) -> None:
        what, found = judged(case, one_in=ONE_IN)
        came[what] += 1
        findings.extend(f"{each}\n{case.given!r}" for each in found)

    drawn(kind, COUNTS[kind], SEED, see)
    assert not findings, findings[0]
    assert came.total() == COUNTS[kind]
    assert came["refused"] >= (kind != "page")
    assert len(came) >= (2 if kind != "page" else 1), came


def test_a_thousand_in_all() -> None:
    assert sum(COUNTS.values()) == 1000


# The judge sees what is wrong


def _bad(option: OptionAnswer, **changes: Any) -> OptionAnswer:
    return replace(option, **changes)


WRONG: dict[str, Callable[[OptionAnswer], OptionAnswer]] = {
    "more flow when due": lambda o: _bad(o, due_flow_l_per_h=2.0 * o.clean_flow_l_per_h),
    "less loss when due": lambda o: _bad(o, due_filter_loss_kpa=0.0),
    "less than nothing": lambda o: _bad(o, days_to_first_service=-1.0),
    "rises within a run": lambda o: _bad(
        o, flow_record=replace(o.flow_record, day=(0.0, 1.0), flow_l_per_h=(1.0, 2.0))
    ),
    "below nothing": lambda o: _bad(o, cost_per_year=replace(o.cost_per_year, pumping=-1.0)),
    "add up": lambda o: _bad(o, cost_per_year=replace(o.cost_per_year, total=1.0)),
}


@pytest.fixture(scope="module")
def answer() -> Comparison:
    return answered(short())


@pytest.mark.parametrize("told", WRONG)
def test_a_wrong_answer_is_seen(answer: Comparison, told: str) -> None:
    assert not said(answer)
    wrong = replace(answer, options=tuple(map(WRONG[told], answer.options)))
    assert any(told in line for line in broken_within(wrong)), list(broken_within(wrong))


def test_a_figure_that_is_none_and_money_below_nothing_are_seen() -> None:
    made = {"options": [{"see_through": float("nan"), "cost_per_year": {"total": -3.0}, "temperature": -3.0}]}
    assert wrong_numbers(made) == [".options[0].see_through is nan", ".options[0].cost_per_year.total is -3.0"]


BREAKS: dict[str, Callable[[OptionAnswer], OptionAnswer]] = {
    FACTS[0].name: lambda o: _bad(o, days_to_first_service=1.1 * (o.days_to_first_service or 1.0)),
    FACTS[1].name: lambda o: _bad(o, days_to_first_service=None),
    FACTS[2].name: lambda o: o,
    FACTS[3].name: lambda o: _bad(
        o, cost_per_year=replace(o.cost_per_year, total=0.9 * (o.cost_per_year.total or 0.0))
    ),
    FACTS[4].name: lambda o: _bad(o, cost_per_year=replace(o.cost_per_year, total=0.0)),
    FACTS[5].name: lambda o: _bad(o, clean_flow_l_per_h=0.99 * o.clean_flow_l_per_h),
    FACTS[6].name: lambda o: _bad(o, clean_flow_l_per_h=1.01 * o.clean_flow_l_per_h),
}


@pytest.mark.parametrize("fact", FACTS, ids=lambda fact: fact.name)
def test_each_fact_can_be_broken_and_is_kept(answer: Comparison, fact: Any) -> None:
    (option,) = answer.options
    assert fact.broken(option, BREAKS[fact.name](option))
    unhurried = short() | {"needs": {"rinse_at_least_every": "never"}}  # else that limit ends both runs
    old, new = (options_of(answered(each)) for each in both(unhurried, fact))
    assert not any(fact.broken(old[name], new[name]) for name in old)
    assert both(unhurried, fact)[0] != both(unhurried, fact)[1]


@pytest.mark.parametrize(
    ("fault", "told"),
    [
        (RuntimeError("boom"), "boom"),
        (InputError("1 validation error: pydantic"), "no readable line"),
        (InputError(), "no "),
    ],
    ids=["another error", "not ours to say", "no words"],
)
def test_a_traceback_or_an_unreadable_fault_is_seen(
    fault: Exception, told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_data: object, **_named: object) -> None:
        raise fault

    monkeypatch.setattr(bad_input, "study_from_dict", fail)
    _, findings = judged(Case(kind="tables", given=short()))
    assert told in findings[0]


def test_a_hang_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    def turn(_data: object) -> None:
        while True:
            pass

    monkeypatch.setattr(bad_input, "study_from_dict", turn)
    monkeypatch.setattr(bad_input, "MOST_S", 0.1)
    came, findings = judged(Case(kind="tables", given=short()))
    assert came == "hang"
    assert "not done after" in findings[0]


# What the thousands found


def test_a_key_of_very_many_parts_in_a_link_is_told_at_once() -> None:
    """Read as it stands it takes the better part of an hour."""
    text = ".".join("a" * 300_000) + " = 1"
    word = page_link.packed([text])
    assert word is not None
    with pytest.raises(InputError, match="line 1 is longer than"):
        soon(page_cache.tables, page_link.unpacked(word)[0])
    with pytest.raises(InputError, match="line 1 is longer than"):
        soon(study_from_text, text)


@pytest.mark.parametrize(
    "odd",
    ["tub = 3", "elements = 3", "elements = [3]", "[[tub]]", "[elements]", "[tub]\nvolume = [1]", "pumps = [[]]",
     "[tub]\nuses_per_day = nan", f"[tub]\nuses_per_day = 1{'0' * 400}", "[[options]]\nstages = [[1]]"],
)  # fmt: skip
def test_a_link_whose_tables_are_none_is_refused(odd: str) -> None:
    assert page_cache.is_shaped(SHORT)
    assert page_cache.is_shaped("[tub]\nvolume = '3 m'\nuses_per_day = -1\nwhat = []")  # wrong, but to be shown
    assert not page_cache.is_shaped(odd)


def test_a_train_of_many_elements_is_answered() -> None:
    """Of five elements that can be rinsed the search for their counts once never ended."""
    element = short()["elements"][0]
    rows = [element | {"name": f"E {at}", "rating": f"{100 >> at} um"} for at in range(5)]
    data = short() | {"elements": rows, "options": [{"name": "Train", "stages": [row["name"] for row in rows]}]}
    data["pump"] = {"shutoff_head": "40 m", "max_flow": "9000 L/h", "power": "900 W"}
    (option,) = soon(compare, study_from_dict(data), times=10).options
    assert len(option.stages) == 5
    assert option.cost_per_year.total is not None
