"""The pictures show the answer's own numbers, and do without those that are not there."""

from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from itertools import pairwise
from math import isfinite, nan
from typing import Any

import numpy as np
import pytest
from studies import short

from filtration import Comparison, NoAnswerError, compare
from filtration.answers.clearness import catch_by_size, clearness_of
from filtration.answers.results import CostPerYear, FlowRecord, OptionAnswer
from filtration.answers.series import flow_runs, flow_runs_at, follow_option, loading_of
from filtration.base.defaults import UNKNOWNS
from filtration.base.draws import ONE_IN_TEN
from filtration.base.units import in_unit
from filtration.present.charts.catalogue import METRIC, PICTURES, US, Display
from filtration.present.charts.clear import catch_chart, lives_chart, view_chart
from filtration.present.charts.look import line_colours
from filtration.present.charts.losses import flow_chart, pressure_chart
from filtration.present.charts.odds import COST, DAYS, Figure, cases_chart, drivers_chart
from filtration.present.charts.paid import paid_chart, pair_of
from filtration.present.charts.pictures import a_few
from filtration.present.charts.rating_map import map_chart
from filtration.present.charts.series import life_chart, loading_chart
from filtration.present.charts.year import cost_chart, days_chart
from filtration.present.words.phrases import PARTS, due, money, title
from filtration.study.file import study_from_dict

Spec = dict[str, Any]
MOST_POINTS = 500
OF_SOME = ("map", "days")  # pictures that show some, and say which
GROUPS = ("reusable", "disposable", "does not meet your needs")
WITHOUT_DRAWS = ("map", "pressure", "flow", "days", "cost")


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
    options = tuple(replace(o, **changes) if o.id == name else o for o in comparison.options)  # type: ignore[arg-type]  # changes are fields of an answer
    return replace(comparison, options=options)


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_a_valid_chart_with_words_beside_it(drawn: Comparison, name: str) -> None:
    picture = PICTURES[name]
    spec = picture.draw(drawn, METRIC).to_dict()
    assert spec["height"] >= 400
    assert spec["config"]["font"].endswith("Arial, sans-serif")
    assert spec["config"]["legend"]["orient"] == "bottom"
    assert spec["config"]["legend"]["symbolOpacity"] == 1
    assert spec["description"] == picture.alt(drawn, METRIC)
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
    drawn = [option for option in demo.options if option.pump == demo.spoken_of.pump]
    assert len(seen) == 2 * len(drawn)
    for option in drawn:
        for state, loss in (("new", option.clean_filter_loss_kpa), ("at rinse", option.due_filter_loss_kpa)):
            assert loss is not None
            assert seen[option.id, state]["loss"] == pytest.approx(in_unit(1e3 * loss, "cm of water"))
            assert seen[option.id, state]["rating_um"] == option.rating_um


def test_points_and_curve_of_flow_are_the_answers_own(demo: Comparison) -> None:
    spec = flow_chart(demo).to_dict()
    seen = {(row["id"], row["state"]): row for row in rows(spec, "id", "resistance")}
    for option in demo.options:
        assert seen[option.id, "new"]["flow"] == pytest.approx(option.clean_flow_l_per_h)
        assert seen[option.id, "at rinse"]["flow"] == pytest.approx(option.due_flow_l_per_h)
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
    """The one to take and the cheapest that is thrown away, from nought, over all 60 days."""
    spec = days_chart(freezer).to_dict()
    drawn = rows(spec, "line", "day", "run")
    taken, disposable = freezer.spoken_of, freezer.option("spun-20")
    assert {row["line"] for row in drawn} == {taken.name, disposable.name}
    for option in (taken, disposable):
        record = option.flow_record
        own = sorted((row for row in drawn if row["line"] == option.name), key=lambda row: (row["run"], row["day"]))
        expected = [(d, f) for d, f in zip(record.day, record.flow_l_per_h, strict=True) if f is not None]
        assert [(row["day"], row["flow"]) for row in own] == [(d, pytest.approx(f)) for d, f in expected]
        assert len({row["run"] for row in own}) == record.flow_l_per_h.count(None)
        assert record.day[-1] >= 60.0
    scales = [
        layer["encoding"][at]["scale"]["domain"]
        for layer in spec["layer"]
        for at in ("x", "y")
        if at in layer["encoding"]
    ]
    assert [0.0, 60.0] in scales
    assert all(domain[0] == 0.0 for domain in scales)


