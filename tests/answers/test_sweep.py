"""Curves against a micron rating or any key: the answer's own figures, value by value, and what physics demands."""

from itertools import pairwise
from typing import Any

import pytest
from studies import FOAM, Given, answered, changed, demo_data, short, study_of

from filtration import Comparison, InputError, OptionAnswer, Sweep, sweep
from filtration.answers.curves import KINDS_SWEPT, RATINGS_UM, Curve, Swept

SLIM = "10 x 2.5 in"
SAME = [name for name in Swept.__slots__ if name not in ("value", "cost_per_year")]
SPUN = {"name": "Spun 5", "kind": "spun", "size": SLIM, "rating": "5 um", "price": 6}


@pytest.fixture(scope="module")
def found() -> Sweep:
    """Return the three kinds on the pump of the freezer tub."""
    return sweep(study_of(demo_data("freezer")), option="pleated-20")


def curve(found: Sweep, kind: str) -> Curve:
    (one,) = (each for each in found.curves if each.kind == kind)
    return one


def agree(row: Swept, option: OptionAnswer) -> None:
    """Assert that a row has an option's figures to the last digit."""
    assert {name: getattr(row, name) for name in SAME} == {name: getattr(option, name) for name in SAME}
    assert row.cost_per_year == option.cost_per_year.total


def test_a_curve_a_kind_fine_enough_to_draw(found: Sweep) -> None:
    assert [(each.kind, each.size) for each in found.curves] == [(kind, SLIM) for kind in KINDS_SWEPT]
    for each in found.curves:
        assert [row.value for row in each.rows] == list(RATINGS_UM)
        assert len(each.rows) > 20
        assert {1.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0} <= {row.value for row in each.rows}


@pytest.mark.parametrize(
    "option", ["spun-1", "spun-5", "spun-10", "spun-20", "wound-50", "wound-100", "pleated-5", "pleated-20"]
)
def test_figures_are_those_of_the_same_element_compared(found: Sweep, freezer: Comparison, option: str) -> None:
    other = freezer.option(option)
    (row,) = (row for row in curve(found, other.kind).rows if row.value == other.rating_um)
    agree(row, other)


def test_finer_loses_more_and_leaves_less_flow(found: Sweep) -> None:
    for each in found.curves:
        for finer, coarser in pairwise(each.rows):
            assert finer.clean_filter_loss_kpa is not None
            assert coarser.clean_filter_loss_kpa is not None
            assert finer.clean_filter_loss_kpa > coarser.clean_filter_loss_kpa
            assert finer.clean_flow_l_per_h < coarser.clean_flow_l_per_h
    for spun, wound, pleated in zip(*(each.rows for each in found.curves), strict=True):
        assert (wound.clean_filter_loss_kpa or 0.0) > (spun.clean_filter_loss_kpa or 0.0)
        assert (spun.clean_filter_loss_kpa or 0.0) > (pleated.clean_filter_loss_kpa or 0.0)


def test_at_the_rinse_it_takes_more_than_clean(found: Sweep) -> None:
    running = [row for each in found.curves for row in each.rows if row.days_to_first_service]
    assert len(running) > 20
    assert all((row.due_filter_loss_kpa or 0.0) > (row.clean_filter_loss_kpa or 0.0) for row in running)


def test_what_does_not_run_has_no_days_and_no_year(found: Sweep) -> None:
    finest = curve(found, "spun").rows[0]
    assert (finest.days_to_first_service, finest.cost_per_year, finest.meets_needs) == (0.0, None, False)
    still = sweep(study_of(changed({"plumbing.static_lift": "4 m"})), option="pleated-20")
    for row in (row for each in still.curves for row in each.rows):
        assert (row.clean_filter_loss_kpa, row.due_filter_loss_kpa, row.clean_flow_l_per_h) == (None, None, 0.0)
        assert (row.days_to_first_service, row.cost_per_year, row.meets_needs) == (0.0, None, False)


