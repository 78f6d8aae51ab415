"""The pictures show the answer's own numbers, and do without those that are not there."""

from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from math import isfinite, nan
from typing import Any

import numpy as np
import pytest

from filtration import Comparison, NoAnswerError
from filtration.answer import CostPerYear, FlowRecord, OptionAnswer
from filtration.present.charts import METRIC, PICTURES, Display, cost_chart, days_chart, flow_chart, pressure_chart
from filtration.present.phrases import PARTS
from filtration.units import in_unit

Spec = dict[str, Any]
MOST_POINTS = 500


def tables(spec: Spec) -> list[list[Spec]]:
    """Return the data behind a chart, one list a layer or shared by several."""
    inline = [layer["data"]["values"] for layer in [spec, *spec["layer"]] if "values" in layer.get("data", {})]
    return inline + list(spec.get("datasets", {}).values())


def rows(spec: Spec, *keys: str) -> list[Spec]:
    """Return the rows that have all of the keys, each once."""
    found = [row for table in tables(spec) for row in table if set(keys) <= set(row)]
    return [dict(each) for each in dict.fromkeys(tuple(sorted(row.items())) for row in found)]


def values_in(node: object) -> Iterator[float]:
    if isinstance(node, float):
        yield node
    elif isinstance(node, dict):
        for value in node.values():
            yield from values_in(value)
    elif isinstance(node, list):
        for value in node:
            yield from values_in(value)


def without(comparison: Comparison, name: str, **changes: object) -> Comparison:
    options = tuple(replace(o, **changes) if o.id == name else o for o in comparison.options)  # type: ignore[arg-type]
    return replace(comparison, options=options)


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_a_valid_chart_with_words_beside_it(demo: Comparison, name: str) -> None:
    picture = PICTURES[name]
    spec = picture.draw(demo, METRIC).to_dict()
    assert spec["height"] >= 400
    assert spec["config"]["font"].endswith("Arial, sans-serif")
    assert spec["config"]["legend"]["orient"] == "bottom"
    assert spec["config"]["legend"]["symbolOpacity"] == 1
    assert spec["description"] == picture.alt(demo, METRIC)
    assert len(spec["description"]) > 60
    assert all(isfinite(value) for value in values_in(spec))
    assert tables(spec)
    for table in tables(spec):
        series: dict[str, int] = {}
        for row in table:
            key = str(row.get("line", row.get("id", row.get("option"))))
            series[key] = series.get(key, 0) + 1
        assert max(series.values()) <= MOST_POINTS


def test_pressures_are_the_answers_own(demo: Comparison) -> None:
    seen = {(row["id"], row["state"]): row for row in rows(pressure_chart(demo).to_dict(), "id", "loss")}
    drawn = [option for option in demo.options if option.pump == demo.options[0].pump]
    assert len(seen) == 2 * len(drawn)
    for option in drawn:
        for state, loss in (("new", option.clean_filter_loss_kpa), ("when due", option.due_filter_loss_kpa)):
            assert loss is not None
            assert seen[option.id, state]["loss"] == pytest.approx(in_unit(1e3 * loss, "cm of water"))
            assert seen[option.id, state]["rating_um"] == option.rating_um


def test_options_of_one_rating_stand_side_by_side(freezer: Comparison) -> None:
    drawn = {row["id"]: row["drawn_um"] for row in rows(pressure_chart(freezer).to_dict(), "drawn_um")}
    twenty = [drawn[option.id] for option in freezer.options if option.rating_um == 20.0]
    assert len(set(twenty)) == len(twenty) == 4
    assert all(14.0 < value < 28.0 for value in twenty)
    assert np.prod(twenty) ** (1 / len(twenty)) == pytest.approx(20.0)


def test_points_and_curve_of_flow_are_the_answers_own(demo: Comparison) -> None:
    spec = flow_chart(demo).to_dict()
    seen = {(row["id"], row["state"]): row for row in rows(spec, "id", "resistance")}
    for option in demo.options:
        assert seen[option.id, "new"]["flow"] == pytest.approx(option.clean_flow_l_per_h)
        assert seen[option.id, "when due"]["flow"] == pytest.approx(option.due_flow_l_per_h)
        loss = in_unit(1e3 * (option.clean_filter_loss_kpa or 0.0), "cm of water")
        resistance = 1000.0 * loss / option.clean_flow_l_per_h
        assert seen[option.id, "new"]["resistance"] == pytest.approx(resistance)
    for loop in demo.loops:
        curve = [row for row in rows(spec, "line", "resistance") if row["line"] == loop.pump]
        assert len(curve) > 40
        for row in curve:
            kpa = 1e-3 * row["resistance"] / 1000.0 * row["flow"] / in_unit(1.0, "cm of water")
            left = np.interp(row["flow"], loop.flow_l_per_h, loop.left_kpa)
            assert kpa == pytest.approx(left, rel=1e-6, abs=1e-9)


def test_an_option_with_one_housing_lies_on_its_pumps_curve(demo: Comparison) -> None:
    spec = flow_chart(demo).to_dict()
    single = {option.id: option.pump for option in demo.options if option.housings == 1}
    curves = {
        pump: sorted(
            (row["resistance"], row["flow"]) for row in rows(spec, "line", "resistance") if row["line"] == pump
        )
        for pump in set(single.values())
    }
    for row in rows(spec, "id", "resistance"):
        if row["id"] in single:
            x, y = zip(*curves[single[row["id"]]], strict=True)
            assert row["flow"] == pytest.approx(np.interp(np.log(row["resistance"]), np.log(x), y), rel=0.01)


