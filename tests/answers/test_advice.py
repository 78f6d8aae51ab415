"""Which option to take: the cheapest of those about as surely good, the same on every face of the program."""

from collections.abc import Callable
from datetime import date

import pytest
from studies import DRAWS, demo_data

from filtration import Comparison, plan_of
from filtration.answers.advice import to_take
from filtration.plan.fleet import FleetRow, budget
from filtration.present.documents import answer_document
from filtration.present.words import answer as words
from filtration.present.words import odds as sure_words
from filtration.present.words import pages as page_words


@pytest.mark.parametrize(
    ("costs", "chances", "place"),
    [
        ([230.0], [0.1], 0),
        ([230.0, 234.0], [1.0, 1.0], 0),  # nobody knows: the cheapest
        ([230.0, 234.0], [0.45, 0.70], 1),
        ([230.0, 234.0, 237.0], [0.45, 0.68, 0.70], 1),  # within a case of twenty of the surest, and cheaper
        ([230.0, 252.9, 253.1], [0.45, 0.60, 0.95], 1),  # a tenth more is little, what lies beyond is not
        ([230.0, 400.0], [0.45, 0.95], 0),
        ([237.0, 230.0, 234.0], [0.70, 0.45, 0.70], 2),  # in any order
        ([0.0, 0.0], [0.2, 0.9], 1),
    ],
)
def test_what_to_take_by_hand(costs: list[float], chances: list[float], place: int) -> None:
    assert to_take(costs, chances) == place


@pytest.fixture
def drawn_freezer(drawn_answer_of: Callable[[str], Comparison]) -> Comparison:
    return drawn_answer_of("freezer")


def test_without_draws_the_cheapest_is_taken(freezer: Comparison) -> None:
    answer = freezer
    assert answer.advised is answer.best
    assert "this one costs least" in words.headline(answer)


def test_every_face_takes_the_same(drawn_freezer: Comparison) -> None:
    """Of the freezer's options the cheapest fails in more cases than not, and a surer one costs a few euros more."""
    taken, cheapest = drawn_freezer.advised, drawn_freezer.best
    assert taken is not None
    assert cheapest is not None
    assert taken.sureness is not None
    assert cheapest.sureness is not None
    assert taken.sureness.chance_of_meeting_needs > cheapest.sureness.chance_of_meeting_needs + 0.1
    assert (taken.cost_per_year.total or 0.0) <= 1.1 * (cheapest.cost_per_year.total or 0.0)
    told = words.headline(drawn_freezer)
    assert told.startswith(f"Take {taken.name}.")
    assert f"the cheapest, {cheapest.name}, in " in told
    assert taken.name in sure_words.sureness(drawn_freezer)[0]
    assert taken.name in page_words.dots(drawn_freezer)[1]
    assert answer_document(drawn_freezer)["advised"] == taken.id
    plan = plan_of(drawn_freezer.study, today=date(2026, 3, 1), draws=DRAWS)
    assert plan.option == taken.id


def test_the_cheaper_others_are_said_to_cost_less(drawn_freezer: Comparison) -> None:
    cheapest = drawn_freezer.best
    assert cheapest is not None
    (line,) = [line for line in words.others(drawn_freezer) if line.startswith(f"{cheapest.name}:")]
    assert " less a year" in line


def test_a_fleet_takes_what_a_tub_alone_would(drawn_freezer: Comparison) -> None:
    (tub,) = budget([FleetRow(where="a", tables=demo_data("freezer"))], draws=DRAWS).tubs
    alone = drawn_freezer.advised
    assert alone is not None
    assert tub.option == alone.name