def test_the_table_has_a_row_a_value(found: Sweep) -> None:
    table = found.table()
    assert len(table) == 3 * len(RATINGS_UM)
    assert list(table.columns) == ["kind", "size", "over", "unit", *Swept.__slots__]
    assert set(table["over"]) == {"elements.rating"}
    assert "<table" in found._repr_html_()


def test_unless_told_otherwise_it_goes_by_the_option_to_take() -> None:
    data = changed({"elements.1": SPUN, "elements.0.size": "20 x 2.5 in"})
    told, taken = sweep(study_of(data), kinds=["spun"], ratings=[20]), answered(data).spoken_of
    assert (told.option, told.name, told.pump) == (taken.id, taken.name, taken.pump)
    assert [each.size for each in told.curves] == ["20 x 2.5 in"]
    assert sweep(study_of(short()), kinds=["wound"], ratings=["20 um"]).curves[0].rows[0].value == 20.0


def test_prices_lie_between_those_of_the_study() -> None:
    cheap, dear = (SPUN | {"name": f"Spun {um}", "rating": f"{um} um", "price": um / 10} for um in (20, 80))
    data = changed({"elements.1": cheap, "elements.2": dear, "plumbing.bore": "25 mm"})
    needs = {"turnovers_per_hour": 0.5, "see_through": "1 cm", "replace_at_least_every": "9 day"}
    found = sweep(study_of(data | {"needs": needs}), option="pleated-20", ratings=[20, "40 um", 80])
    years = [row.cost_per_year or 0.0 for row in curve(found, "spun").rows]
    assert {row.days_to_first_service for row in curve(found, "spun").rows} == {9.0}
    assert years[1] - years[0] == pytest.approx(years[2] - years[1], rel=0.05)
    assert years[2] - years[0] == pytest.approx(6.0 * 365.25 / 9.0, rel=0.05)
    assert [each.priced for each in found.curves] == [True, False, True]


def test_a_longer_cartridge_loses_less() -> None:
    found = sweep(study_of(short()), option="pleated-20", sizes=[SLIM, "20 x 2.5 in"])
    assert len(found.curves) == 6
    for slim, long in zip(found.curves[::2], found.curves[1::2], strict=True):
        assert (slim.kind, slim.size, long.kind, long.size) == (slim.kind, SLIM, slim.kind, "20 x 2.5 in")
        for one, other in zip(slim.rows, long.rows, strict=True):
            assert (one.clean_filter_loss_kpa or 0.0) > (other.clean_filter_loss_kpa or 0.0)


def test_the_options_own_pleats_and_care_are_kept_and_its_makers_figures_left_aside() -> None:
    own: Given = {"elements.0.pleats": 90, "elements.0.pleat_depth": "14 mm", "elements.0.rinse_recovery": 0.8}
    studies = [study_of(changed(own | more)) for more in ({}, {"elements.0.dirt_capacity": "9 g"})]
    found = [sweep(each, kinds=["pleated"], option="pleated-20") for each in studies]
    (row,) = (row for row in found[0].curves[0].rows if row.value == 20.0)
    agree(row, answered(changed(own)).option("pleated-20"))
    assert found[0].curves == found[1].curves
    assert [each.left_aside for each in found] == [(), ("Pleated 20",)]


OVER: list[tuple[str, list[Any], str | None, list[Any]]] = [
    ("plumbing.bore", ["25 mm", "1.9 cm", "16 mm"], "mm", [25.0, 19.0, 16.0]),
    ("pump.hours_per_day", [8, 24], None, [8.0, 24.0]),
    ("tub.feet", ["rinsed", "from the garden"], None, ["rinsed", "from the garden"]),
    ("elements.Pleated 20.rating", ["10 um", "0.02 mm"], "um", [10.0, 20.0]),
    ("needs.rinse_at_least_every", ["10 day", "never"], None, ["10 day", "never"]),
    ("tub.shared_with_public", [True, False], None, [True, False]),
]