def test_a_crowd_of_services_is_a_band_between_two_lines(demo: Comparison) -> None:
    """An eye follows a dozen: what is replaced every few days stands between its flow when new and when due."""
    for option in demo.options:
        if not any(option.flow_record.flow_l_per_h):
            continue
        spec = days_chart(demo, METRIC, option).to_dict()
        services = option.flow_record.flow_l_per_h.count(None)
        drawn = [row for row in rows(spec, "line", "day", "run") if row["line"] == title(option, demo)]
        edges = [row for row in rows(spec, "low", "high") if row.get("line") == title(option, demo)]
        assert bool(drawn) == (services <= 12)
        assert bool(edges) == (services > 12)
        for edge in edges:
            flows = [flow for flow in option.flow_record.flow_l_per_h if flow is not None]
            assert (edge["low"], edge["high"]) == (pytest.approx(min(flows)), pytest.approx(max(flows)))


def test_bars_lie_end_to_end_and_colour_is_what_the_choice_changes(demo: Comparison) -> None:
    """Reusable first, then disposable, each best first; what fails a need stands last, in one hatched piece."""
    spec = cost_chart(demo).to_dict()
    drawn = rows(spec, "part", "amount")
    bars: dict[str, list[Spec]] = {}
    for row in drawn:
        bars.setdefault(row["option"], []).append(row)
    costed = [option for option in demo.options if option.cost_per_year.total is not None]
    assert len(bars) == len(costed)

    def group(option: OptionAnswer) -> int:
        return 2 if not option.meets_needs else int(not all(stage.rinses_before_replacing for stage in option.stages))

    domain = next(layer["encoding"]["y"]["scale"]["domain"] for layer in spec["layer"])
    heads = [name for name in domain if name not in bars]
    assert heads == [name for place, name in enumerate(GROUPS) if any(group(option) == place for option in costed)]
    in_order = [name for name in domain if name in bars]
    for name, option in zip(in_order, sorted(costed, key=group), strict=True):
        bar = sorted(bars[name], key=lambda row: row["from"])
        assert bar[0]["from"] == 0.0
        assert [row["to"] for row in bar[:-1]] == pytest.approx([row["from"] for row in bar[1:]])
        assert bar[-1]["to"] == pytest.approx(option.cost_per_year.total)
        if not option.meets_needs:
            assert [row["part"] for row in bar] == ["does not meet your needs"]
            strokes = [row["at"] for row in rows(spec, "at") if row["option"] == name]
            assert strokes
            assert max(strokes) < bar[-1]["to"]
            continue
        chosen = [row["amount"] for row in bar if row["part"] in PARTS.values()]
        assert sum(chosen) == pytest.approx(option.choice_cost_per_year)
        by_part = {row["part"]: row["amount"] for row in bar}
        for part in fields(CostPerYear):
            if part.name in PARTS and PARTS[part.name] in by_part:
                assert by_part[PARTS[part.name]] == pytest.approx(getattr(option.cost_per_year, part.name))


def test_what_fails_a_need_does_not_squeeze_the_others(freezer: Comparison) -> None:
    """However dear it would be, the axis ends with the dearest that meets the needs."""
    dear = freezer.option("foam-20-ppi")
    dearer = replace(dear, cost_per_year=replace(dear.cost_per_year, total=1e5))
    options = tuple(dearer if option is dear else option for option in freezer.options)
    spec = cost_chart(replace(freezer, options=options)).to_dict()
    (axis,) = {tuple(layer["encoding"]["x"]["scale"]["domain"]) for layer in spec["layer"]}
    assert axis == (0.0, max(option.cost_per_year.total or 0.0 for option in options if option.meets_needs))
    assert "cut off" in str(spec["title"])


