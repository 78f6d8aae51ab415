"""Results in a notebook: tables and charts show themselves, pandas goes in and comes out."""

import ast
import importlib.util
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from html.parser import HTMLParser
from types import ModuleType
from typing import Any

import altair as alt
import numpy as np
import pandas as pd
import pytest
from documents import blocks_of, text_of
from studies import answered, demo_data, demo_with, leaning, short

import filtration
from filtration import (
    Comparison,
    InputError,
    OptionAnswer,
    budget,
    chart,
    compare,
    forecast,
    plan_of,
    readings_chart,
    readings_from_table,
    rows_of_table,
    savings,
    study_from_dict,
    tubs_from_table,
)
from filtration.present.charts.pictures import CHARTS
from filtration.present.words import short as short_words
from filtration.readings.reading import reading_of


class _Cells(HTMLParser):
    """The texts of a table's cells."""

    def __init__(self) -> None:
        super().__init__()
        self.cells: list[str] = []
        self.tags: list[str] = []

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        del attrs
        self.tags.append(tag)
        if tag in ("td", "th"):
            self.cells.append("")

    def handle_data(self, data: str) -> None:
        if self.cells:
            self.cells[-1] += data.strip()


def cells_of(html: str) -> _Cells:
    parser = _Cells()
    parser.feed(html)
    return parser


def shown_by(block: str, names: dict[str, Any]) -> object:
    """Run a cell and return what its last line shows, as a notebook does."""
    tree = ast.parse(block)
    last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
    exec(compile(tree, "notebook.md", "exec"), names)  # noqa: S102 - the blocks of our own document
    return None if last is None else eval(compile(ast.Expression(last.value), "notebook.md", "eval"), names)  # noqa: S307 - our own document


def test_the_worked_example_runs_cell_by_cell() -> None:
    """docs/notebook.md, in one namespace; each result shows itself."""
    names: dict[str, Any] = {}
    shown = [shown_by(block, names) for block in blocks_of("docs/notebook.md", "python")]
    results = [each for each in shown if each is not None]
    kinds = {type(each).__name__ for each in results}
    assert {"Comparison", "LayerChart", "NextService", "DataFrame", "PumpSize", "Fleet", "tuple"} <= kinds
    for each in results:
        if not isinstance(each, tuple) and type(each).__name__ != "NextService":
            assert hasattr(each, "_repr_html_") or hasattr(each, "_repr_mimebundle_")
    events = next(each for each in results if isinstance(each, pd.DataFrame) and "latest" in each)
    assert len(events)
    assert names["ahead"].readings_used == 3
    assert [tub.name for tub in names["fleet"].tubs] == ["East", "West", "Guests"]
    assert not names["fleet"].failed


def test_the_example_names_every_chart() -> None:
    page = text_of("docs/notebook.md")
    assert not [name for name in CHARTS if f"`{name}`" not in page]


def test_an_answer_shows_what_one_looks_at_first(drawn_answer_of: Callable[[str], Comparison]) -> None:
    answer = drawn_answer_of("freezer")
    found = cells_of(answer._repr_html_())
    assert found.tags.count("tr") == len(answer.options) + 2
    for option in answer.options:
        assert option.id in found.cells
        assert option.name in found.cells
    assert f"{answer.options[0].clean_flow_l_per_h:,.4g}" in found.cells


