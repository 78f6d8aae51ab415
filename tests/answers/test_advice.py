"""Which option to take: the cheapest of those about as surely good, the same on every face of the program."""

from datetime import date

import pytest
from studies import demo_data, study_of

from filtration import Comparison, compare, plan_of
from filtration.answers.advice import to_take
from filtration.plan.fleet import Tub, budget
from filtration.present.document import document
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


@pytest.fixture(scope="module")
def freezer() -> Comparison:
    return compare(study_of(demo_data("freezer")), draws=256)


def test_without_draws_the_cheapest_is_taken() -> None:
    answer = compare(study_of(demo_data("freezer")))
    assert answer.advised is answer.best
    assert "this one costs least" in words.headline(answer)


def test_every_face_takes_the_same(freezer: Comparison) -> None:
    """Of the freezer's options the cheapest fails in more cases than not, and a surer one costs a few euros more."""
    taken, cheapest = freezer.advised, freezer.best
    assert taken is not None
    assert cheapest is not None
    assert taken.sureness is not None
    assert cheapest.sureness is not None
    assert taken.sureness.chance_of_meeting_needs > cheapest.sureness.chance_of_meeting_needs + 0.1
    assert (taken.cost_per_year.total or 0.0) <= 1.1 * (cheapest.cost_per_year.total or 0.0)
    told = words.headline(freezer)
    assert told.startswith(f"Take {taken.name}.")
    assert f"the cheapest, {cheapest.name}, in " in told
    assert taken.name in sure_words.sureness(freezer)[0]
    assert taken.name in page_words.dots(freezer)[1]
    assert document(freezer)["advised"] == taken.id
    plan = plan_of(freezer.study, today=date(2026, 3, 1), draws=256)
    assert plan.option == taken.id


def test_the_cheaper_others_are_said_to_cost_less(freezer: Comparison) -> None:
    cheapest = freezer.best
    assert cheapest is not None
    (line,) = [line for line in words.others(freezer) if line.startswith(f"{cheapest.name}:")]
    assert " less a year" in line


def test_a_fleet_takes_what_a_tub_alone_would() -> None:
    data = demo_data("freezer")
    (tub,) = budget([Tub(where="a", tables=data)], draws=256).tubs
    alone = compare(study_of(data), draws=256).advised
    assert alone is not None
    assert tub.option == alone.name