def test_what_fails_a_need_is_no_partner_in_money(freezer: Comparison) -> None:
    """Foam 20 ppi would be the cheapest of all, but leaves the water cloudy."""
    pair = pair_of(freezer, freezer.option("spun-20"))
    assert pair is not None
    assert [option.name for option in pair] == ["Pleated 50", "Spun 20"]
    assert min(freezer.options, key=lambda each: each.cost_per_year.total or 1e9).name == "Foam 20 ppi"


def test_a_single_option_shows_all_its_parts() -> None:
    alone = compare(study_from_dict(short()), draws=0)
    assert len(alone.options) == 1
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
    for picture in (PICTURES[name] for name in WITHOUT_DRAWS if name not in OF_SOME):
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
        if name == "map" and answer is still:  # which says so in its fields
            continue
        with pytest.raises(NoAnswerError, match="no "):
            PICTURES[name].draw(answer, METRIC)
        PICTURES[name].alt(answer, METRIC)
        assert len(PICTURES[name].left_out(answer)) == (
            0 if name.endswith("drivers") or name in OF_SOME else len(answer.options)
        )


def test_other_units_can_be_shown(freezer: Comparison) -> None:
    other = Display(flow="gph", pressure="kPa")
    seen = rows(pressure_chart(freezer, other).to_dict(), "loss")
    assert max(row["loss"] for row in seen) == pytest.approx(max(o.due_filter_loss_kpa or 0.0 for o in freezer.options))
    flows = [row["flow"] for row in rows(flow_chart(freezer, other).to_dict(), "id", "flow")]
    assert max(flows) == pytest.approx(max(o.clean_flow_l_per_h for o in freezer.options) / 3.785411784)


def test_drawing_is_pure(drawn_answer_of: Callable[[str], Comparison]) -> None:
    answer = drawn_answer_of("quay")
    for picture in PICTURES.values():
        assert picture.draw(answer, METRIC).to_json() == picture.draw(answer, METRIC).to_json()


def cases_in(comparison: Comparison, figure: Figure) -> dict[str, list[Spec]]:
    """Return the dots of a chart by option, in the order of the data."""
    spec = cases_chart(figure, comparison).to_dict()
    found: dict[str, list[Spec]] = {}
    for dot in (dot for table in tables(spec) for dot in table if "value" in dot):
        dots = found.setdefault(dot["option"], [])
        dots += [] if dot in dots else [dot]
    return found


@pytest.mark.parametrize("figure", [DAYS, COST], ids=lambda figure: figure.key)
def test_each_dot_is_one_of_twenty_cases_of_the_answer(drawn: Comparison, figure: Figure) -> None:
    found = cases_in(drawn, figure)
    with_cases = [o for o in drawn.options if o.sureness and figure.key in o.sureness.outcomes]
    shown = [drawn.spoken_of, *(option for option in with_cases if option is not drawn.spoken_of)][:3]
    assert set(found) == {title(option, drawn) for option in shown}
    for option in shown:
        dots = found[title(option, drawn)]
        assert len(dots) == 20
        assert option.sureness is not None
        assert sorted(dot["value"] for dot in dots) == pytest.approx(option.sureness.outcomes[figure.key])
        assert len({(dot["at"], dot["up"]) for dot in dots}) == 20


@pytest.mark.parametrize("figure", [DAYS, COST], ids=lambda figure: figure.key)
def test_dots_stand_where_they_belong_or_at_the_edge_with_their_value(drawn: Comparison, figure: Figure) -> None:
    spec = cases_chart(figure, drawn).to_dict()
    low, high = next(layer["encoding"]["x"]["scale"]["domain"] for layer in spec["layer"] if "shape" in str(layer))
    for dots in cases_in(drawn, figure).values():
        far = [dot for dot in dots if dot["value"] > high]
        told = [dot["told"] for dot in dots if dot["told"]]
        furthest = max(dot["value"] for dot in dots)
        assert told == ([figure.told(furthest, drawn.study.currency)] if far else told[:1])
        for dot in dots:
            assert low < dot["at"] < high
            if dot not in far and not told:
                assert abs(dot["at"] - dot["value"]) <= (high - low) / 30.0
        places = sorted({dot["at"] for dot in dots})
        assert all(np.diff(places) > 0.4 * (high - low) / 32.0)


