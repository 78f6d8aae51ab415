"""Each key of a document holds the figure it names, and a few words say one and several apart."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import date
from typing import Any

import pytest
import said
from studies import leaning

from filtration import savings
from filtration.answers.sizing import area_for_interval, smallest_pump
from filtration.plan.dated import Purchase
from filtration.present import documents, fleet_tables
from filtration.present.exports.by_ending import WAYS
from filtration.present.words import front
from filtration.present.words import odds as odds_words
from filtration.present.words import plan as plan_words
from filtration.present.words import readings as words
from filtration.present.words.exports import FILES

OTHERWISE = {
    "chance_due_already": "due_already",
    "flow_when_due_l_per_h": "wanted_l_per_h",
    "chance_new_element_lacks_flow": "chance_clean_lacks",
    "dirt_a_day": "dirt",
    "present_pump_suffices": "present_suffices",
    "fits_present_size": "fits",
    "most_area_in_present_size_m2": "most_area_m2",
    "area_in_present_size_m2": "area_in_this_size_m2",
    "longest_in_present_size_days": "longest_in_this_size_days",
    "horizon_total": "total",
    "sums_by_month": "by_month",
    "sums_by_year": "by_year",
    "gap_per_year": "gap",
    "today_do": "advice",
    "measure_next": "measure",
    "from": "before",
    "to": "after",
    "assumed": "line",
}
"""Keys that are called otherwise where they are worked out."""
APART = {"option", "study", "notes", "cautions", "what", "when", "find_out", "of", "format", "together", "over", "why"}
APART |= {"advised", "cheapest", "diagnosis"}
"""Keys in words, or that say which."""


def plain(value: object) -> object:
    """Return a value as JSON has it."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {key: plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    return value.isoformat() if isinstance(value, date) else value


def held(document: Mapping[str, Any], of: object) -> Iterator[str]:
    """Yield the keys of a document that stand for a field of what it tells, once they hold its figure."""
    for key, value in document.items():
        name = OTHERWISE.get(key, key)
        if key in APART or not hasattr(of, name):
            continue
        there = getattr(of, name)
        if isinstance(value, dict) and is_dataclass(there):
            yield from held(value, there)
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            assert len(value) == len(there), key
            for each, one in zip(value, there, strict=True):
                yield from held(each, one)
        else:
            percents = isinstance(value, dict) and list(value) == ["p10", "p50", "p90"]
            assert (list(value.values()) if percents else value) == plain(there), key
        yield key


def test_each_key_holds_the_figure_it_names() -> None:
    answer, plan, ahead, club = said.answer(), said.planned(), said.ahead(), said.club()
    pump, area = smallest_pump(answer.study, "pleated-20", 5e-4), area_for_interval(answer.study, "pleated-20", 30.0)
    checked, saved = leaning(said.tub()), savings(answer)
    for document, of, at_least in (
        (documents.answer_document(answer), answer, 100),
        (documents.plan_document(plan), plan, 20),
        (documents.forecast_document(ahead), ahead, 40),
        (documents.size_document(pump), pump, 25),
        (documents.size_document(area), area, 20),
        (documents.sweep_document(said.swept()), said.swept(), 20),
        (documents.check_document(checked), checked, 20),
        (documents.fleet_document(club), club, 10),
    ):
        assert len(list(held(json.loads(json.dumps(document)), of))) >= at_least, document["format"]
    document = documents.savings_document(saved)
    assert saved.now is not None
    assert document["cost_per_year"] == saved.now.cost_per_year.total
    for key in ("days_to_first_service", "see_through_worst_m", "meets_needs"):
        assert document[key] == getattr(saved.now, key)
    for each, one in zip(document["savings"], saved.changes, strict=True):  # type: ignore[call-overload]  # a list
        assert len(list(held(each, one))) >= 8
    for each, one in zip(documents.answer_document(answer)["options"], answer.options, strict=True):  # type: ignore[call-overload]
        assert one.sureness is not None
        assert len(list(held(each, one.sureness))) >= 3
    for each, tub in zip(documents.fleet_document(club)["tubs"], club.tubs, strict=True):  # type: ignore[call-overload]
        assert len(list(held({key: value for key, value in each.items() if "per_year" not in key}, tub))) >= 8