def test_an_option_shows_itself_and_says_its_first_figures_plainly(
    drawn_answer_of: Callable[[str], Comparison],
) -> None:
    """In a line, and as a table; each figure is an attribute, and one line is short."""
    answer = drawn_answer_of("freezer")
    taken = answer.advised
    assert taken is not None
    assert taken.sureness is not None
    low, _, high = taken.sureness.ranges["days_to_first_service"]
    assert taken.days_range == (low, high)
    assert taken.elements_per_year == sum(stage.elements_per_year or 0.0 for stage in taken.stages)
    assert taken.total_per_year == taken.cost_per_year.total
    assert repr(taken).startswith(f"OptionAnswer(name={taken.name!r}, pump={taken.pump!r}, meets_needs=True, days_to_f")
    assert len(repr(taken)) < 400
    found = cells_of(taken._repr_html_())
    assert found.cells[1:4] == [taken.id, "figure", ""]
    assert f"{taken.total_per_year:.4g}" in found.cells
    spent = next(option for option in answer.options if not option.days_to_first_service)
    assert len(repr(spent)) < 400
    assert replace(taken, sureness=None).days_range is None
    assert replace(taken, stages=(replace(taken.stages[0], elements_per_year=None),)).elements_per_year is None


def test_a_plan_shows_itself(freezer: Comparison) -> None:
    """In a line, and as its table, whose days are datetime64, far ones too."""
    made = plan_of(freezer.study, answer=freezer, today=date(2990, 3, 1), draws=16)
    assert freezer.advised is not None
    told = f"option={freezer.advised.id!r}, first_day=2990-03-01, last_day=2995-03-01, events={len(made.events)})"
    assert repr(made) == f"Plan(study={made.study.name!r}, {told}"
    table = made.table()
    assert {str(table[name].dtype) for name in ("date", "earliest", "latest")} == {"datetime64[s]"}
    assert [day.date() for day in table["date"]] == [event.date for event in made.events]
    assert cells_of(made._repr_html_()).tags.count("table") == 1


def test_an_answers_table_has_chances_and_ranges(drawn_answer_of: Callable[[str], Comparison]) -> None:
    answer = drawn_answer_of("freezer")
    table = answer.table()
    for option in answer.options:
        assert option.sureness is not None
        row = table.loc[option.id]
        assert row["chance_of_being_best"] == option.sureness.chance_of_being_best
        if "cost_per_year" in option.sureness.ranges:
            at = [row[f"cost_per_year.{name}"] for name in ("p10", "p50", "p90")]
            assert at == list(option.sureness.ranges["cost_per_year"])
            assert at == sorted(at)


def test_hostile_names_stay_text_in_a_notebook() -> None:
    data = short()
    data["elements"][0]["name"] = "<script>alert(1)</script>"
    html = compare(study_from_dict(data), draws=0)._repr_html_()
    assert "script" not in cells_of(html).tags
    assert "<script>alert(1)</script>" in cells_of(html).cells


def test_a_chart_shows_itself(freezer: Comparison) -> None:
    drawn = chart(freezer, "map")
    assert isinstance(drawn, alt.LayerChart)
    bundle = drawn._repr_mimebundle_()
    bundle = bundle[0] if isinstance(bundle, tuple) else bundle
    assert any("vega" in kind or "html" in kind for kind in bundle)
    with pytest.raises(InputError, match="there is no chart"):
        chart(freezer, "mapp")


READINGS = [("2026-03-01", "flow", "23.5 L/min"), ("2026-03-05", "flow", "22.8 L/min"), ("2026-03-06", "uses", "9")]
NOW = datetime(2026, 3, 9, 12, tzinfo=UTC)


def in_use() -> dict[str, Any]:
    return short() | {"in_use": {"option": "pleated-20", "since": "2026-03-01"}}


@pytest.mark.parametrize("dates", [str, date.fromisoformat, pd.Timestamp])
def test_readings_in_a_table_are_those_of_a_file(dates: Callable[[str], object]) -> None:
    """Text, days and pandas' times alike; a number of dips that pandas made a float is the same number."""
    table = pd.DataFrame(READINGS, columns=["when", "kind", "value"])
    table["when"] = [dates(when) for when, _, _ in READINGS]
    table["value"] = [float(value) if kind == "uses" else value for _, kind, value in READINGS]
    expected = tuple(reading_of(when, kind, value, where="row") for when, kind, value in READINGS)
    assert readings_from_table(table) == expected