@pytest.mark.parametrize("figure", [DAYS, COST], ids=lambda figure: figure.key)
def test_a_thin_rule_stands_at_the_central_case(drawn: Comparison, figure: Figure) -> None:
    seen = {row["option"]: row["central"] for row in rows(cases_chart(figure, drawn).to_dict(), "central")}
    for option in drawn.options:
        if title(option, drawn) in seen:
            assert seen[title(option, drawn)] == pytest.approx(figure.central(option))
    assert title(drawn.options[0], drawn) in seen


def test_a_case_off_the_scale_stands_at_the_edge_and_says_what_it_is(
    drawn_answer_of: Callable[[str], Comparison],
) -> None:
    answer = drawn_answer_of("freezer")
    first = answer.options[0]
    assert first.sureness is not None
    outcomes = {"cost_per_year": (*(200.0 + step for step in range(18)), 5000.0, 6000.0)}
    far = without(answer, first.id, sureness=replace(first.sureness, outcomes=outcomes))
    dots = cases_in(replace(far, options=far.options[:1]), COST)[first.name]
    assert [dot["told"] for dot in dots if dot["told"]] == ["EUR 6,000"]
    assert [dot["value"] for dot in dots if dot["at"] == max(dot["at"] for dot in dots)] == [5000.0, 6000.0]
    assert max(dot["at"] for dot in dots) < 400.0


def test_cases_that_are_all_alike_make_one_stack(drawn_answer_of: Callable[[str], Comparison]) -> None:
    answer = drawn_answer_of("freezer")
    first = answer.options[0]
    assert first.sureness is not None
    for figure, value in ((COST, 0.0), (DAYS, 14.0)):
        alike = replace(first.sureness, outcomes={figure.key: (value,) * 20})
        one = without(
            answer, first.id, sureness=alike, days_to_first_service=value, cost_per_year=CostPerYear(total=value)
        )
        dots = cases_in(replace(one, options=one.options[:1]), figure)[first.name]
        assert {dot["at"] for dot in dots} == {value}
        assert len({dot["up"] for dot in dots}) == 20


def test_where_no_case_has_days_words_stand_for_the_dots(drawn_answer_of: Callable[[str], Comparison]) -> None:
    answer = drawn_answer_of("freezer")
    first = answer.options[0]
    assert first.sureness is not None
    for cases, drawable in (((0.0,) * 20, False), ((*(0.0,) * 19, 5.0), True)):
        one = without(
            answer, first.id, sureness=replace(first.sureness, outcomes={DAYS.key: cases}), days_to_first_service=0.0
        )
        one = replace(one, options=tuple(option for option in one.options if option.id == first.id))
        if drawable:
            spec = cases_chart(DAYS, one).to_dict()
            domains = [layer["encoding"]["x"]["scale"]["domain"] for layer in spec["layer"] if "shape" in str(layer)]
            assert domains[0][1] >= 5.0
        else:
            with pytest.raises(NoAnswerError, match="in all 20 cases the best options fail a need even when clean"):
                cases_chart(DAYS, one)


def test_a_map_with_none_to_take_has_no_thick_frame_and_cells_say_how_many_they_hold(freezer: Comparison) -> None:
    def thick(answer: Comparison, looked_at: OptionAnswer | None = None) -> list[str]:
        cells = rows(map_chart(answer, METRIC, looked_at).to_dict(), "frame")
        return [cell["option"] for cell in cells if cell["frame"] > 1.0]

    assert thick(freezer) == [freezer.spoken_of.name]
    assert thick(freezer, freezer.option("spun-20")) == ["Spun 20"]
    none = replace(freezer, options=tuple(option for option in freezer.options if not option.meets_needs))
    assert thick(none) == []
    twin = replace(freezer.options[0], id="twin")
    cells = rows(map_chart(replace(freezer, options=(*freezer.options, twin))).to_dict(), "third")
    for cell in cells:
        behind = cell["also"].split("; ") if cell["also"] else []
        assert cell["third"].endswith(f"+{len(behind)}") or not behind
    assert any(cell["also"] for cell in cells)