@pytest.mark.parametrize(
    ("told", "text"),
    [
        (words.left_out(1), "One row does not count until it is mended."),
        (words.left_out(3), "3 rows do not count until they are mended."),
        (words.saved_state("A", 2, 0, 0, None), "Nothing here yet."),
        (words.saved_state("A", 2, 3, 0, None), "Not saved anywhere: 3 readings."),
        (words.saved_state("A", 2, 0, 0, "B"), "Saved for A: 2 readings in B. Nothing is unsaved."),
        (
            words.saved_state("A", 2, 1, 4, "B"),
            "Saved for A: 2 readings in B. Not saved yet: 1 reading new or changed, 4 readings taken out.",
        ),
        (words.was_saved(2, 1, 7, "B"), "Saved: 2 added, 1 taken out; 7 readings in all, in B."),
        (words.was_undone(2, 1, "B"), "Undone in B: 2 readings taken out again, 1 reading back again."),
        (words.was_undone(0, 0, "B"), "Nothing to undo in B."),
        (words.was_brought(2, 3, "f"), "2 readings of f taken into the table, 3 stood there already."),
        (words.was_brought(0, 3, "f"), "Nothing new in f, 3 stood there already."),
        (words.the_latest(5000, 12345), "The table shows the latest 5,000 of 12,345 readings; all of them count."),
    ],
)
def test_readings_are_counted_in_words(told: str, text: str) -> None:
    assert told == text


@pytest.mark.parametrize(("left", "told"), [(0.3, "about a third"), (0.5, "about half"), (0.9, "a little")])
def test_what_a_reading_narrows_is_told_as_an_order(left: float, told: str) -> None:
    measure = said.answer().odds.measure
    assert measure is not None
    assert told in odds_words.narrowing(replace(measure, width_share=left))


@pytest.mark.parametrize(("more", "saved", "told"), [(4.0, 9.0, ("more", "less")), (-4.0, -9.0, ("less", "more"))])
def test_fewer_kinds_cost_or_save(more: float, saved: float, told: tuple[str, str]) -> None:
    """Sums are told without a sign, with the word that says which way."""
    (standard,) = said.club().standards
    (change,) = standard.changes
    changes = (replace(change, more_per_year=more),)
    text = fleet_tables.fewer_kinds(
        replace(standard, changes=changes, stock_saved=saved, spares_before=7, spares_after=3)
    )
    assert f"EUR 4.00 a year {told[0]}." in text
    assert f"Spares to keep: 3 instead of 7, EUR 9.00 {told[1]} once." in text


def test_tubs_whose_readings_do_not_all_count_are_named() -> None:
    club = said.club()
    first, *others = club.tubs
    notes = fleet_tables.notes(replace(club, tubs=(replace(first, readings_refused=1), *others)))
    assert [line for line in notes if "Quay" in line]
    assert not [line for line in fleet_tables.notes(club) if "Quay" in line]


@pytest.mark.parametrize(
    ("name", "kind", "told"),
    [
        ("Pleated 20", "pleated", "Pleated 20 µm"),
        ("Sheet", "pleated", "Sheet (pleated, 20 µm)"),
        ("20 micron sheet", "pleated", "20 micron sheet"),
        ("Both", "train", "Both"),
    ],
)
def test_an_option_is_called_with_its_rating_once(name: str, kind: Any, told: str) -> None:
    option = replace(said.answer().options[0], name=name, kind=kind, rating_um=20.0)
    assert front.called(option, said.answer()) == told


def test_each_file_offered_is_one_that_is_made() -> None:
    assert {(ending, held) for ending, some in WAYS.items() for held in some} >= set(FILES)


def test_a_few_shops_are_counted_in_words() -> None:
    counted = ["One supplier", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "11"]
    for count, word in enumerate(counted, start=1):
        bought = Purchase(item="P", what="element", count=1, amount=9.0, spares=2, suppliers=count, lead_time_days=10.0)
        (line,) = plan_words.shopping(replace(said.planned(), shopping=(bought,)))
        whole = word if count == 1 else f"{word} suppliers"
        assert line == f"P: 1 in the year, EUR 9.00. {whole}, 10 days: keep 2."