def test_a_table_of_readings_makes_a_forecast_and_its_chart() -> None:
    rows = readings_from_table(pd.DataFrame(READINGS, columns=["when", "kind", "value"]))
    ahead = forecast(study_from_dict(in_use()), rows, today=NOW, draws=64)
    assert ahead.readings_used == 2
    assert isinstance(readings_chart(ahead), alt.LayerChart)
    with pytest.raises(InputError, match="no pressure was read"):
        readings_chart(ahead, "pressure")
    with pytest.raises(InputError, match="there are flow, pressure"):
        readings_chart(ahead, "view")


def test_notes_in_a_table_come_through_and_faults_are_told_all_at_once() -> None:
    when = datetime(2026, 3, 3, 18, 30, tzinfo=UTC)
    notes = ["=1+1", "'quoted", 'comma, and "marks"', "two\nlines"]
    table = pd.DataFrame({"when": when, "kind": "note", "note": notes})
    assert [row.note for row in readings_from_table(table)] == notes
    assert {row.when for row in readings_from_table(table)} == {when}
    wrong = pd.DataFrame({"when": ["2026-03-03", "March"], "kind": ["flow", "flow"], "value": ["22", "22 L/min"]})
    with pytest.raises(InputError) as told:
        readings_from_table(wrong)
    assert [fault.split(",")[1] for fault in told.value.faults] == [" line 2", " line 3"]


def test_elements_from_pandas_are_those_of_a_file() -> None:
    """Cells that hold nothing are keys left out, whole numbers come back whole."""
    data = short()
    more = {"name": "Spun 5", "kind": "spun", "size": "10 x 2.5 in", "rating": "5 um", "price": 6.5}
    data["elements"] = [{**data["elements"][0], "soak_every_rinses": 3, "pleats": None}, more]
    table = pd.DataFrame(data["elements"])
    assert table["soak_every_rinses"].dtype == np.float64
    rows = rows_of_table(table)
    assert "pleats" not in rows[0]
    assert "soak_every_rinses" not in rows[1]
    assert study_from_dict({**data, "elements": rows}).options == study_from_dict(data).options


def test_tubs_from_pandas_are_those_of_plain_tables() -> None:
    data = demo_data("freezer")
    table = pd.DataFrame(
        {"name": [12, "West"], "tub.uses_per_day": [4, None], "tub.volume": ["400 L", "500 L"]}, index=["a", "b"]
    )
    fleet = budget(tubs_from_table(table, data), draws=0)
    alone = {**data, "name": "12", "tub": {**data["tub"], "uses_per_day": 4, "volume": "400 L"}}
    assert [tub.name for tub in fleet.tubs] == ["12", "West"]
    best = compare(study_from_dict(alone)).advised
    assert best is not None
    assert fleet.tubs[0].option == best.name
    assert fleet.tubs[0].cost.central == pytest.approx(best.cost_per_year.total, rel=0.01)
    assert data == demo_data("freezer")


def test_a_wrong_row_keeps_its_faults_and_the_others_go_on() -> None:
    table = pd.DataFrame({"name": ["A", "B"], "tub.volume": ["400 L", "3 m"], "elements.No such.price": [None, 3]})
    fleet = budget(tubs_from_table(table, demo_with("freezer", "Spun 20", "Pleated 20")), draws=0)
    shown = fleet.table()
    assert list(shown.index) == ["row 1", "row 2"]
    assert "there is no 'No such' in the template" in shown.loc["row 2", "faults"]
    assert shown.loc["row 1", "cost_per_year"] == pytest.approx(fleet.tubs[0].cost.central)


def test_a_fleets_tables_are_its_figures() -> None:
    table = pd.DataFrame({"name": ["A", "B"], "tub.uses_per_day": [4, 9]})
    fleet = budget(tubs_from_table(table, demo_with("freezer", "Spun 20", "Pleated 20")), draws=16)
    order = fleet.elements_table()
    for name, (central, ends) in fleet.elements.items():
        assert order.loc[name].tolist() == [central, *(ends or ())]
    assert cells_of(fleet._repr_html_()).tags.count("table") == 2