def test_a_small_fall_of_flow_looks_small(freezer: Comparison) -> None:
    option = freezer.options[0]
    runs = flow_runs(follow_option(freezer.study, option.id))
    flat = [
        replace(run, flow_l_per_h=tuple(2700.0 + 5.0 * (flow > 1400.0) for flow in run.flow_l_per_h)) for run in runs
    ]
    spec = life_chart(option, flat, flat, flat, 2700.0).to_dict()
    low, high = next(layer["encoding"]["y"]["scale"]["domain"] for layer in spec["layer"])
    assert low == 0.0
    assert high >= 2705.0
    assert "band" not in " ".join(spec["title"]["subtitle"])


@pytest.mark.parametrize("display", [METRIC, replace(METRIC, dark=True)], ids=["light", "dark"])
def test_lines_of_one_kind_differ_in_colour(freezer: Comparison, display: Display) -> None:
    options = [freezer.option(name) for name in ("pleated-50", "pleated-5", "wound-50")]
    assert len(set(line_colours(options, display))) == 3


def test_an_option_without_cases_is_left_out_and_named(drawn_answer_of: Callable[[str], Comparison]) -> None:
    answer = drawn_answer_of("freezer")
    lost = answer.options[1]
    poorer = without(answer, lost.id, sureness=None)
    for name in ("days_cases", "cost_cases"):
        assert lost.name in PICTURES[name].left_out(poorer)
        assert lost.name not in {row["option"] for row in rows(PICTURES[name].draw(poorer, METRIC).to_dict(), "value")}


@pytest.mark.parametrize("figure", [DAYS, COST], ids=lambda figure: figure.key)
def test_bars_of_the_drivers_are_the_answers_own_largest_first(drawn: Comparison, figure: Figure) -> None:
    assert drawn.odds is not None
    bars = [row for table in tables(drivers_chart(figure, drawn).to_dict()) for row in table]
    words = {unknown.key: unknown.words for unknown in UNKNOWNS}
    indices = {driver.unknown: driver.total_index for driver in drawn.odds.drivers if driver.of == figure.key}
    assert [bar["index"] for bar in bars] == sorted((bar["index"] for bar in bars), reverse=True)
    assert 1 <= len(bars) <= 6
    for bar in bars:
        assert bar["index"] == pytest.approx(indices.pop(bar["unknown"]))
        assert bar["index"] >= 0.02
        assert bar["option"].startswith(words[bar["unknown"]])
    assert len(bars) == 6 or all(index < 0.02 for index in indices.values())
    assert all(index <= bars[-1]["index"] for index in indices.values())


def test_shares_of_the_drivers_are_shares(drawn: Comparison) -> None:
    assert drawn.odds is not None
    for figure in (DAYS, COST):
        indices = [driver.total_index for driver in drawn.odds.drivers if driver.of == figure.key]
        assert len(indices) == len(UNKNOWNS)
        assert min(indices) >= -0.1
        assert max(indices) <= 1.2


def test_the_band_of_flow_falls_and_starts_at_the_clean_flow(drawn: Comparison) -> None:
    assert drawn.odds is not None
    band, first = drawn.odds.flow_band, drawn.spoken_of
    assert band is not None
    assert band.option == first.id
    assert first.sureness is not None
    edges = [np.array(flow) for flow in (band.low_l_per_h, band.middle_l_per_h, band.high_l_per_h)]
    assert [flow[0] for flow in edges] == pytest.approx(first.sureness.ranges["clean_flow_l_per_h"])
    assert (edges[0] <= edges[1]).all()
    assert (edges[1] <= edges[2]).all()
    for flow in edges:
        assert (np.diff(flow) <= 1e-3 * flow[:-1]).all()
    assert band.day[0] == 0.0
    assert band.day[-1] == pytest.approx(first.days_to_first_service)
    service = first.flow_record.flow_l_per_h.index(None)
    days, flows = first.flow_record.day[:service], first.flow_record.flow_l_per_h[:service]
    for day, flow in zip(days, flows, strict=True):
        assert flow is not None
        assert 0.995 * np.interp(day, band.day, edges[0]) <= flow <= 1.005 * np.interp(day, band.day, edges[2])