def test_the_rule_stands_at_the_wanted_flow(demo: Comparison) -> None:
    for chart in (flow_chart, days_chart):
        wanted = [row for row in rows(chart(demo).to_dict(), "line") if str(row["line"]).startswith("wanted")]
        assert [row["flow"] for row in wanted] == [pytest.approx(demo.wanted_flow_l_per_h)]
        share = rows(chart(replace(demo, wanted_flow_l_per_h=None)).to_dict(), "line")
        assert not [row for row in share if str(row["line"]).startswith("wanted")]


def test_flow_over_the_days_breaks_at_each_service(freezer: Comparison) -> None:
    drawn = rows(days_chart(freezer).to_dict(), "line", "day", "run")
    names = {row["line"] for row in drawn}
    assert 2 <= len(names) <= 4
    assert freezer.options[0].name in names
    for option in freezer.options:
        if option.name not in names:
            continue
        record = option.flow_record
        own = sorted((row for row in drawn if row["line"] == option.name), key=lambda row: (row["run"], row["day"]))
        expected = [(d, f) for d, f in zip(record.day, record.flow_l_per_h, strict=True) if f is not None]
        assert [(row["day"], row["flow"]) for row in own] == [(d, pytest.approx(f)) for d, f in expected]
        assert len({row["run"] for row in own}) == record.flow_l_per_h.count(None)


def test_bars_lie_end_to_end_and_colour_is_what_the_choice_changes(demo: Comparison) -> None:
    drawn = rows(cost_chart(demo).to_dict(), "part", "amount")
    bars: dict[str, list[Spec]] = {}
    for row in drawn:
        bars.setdefault(row["option"], []).append(row)
    costed = [option for option in demo.options if option.cost_per_year.total is not None]
    assert len(bars) == len(costed)
    for bar, option in zip(bars.values(), costed, strict=True):
        bar.sort(key=lambda row: row["from"])
        assert bar[0]["from"] == 0.0
        assert [row["to"] for row in bar[:-1]] == pytest.approx([row["from"] for row in bar[1:]])
        assert bar[-1]["to"] == pytest.approx(option.cost_per_year.total)
        chosen = [row["amount"] for row in bar if row["part"] in PARTS.values()]
        assert sum(chosen) == pytest.approx(option.choice_cost_per_year)
        by_part = {row["part"]: row["amount"] for row in bar}
        for part in fields(CostPerYear):
            if part.name in PARTS and PARTS[part.name] in by_part:
                assert by_part[PARTS[part.name]] == pytest.approx(getattr(option.cost_per_year, part.name))


def test_a_single_option_shows_all_its_parts(freezer: Comparison) -> None:
    alone = replace(freezer, options=freezer.options[:1])
    parts = {row["part"] for row in rows(cost_chart(alone).to_dict(), "part")}
    assert parts <= set(PARTS.values())
    assert PARTS["pumping"] in parts


@pytest.mark.parametrize("nothing", [None, nan])
def test_an_option_without_figures_is_left_out_and_named(freezer: Comparison, nothing: float | None) -> None:
    lost = freezer.options[1]
    poorer = without(
        freezer,
        lost.id,
        clean_filter_loss_kpa=nothing,
        due_filter_loss_kpa=nothing,
        cost_per_year=CostPerYear(total=nothing),
        flow_record=FlowRecord(day=(), flow_l_per_h=()),
    )
    for picture in PICTURES.values():
        spec = picture.draw(poorer, METRIC).to_dict()
        assert lost.name in picture.left_out(poorer)
        assert all(isfinite(value) for value in values_in(spec))
        drawn = {str(row.get("option", row.get("line"))) for row in rows(spec)}
        assert lost.name not in {name.split(", ")[0] for name in drawn}


def _stopped(option: OptionAnswer) -> OptionAnswer:
    return replace(
        option,
        clean_flow_l_per_h=0.0,
        due_flow_l_per_h=0.0,
        clean_filter_loss_kpa=None,
        due_filter_loss_kpa=None,
        cost_per_year=CostPerYear(),
        flow_record=FlowRecord(),
    )


@pytest.mark.parametrize("name", PICTURES)
def test_where_no_water_moves_there_is_nothing_to_draw(freezer: Comparison, name: str) -> None:
    still = replace(freezer, options=tuple(map(_stopped, freezer.options)), loops=())
    for answer in (still, replace(still, options=())):
        with pytest.raises(NoAnswerError, match="no "):
            PICTURES[name].draw(answer, METRIC)
        PICTURES[name].alt(answer, METRIC)
        assert len(PICTURES[name].left_out(answer)) == len(answer.options)


def test_other_units_can_be_shown(freezer: Comparison) -> None:
    other = Display(flow="gph", pressure="kPa", ink="#000000")
    seen = rows(pressure_chart(freezer, other).to_dict(), "loss")
    assert max(row["loss"] for row in seen) == pytest.approx(max(o.due_filter_loss_kpa or 0.0 for o in freezer.options))
    flows = [row["flow"] for row in rows(flow_chart(freezer, other).to_dict(), "id", "flow")]
    assert max(flows) == pytest.approx(max(o.clean_flow_l_per_h for o in freezer.options) / 3.785411784)


def test_drawing_is_pure(answer_of: Callable[[str], Comparison]) -> None:
    answer = answer_of("quay")
    for picture in PICTURES.values():
        assert picture.draw(answer, METRIC).to_json() == picture.draw(answer, METRIC).to_json()