def test_assumptions_show_as_a_table_most_telling_first() -> None:
    found = leaning(short())
    table = found.table()
    assert list(table.index) == [each.key for each in found.assumptions]
    assert table["influence"].is_monotonic_decreasing
    assert "<table" in found._repr_html_()


@pytest.mark.parametrize("name", filtration.__all__)
def test_public_names_lead_to_no_module(name: str) -> None:
    """No exported name is that of a module, which the import of that module would put in its place."""
    assert importlib.util.find_spec(f"filtration.{name}") is None
    assert not isinstance(getattr(filtration, name), ModuleType)
    assert name in dir(filtration)


def test_an_unknown_name_is_told() -> None:
    with pytest.raises(AttributeError, match="no attribute 'filter_it'"):
        _ = filtration.filter_it  # type: ignore[attr-defined]  # which is the point


def figures_in(told: str, names: Sequence[str]) -> list[float]:
    """Return the numbers of a line of the short answer, those in names of options aside."""
    for name in sorted(names, key=len, reverse=True):
        told = told.replace(name, "")
    told = re.sub(r"\b(?:of 20|8 of 10|µm)\b", "", told)
    return [float(each.replace(",", "")) for each in re.findall(r"(?<![\w.])[0-9][0-9,]*(?:\.[0-9]+)?", told)]


def reads(printed: float, value: float | None) -> bool:
    """Return whether a printed number is a value rounded, or rounded down, where its digits end: three at most."""
    assert value is not None
    digits = max(0, len(f"{printed:.10g}".partition(".")[2]))
    return abs(printed - value) < 10.0**-digits if printed < 1000.0 else printed == float(f"{value:.2e}")


def test_every_figure_of_the_short_answer_has_a_plain_name() -> None:
    """Line by line, in the order in which they stand: what is printed is what the attribute holds."""
    answer = answered(demo_data("freezer"), 256)
    best, other = answer.advised, {option.name: option for option in answer.options}
    assert best is not None
    assert best.days_range is not None
    assert best.cost_range is not None
    assert best.total_per_year is not None
    assert answer.odds.measure is not None
    saved, none = savings(answer).changes[0], answer.odds.chance_none_meets_needs
    equal, cheapest, spun = answer.equal[0], answer.cheapest, other["Spun 20"]
    assert cheapest is not None
    assert isinstance(saved.after, int | float)
    assert isinstance(saved.before, int | float)

    def more(option: OptionAnswer) -> float:
        return abs((option.total_per_year or 0.0) - (best.total_per_year or 0.0))

    expected: dict[str, list[float | None]] = {
        "Recommended": [20.0 * (1.0 - none)],
        "No filter": [20.0 * none, 0.5 * (answer.water_change_days or 0.0)],
        "Rinse": [best.days_to_first_service, *best.days_range],
        "Replace": [best.stages[0].rinses_before_replacing],
        "Flow": [best.clean_flow_l_per_h, best.due_flow_l_per_h, answer.wanted_flow_l_per_h],
        "Visibility": [best.worst_view_m, answer.study.needs.see_through_m],
        "A year": [best.total_per_year, *best.cost_range, best.cost_per_year.own],
        "Would save": [
            saved.after, saved.before, saved.saves_per_year, saved.then.days_to_first_service, saved.then.worst_view_m,
        ],
        "As good": [more(equal)],
        "Cheaper": [more(cheapest), 20.0 * cheapest.chance],
        "Disposable": [more(spun), spun.elements_per_year],
        "Assumed": [len(answer.study.assumed)],
        "Measure next": [answer.odds.measure.day],
    }  # fmt: skip
    told = {name: figures_in(line, list(other)) for name, line in short_words.lines(answer)}
    assert list(told) == list(expected)
    for name, values in expected.items():
        assert len(told[name]) == len(values), (name, told[name])
        assert all(map(reads, told[name], values)), (name, told[name], values)