@pytest.mark.parametrize(("key", "values", "unit", "shown"), OVER, ids=[each[0] for each in OVER])
def test_over_a_key_figures_are_those_of_the_study_with_it(
    key: str, values: list[Any], unit: str | None, shown: list[Any]
) -> None:
    found = sweep(short(), over=key, values=values, option="pleated-20")
    (line,) = found.curves
    assert (found.over, found.unit, line.kind, line.size) == (key, unit, "pleated", SLIM)
    assert len(line.rows) == len(shown)
    path, rows = key.replace("elements.Pleated 20", "elements.0"), {row.value: row for row in line.rows}
    for value, there in zip(values, shown, strict=True):
        agree(rows[there], answered(changed({path: value})).option("pleated-20"))


def test_a_train_is_moved_too() -> None:
    train = {"name": "Train", "stages": ["Foam 20 ppi", "Pleated 20"]}
    data: Given = changed({"elements.1": FOAM, "options": [train]})
    (line,) = sweep(data, over="plumbing.length", values=["2 m", "4 m"]).curves
    assert (line.kind, line.size) == ("train", SLIM)
    assert line.rows[0].clean_flow_l_per_h > line.rows[1].clean_flow_l_per_h


WRONG: list[tuple[dict[str, Any], list[str]]] = [
    ({"kinds": ["foam"]}, ["kinds: must be spun, wound or pleated, got 'foam'; sweep a foam over its pores_per_inch"]),
    ({"ratings": ["20 m"], "kinds": ["x"]}, ["kinds: must be spun", "ratings: must be 0.1 um to 2000 um, got '20 m'"]),
    ({"sizes": ["3 in"]}, ["sizes: must be one of the common sizes"]),
    ({"ratings": [1 + 0.1 * step for step in range(200)]}, ["ratings: at most 500 points, got 3 curves of 200"]),
    ({"option": "pleated-21"}, ["option: no option has the id or name 'pleated-21'; the nearest is 'pleated-20'"]),
    (
        {"over": "plumbing.boar", "values": ["1 m"]},
        ["is no key of a study; under plumbing the nearest is 'bore'"],
    ),
    ({"over": "plumb.bore", "values": ["1 m"]}, ["'plumb.bore' is no key of a study; the nearest is 'plumbing'"]),
    ({"over": "colour", "values": ["1 m"]}, ["'colour' is no key of a study; there are 'tub', 'pump', "]),
    ({"over": "plumbing.bore", "values": []}, ["values: must be 1 to 500, got 0"]),
    (
        {"over": "plumbing.bore", "values": ["0 mm", "19 mm", "2"]},
        [
            "values: must be 1 mm to 500 mm, got '0 mm'",
            "values: needs a length such as '19 mm', got '2' without",
        ],
    ),
    ({"over": "elements.Pleated 2.price", "values": [2]}, ["over 'elements.Pleated 2.price': there is no 'Pleated 2'"]),
]


@pytest.mark.parametrize(("asked", "told"), WRONG)
def test_what_is_wrong_is_told_all_at_once(asked: dict[str, Any], told: list[str]) -> None:
    with pytest.raises(InputError) as error:
        sweep(short(), **({"option": "pleated-20"} | asked))
    assert len(error.value.faults) == len(told)
    assert all(part in fault for part, fault in zip(told, error.value.faults, strict=True))


def test_to_move_a_key_tables_are_needed() -> None:
    with pytest.raises(InputError, match="the study's tables are needed"):
        sweep(study_of(short()), over="plumbing.bore", values=["19 mm"])


def test_beside_an_odd_shape_the_usual_size_is_swept() -> None:
    """A foam has no common size: what stands beside it is of the commonest, as the same element compared."""
    found = sweep(study_of(changed({"elements.0": FOAM})), kinds=["pleated"], ratings=[20])
    (one,) = found.curves
    assert (one.size, one.priced) == (SLIM, False)
    (row,) = one.rows
    agree(row, answered(changed({"elements.0.price": 0})).option("pleated-20"))
