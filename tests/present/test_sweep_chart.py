"""The picture of a sweep: lines through the curves' own figures, none where there is none."""

from collections import Counter
from collections.abc import Iterator
from math import isfinite
from typing import Any

import pytest
from studies import demo_data, short, study_of

from filtration import Sweep, sweep
from filtration.base.units import in_unit
from filtration.present.charts.catalogue import US
from filtration.present.charts.sweep import sweep_chart
from filtration.present.words.phrases import KINDS

Spec = dict[str, Any]
TITLES = (
    "Pressure drop (head), cm of water",
    "Clean flow, L/h",
    "Days to the first service",
    "Lowest visibility, m",
    "A year, EUR",
)


@pytest.fixture(scope="module")
def found() -> Sweep:
    """Return the three kinds on the pump of the freezer tub."""
    return sweep(study_of(demo_data("freezer")), option="pleated-20")


def panels(spec: Spec) -> Iterator[Spec]:
    """Yield the panels of a picture."""
    for part in spec.get("vconcat", []) + spec.get("hconcat", []):
        yield from [part] if "layer" in part else panels(part)


def lines_of(panel: Spec) -> Spec:
    (lines,) = (layer for layer in panel["layer"] if "strokeDash" in layer["encoding"])
    return lines


def rows_of(spec: Spec, panel: Spec) -> list[Spec]:
    """Return the rows of a panel's lines, wherever in a picture they stand."""
    data = lines_of(panel).get("data") or panel["data"]
    values: list[Spec] = data["values"] if "values" in data else spec["datasets"][data["name"]]
    return values


def test_curves_not_dots(found: Sweep) -> None:
    spec = sweep_chart(found).to_dict()
    assert [panel["title"]["text"] for panel in panels(spec)] == list(TITLES)
    for panel in panels(spec):
        lines = lines_of(panel)
        assert (lines["mark"]["type"], lines["mark"]["point"]) == ("line", False)
        assert lines["encoding"]["x"]["scale"]["type"] == "log"
        drawn = Counter(row["line"] for row in rows_of(spec, panel) if row["state"] == "clean")
        assert set(drawn) == {KINDS["spun"], KINDS["wound"], KINDS["pleated"]}
        assert min(drawn.values()) >= 20
        assert all(isfinite(row["figure"]) for row in rows_of(spec, panel) if "figure" in row)


def test_each_line_is_continuous(found: Sweep) -> None:
    """What has a figure has it without a gap from its first value to its last."""
    spec = sweep_chart(found).to_dict()
    for panel in panels(spec):
        by_line: dict[tuple[str, str], list[bool]] = {}
        for row in rows_of(spec, panel):
            by_line.setdefault((row["line"], row["state"]), []).append("figure" in row)
        for there in by_line.values():
            assert "".join("x" if each else " " for each in there).strip().find(" ") == -1


def test_points_are_the_sweeps_own(found: Sweep) -> None:
    spec = sweep_chart(found, US).to_dict()
    pressure, flow, *_ = panels(spec)
    rows = [row for each in found.curves for row in each.rows]
    clean = [row for row in rows_of(spec, pressure) if row["state"] == "clean"]
    assert [row["figure"] for row in clean] == pytest.approx(
        [in_unit(1e3 * (row.clean_filter_loss_kpa or 0.0), "in of water") for row in rows]
    )
    assert [row["figure"] for row in rows_of(spec, flow)] == pytest.approx(
        [in_unit(row.clean_flow_l_per_h / 3.6e6, "gph") for row in rows]
    )


def test_sizes_differ_in_width_and_a_few_values_have_dots() -> None:
    sizes = ["10 x 2.5 in", "20 x 2.5 in"]
    few = sweep(study_of(short()), kinds=["pleated"], ratings=[5, 20], sizes=sizes, option="pleated-20")
    lines = lines_of(next(panels(sweep_chart(few).to_dict())))
    assert lines["mark"]["point"] is True
    assert lines["encoding"]["size"]["scale"]["domain"] == sizes


@pytest.mark.parametrize(
    ("key", "values", "axis"),
    [
        ("tub.feet", ["rinsed", "indoors"], ("ordinal", "tub.feet")),
        ("plumbing.bore", ["19 mm", "25 mm"], ("quantitative", "plumbing.bore, mm")),
    ],
)
def test_any_key_has_its_axis(key: str, values: list[str], axis: tuple[str, str]) -> None:
    spec = sweep_chart(sweep(short(), over=key, values=values, option="pleated-20")).to_dict()
    x = lines_of(next(panels(spec)))["encoding"]["x"]
    assert (x["type"], x["title"]) == axis
    assert spec["description"].startswith(f"Pleated 20 on pump, against {key}")