def test_the_band_is_drawn_behind_the_lines_in_the_unit_shown(drawn: Comparison) -> None:
    assert drawn.odds is not None
    band = drawn.odds.flow_band
    assert band is not None
    spec = days_chart(drawn, Display(flow="gph")).to_dict()
    assert spec["layer"][0]["mark"]["type"] == "area"
    seen = [row for row in rows(spec, "low", "high") if "id" in row]
    assert [row["day"] for row in seen] == pytest.approx(band.day)
    assert [row["low"] for row in seen] == pytest.approx([flow / 3.785411784 for flow in band.low_l_per_h])
    assert [row["high"] for row in seen] == pytest.approx([flow / 3.785411784 for flow in band.high_l_per_h])
    assert "8 of 10 cases" in spec["description"]


def test_without_draws_there_are_no_cases_no_drivers_and_no_band(demo: Comparison) -> None:
    for name in set(PICTURES) - set(WITHOUT_DRAWS):
        with pytest.raises(NoAnswerError, match="only the central case was worked out"):
            PICTURES[name].draw(demo, METRIC)
    assert not [row for row in rows(days_chart(demo).to_dict(), "low") if "id" in row]


ENDED = {"flow": "filling", "time limit": "time limit", "clarity": "cloudy", "full": "full"}


def test_the_map_has_the_answers_own_days_and_costs_and_reasons(demo: Comparison) -> None:
    cells = {row["option"]: row for row in rows(PICTURES["map"].draw(demo, METRIC).to_dict(), "option", "first")}
    behind = PICTURES["map"].left_out(demo)
    for option in demo.options:
        name = title(option, demo)
        if name in behind:
            better = next(o for o in demo.options if (o.kind, o.rating_um) == (option.kind, option.rating_um))
            assert name in cells[title(better, demo)]["also"]
            continue
        cell = cells[name]
        assert cell["rating"] == f"{option.rating_um:g} µm"
        assert (cell["frame"] > 1.0) == (option is demo.advised)
        assert (cell["ends"] == "fails") == bool(option.reasons)
        if not option.reasons:
            pointer = "\N{BLACK RIGHT-POINTING POINTER} " if option is demo.advised else ""
            assert cell["first"] == pointer + due(option.days_to_first_service or 0.0)
            assert cell["second"] == money(option.cost_per_year.total or 0.0, "EUR")
            assert cell["third"].split(" +")[0] == ENDED[str(option.governed_by)]
    assert len(cells) + len(behind) == len(demo.options)


def test_a_map_of_very_many_ratings_is_a_table(freezer: Comparison) -> None:
    many = tuple(replace(freezer.options[0], id=str(um), rating_um=float(um)) for um in range(1, 16))
    with pytest.raises(NoAnswerError, match="15 micron ratings are too many"):
        PICTURES["map"].draw(replace(freezer, options=many), METRIC)


def test_what_is_paid_ends_with_the_answers_totals(demo: Comparison) -> None:
    pair = pair_of(demo, demo.spoken_of)
    assert pair is not None
    assert demo.spoken_of in pair
    spec = paid_chart(demo, demo.spoken_of).to_dict()
    for option in pair:
        drawn = [row for row in rows(spec, "line", "paid") if row["line"] == title(option, demo)]
        assert drawn[-1]["paid"] == pytest.approx(option.horizon_total.undiscounted)
        assert all(b["paid"] >= a["paid"] for a, b in pairwise(drawn))
    reusable, disposable = pair
    assert all(stage.rinses_before_replacing for stage in reusable.stages)
    assert not any(stage.rinses_before_replacing for stage in disposable.stages)


def test_without_a_pair_nothing_is_set_against_another(freezer: Comparison) -> None:
    pleated = replace(freezer, options=tuple(option for option in freezer.options if option.kind == "pleated"))
    with pytest.raises(NoAnswerError, match="no reusable filter"):
        paid_chart(pleated, pleated.options[0])


@pytest.mark.parametrize("display", [METRIC, US], ids=["metric", "us"])
def test_pictures_of_one_option_show_its_course_in_the_units_asked_for(freezer: Comparison, display: Display) -> None:
    study, option = freezer.study, freezer.option("pleated-20-long")
    followed = follow_option(study, option.id)
    runs, loading, seen = flow_runs(followed), loading_of(followed), clearness_of(followed)
    gallon, foot, ounce = (3.785411784, 0.3048, 28.349523125) if display is US else (1.0, 1.0, 1.0)
    life = life_chart(option, runs, (), (), freezer.wanted_flow_l_per_h, display).to_dict()
    drawn = [row for row in rows(life, "line", "day", "flow") if row["line"] == "as assumed"]
    assert [row["flow"] for row in drawn] == pytest.approx([flow / gallon for run in runs for flow in run.flow_l_per_h])
    marks = rows(life, "service")
    assert [row["day"] for row in marks] == pytest.approx([run.day[-1] for run in runs])
    load = loading_chart([(option, loading)], display).to_dict()
    assert [row["held"] for row in rows(load, "held")] == pytest.approx([g / ounce for g in loading.deposit_g])
    view = view_chart(option, seen, study.tub.depth_m, display).to_dict()
    after = [row["seen"] for row in rows(view, "line", "seen") if row["line"] == "just after a session"]
    assert after == pytest.approx([m / foot for m in seen.after_m])
    zones = {row["says"]: row for row in rows(view, "says", "low")}
    assert zones["bottom gone"]["high"] == pytest.approx(0.75 / foot)
    assert zones["bottom crisp"]["low"] == pytest.approx(3.0 / foot)
    lives, views = (1.0, 14.0), ((7.0, 3.6),)
    years = lives_chart([option], lives, views, 14.0, 3.0, display).to_dict()
    assert [row["seen"] for row in rows(years, "line", "days")] == pytest.approx([7.0 / foot, 3.6 / foot])
    caught = catch_by_size(followed)
    sizes = catch_chart(option, caught, display).to_dict()
    new = [row["share"] for row in rows(sizes, "line", "share") if row["line"] == "new"]
    assert new == pytest.approx([100.0 * share for share in caught.new])
    for spec in (life, load, view, years, sizes):
        assert spec["height"] >= 400
        assert len(spec["description"]) > 40
        assert all(isfinite(value) for value in values_in(spec))


def test_the_band_of_a_life_holds_every_case_between(freezer: Comparison) -> None:
    study, option = freezer.study, freezer.option("pleated-20-long")
    scores = (0.0, ONE_IN_TEN, -ONE_IN_TEN)
    central, dirtier, cleaner = (flow_runs_at(study, option.id, score) for score in scores)
    spec = life_chart(option, central, dirtier, cleaner, freezer.wanted_flow_l_per_h).to_dict()
    band = rows(spec, "day", "flow", "up to")
    days, low, high = (np.array([row[key] for row in band]) for key in ("day", "flow", "up to"))
    step = days[1] - days[0]
    for score in (0.0, 0.6, -0.9):
        for run in flow_runs_at(study, option.id, score):
            for day, flow in zip(run.day, run.flow_l_per_h, strict=True):
                near = np.abs(days - day) <= step
                assert not near.any() or low[near].min() - 2.0 <= flow <= high[near].max() + 2.0
    first = days < dirtier[0].day[-1]  # before any case is rinsed the band lies between the two
    falling = [np.interp(days[first], runs[0].day, runs[0].flow_l_per_h) for runs in (dirtier, cleaner)]
    assert low[first] == pytest.approx(falling[0], abs=6.0)
    assert high[first] == pytest.approx(falling[1], abs=6.0)


def test_of_many_runs_only_their_beginnings_and_ends_are_drawn(freezer: Comparison) -> None:
    """No eye follows thirty teeth, nor a filled band below them."""
    option = freezer.option("pleated-10")
    runs = flow_runs(follow_option(freezer.study, option.id))
    assert len(runs) > 16
    spec = life_chart(option, runs, runs, runs, freezer.wanted_flow_l_per_h).to_dict()
    drawn = rows(spec, "line", "day", "flow")
    assert [row["flow"] for row in drawn if row["line"] == "just after a service"] == [r.flow_l_per_h[0] for r in runs]
    assert [row["flow"] for row in drawn if row["line"] == "at rinse"] == [run.flow_l_per_h[-1] for run in runs]
    assert not rows(spec, "up to")


def test_a_few_are_the_best_of_each_kind_and_the_finest(freezer: Comparison) -> None:
    """Of two kinds the finest that runs besides; of five there is room for four."""
    ids = ("pleated-50", "pleated-5", "pleated-20", "wound-50", "wound-20-wide", "spun-1")
    some = replace(
        freezer,
        options=tuple(option for option in freezer.options if option.id in ids),
        decision=replace(freezer.decision, advised="pleated-50"),
    )
    assert [option.id for option in a_few(some)] == ["pleated-50", "pleated-5", "wound-20-wide"]
    best = {option.kind: option.id for option in reversed(freezer.options)} | {"pleated": freezer.spoken_of.id}
    shown = {option.kind: option.id for option in a_few(freezer)}
    assert shown.items() <= best.items()
    assert (len(best), len(shown), len(a_few(freezer))) == (5, 4, 4)


def test_the_one_to_take_is_shown_though_another_of_its_kind_stands_before_it(freezer: Comparison) -> None:
    """The second best of a kind is the one to take where the best has small chances: charts of a few have it."""
    first, second = [option for option in freezer.options if option.kind == "pleated"][:2]
    two = replace(freezer, decision=replace(freezer.decision, advised=second.id))
    assert two.spoken_of.id == second.id
    assert second.id in {option.id for option in a_few(two)}
    twin = replace(second, rating_um=first.rating_um)
    both = replace(two, options=tuple(twin if option.id == second.id else option for option in two.options))
    cells = rows(PICTURES["map"].draw(both, METRIC).to_dict(), "frame", "option")
    assert [cell["option"] for cell in cells if cell["frame"] > 1.0] == [title(second, both)]


def test_the_rule_of_the_rating_ends_below_the_names_of_what_is_so_small(freezer: Comparison) -> None:
    option = freezer.options[0]
    spec = catch_chart(option, catch_by_size(follow_option(freezer.study, option.id))).to_dict()
    lowest = min(row["up"] for row in rows(spec, "says", "up"))
    rule = next(
        layer
        for layer in spec["layer"]
        if layer["encoding"].get("x", {}).get("field") == "size" and layer["mark"]["type"] == "rule"
    )
    assert rule["encoding"]["y2"]["datum"] < lowest


def test_a_view_cut_off_says_so(freezer: Comparison) -> None:
    """The program says no more than 10 m; a flat top is told only where there is one."""
    option = freezer.options[0]
    seen = clearness_of(follow_option(freezer.study, option.id))
    for view, flat in ((12.0, True), (4.0, False)):
        even = replace(seen, before_m=(view,) * len(seen.day), after_m=(3.0,) * len(seen.day))
        under = " ".join(view_chart(option, even, 0.75).to_dict()["title"]["subtitle"])
        assert ("flat on top: 10 m or more" in under) == flat
        feet = " ".join(view_chart(option, even, 0.75, US).to_dict()["title"]["subtitle"])
        assert ("flat on top: 33 ft or more" in feet) == flat


def test_what_never_runs_has_no_picture_of_its_life(freezer: Comparison) -> None:
    option = freezer.option("spun-1")
    with pytest.raises(NoAnswerError, match="lacks the flow even when clean"):
        life_chart(option, (), (), (), None)
    with pytest.raises(NoAnswerError, match="no option runs"):
        loading_chart([(option, loading_of(follow_option(freezer.study, option.id)))])
