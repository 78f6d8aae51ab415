"""Many tubs at once: how they are read, what goes wrong with a row, and that totals are sums."""

import json
import pickle
import tracemalloc
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from command import run
from hypothesis import given, settings
from hypothesis import strategies as st
from random_studies import random_study
from studies import SHORT, changed, demo_data, demo_with, short, study_of

from filtration.answers.ranking import compare
from filtration.base.errors import InputError
from filtration.cli import common
from filtration.plan import fleet
from filtration.plan.fleet import Fleet, budget
from filtration.plan.fleet_rows import FleetRow, read_fleet
from filtration.plan.tub_budget import Totals, figure_of
from filtration.study import overrides

DRAWS = 16
FEW = ("Spun 20", "Pleated 20", "Pleated 50", "Foam then pleated 20")
SPUN = """\
[[elements]]
name = "Spun 50"
kind = "spun"
size = "10 x 2.5 in"
rating = "50 um"
price = 10
"""
# Hardly any dirt: the spun element lives until its age, 60 days, in every draw that has the flow.
CLEAN = {"tub.uses_per_day": 0.03, "tub.uncovered_hours_per_day": 0, "tub.disinfectant": "kept"}
BY_AGE = 365.25 / 60.0


def template(folder: Path, text: str = SHORT, name: str = "short.toml") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def table(folder: Path, text: str | bytes, name: str = "tubs.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def tables_of(folder: Path, text: str | bytes) -> list[dict[str, Any]]:
    """Read a table over the short study; every row must be good."""
    tubs = read_fleet(table(folder, text), template(folder))
    assert [tub.faults for tub in tubs] == [()] * len(tubs)
    return [dict(tub.tables or {}) for tub in tubs]


def spun(name: str = "A", **changes: Any) -> FleetRow:
    """Return a tub whose only element is replaced by its age alone."""
    element = {"name": "Spun 50", "kind": "spun", "size": "10 x 2.5 in", "rating": "50 um", "price": 10}
    return FleetRow(where=name, tables=changed(CLEAN | {"name": name, "elements": [element]} | changes))


def same(one: Fleet, other: Fleet) -> bool:
    """Whether two budgets are the same, tub by tub, and in all that is done and paid."""

    def told(found: Fleet) -> list[object]:
        tubs = [(a.name, a.where, a.option, a.pump, a.faults, a.cost, a.consumables, a.elements) for a in found.tubs]
        return [*tubs, found.year.lines, found.year.visits, found.year.alone, found.year.shopping]

    return told(one) == told(other)


# ---- reading ----------------------------------------------------------------------------------------------------


def test_a_folder_of_studies(tmp_path: Path) -> None:
    """Files in the order of their names, whatever else lies there."""
    template(tmp_path, SHORT.replace("North tub", "B"), "b.toml")
    template(tmp_path, SHORT.replace("North tub", "A"), "a.toml")
    (tmp_path / "notes.txt").write_text("none")
    tubs = read_fleet(tmp_path)
    assert [tub.where for tub in tubs] == ["a.toml", "b.toml"]
    assert [(tub.tables or {})["name"] for tub in tubs] == ["A", "B"]


def test_overrides_and_empty_cells(tmp_path: Path) -> None:
    """A key of a table, of a named entry of a list, of a table that was not there; empty cells leave the template's."""
    one, two = tables_of(
        tmp_path,
        "name,tub.volume,tub.uses_per_day,elements.Pleated 20.price,tub.shared_with_public,needs.discard_after\n"
        "One,300 L,2.5,21,true,90 day\n"
        "Two, ,,, FALSE ,\n",
    )
    assert one == changed(
        {
            "name": "One",
            "tub.volume": "300 L",
            "tub.uses_per_day": 2.5,
            "elements.0.price": 21,
            "tub.shared_with_public": True,
            "needs.discard_after": "90 day",
        }
    )
    assert two == changed({"name": "Two", "tub.shared_with_public": False})


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        ("6", 6), (" 6 ", 6), ("-2", -2), ("0.25", 0.25), ("1e2", 100.0), ("true", True), ("False", False),
        ("TRUE", True), ("420 L", "420 L"), ("1_000", "1_000"), ("2,5", "2,5"), ("yes", "yes"),
        ("2026-03-01", "2026-03-01"),
    ],
)  # fmt: skip
def test_what_a_cell_means(cell: str, value: object) -> None:
    found = overrides.value_of_text(cell)
    assert found == value
    assert type(found) is type(value)


def test_names_may_be_numbers_and_may_have_points(tmp_path: Path) -> None:
    """A tub called 12 keeps its name; of elements called 'Pad' and 'Pad 2.5' the longer one that fits is meant."""
    pads = "".join(SPUN.replace("Spun 50", name) for name in ("Pad", "Pad 2", "Pad 2.5"))
    path = table(tmp_path, "name,elements.Pad 2.5.price,elements.Pad.price\n12,31,32\n")
    (tub,) = read_fleet(path, template(tmp_path, SHORT + pads))
    assert tub.tables is not None
    assert tub.tables["name"] == "12"
    assert [element["price"] for element in tub.tables["elements"]] == [18, 32, 10, 31]


def test_a_row_never_changes_another(tmp_path: Path) -> None:
    """The template is copied for every row."""
    one, two = tables_of(tmp_path, "name,elements.Pleated 20.price\nOne,99\nTwo,\n")
    assert (one["elements"][0]["price"], two["elements"][0]["price"]) == (99, 18)


@pytest.mark.parametrize(
    "text",
    [
        "name;tub.volume\nA;300 L\nB;500 L\n",
        "name,tub.volume\r\nA,300 L\r\nB,500 L\r\n",
        "\ufeffname,tub.volume\nA,300 L\nB,500 L\n",
        'name,tub.volume,\n"A","300 L",\n,,\n\nB,500 L,',
        '"name";"tub.volume";;\r\nA;300 L;;\r\nB;500 L;;\r\n',
    ],
    ids=["semicolons", "CRLF", "byte order mark", "quotes, blank lines, no last line end", "empty columns"],
)
def test_ways_to_write_a_table(tmp_path: Path, text: str) -> None:
    assert tables_of(tmp_path, text) == [
        changed({"name": "A", "tub.volume": "300 L"}),
        changed({"name": "B", "tub.volume": "500 L"}),
    ]


def test_a_column_study_wins_over_the_template(tmp_path: Path) -> None:
    """Where the cell is empty the template serves; files are looked for beside the table."""
    template(tmp_path, SHORT.replace("North tub", "Other").replace("420 L", "999 L"), "other.toml")
    path = table(tmp_path, "study,tub.uses_per_day\nother.toml,3\n,4\nshort.toml,\n")
    first, second, third = (tub.tables for tub in read_fleet(path, template(tmp_path)))
    assert first == changed({"name": "Other", "tub.volume": "999 L", "tub.uses_per_day": 3})
    assert second == changed({"tub.uses_per_day": 4})
    assert third == short()
    alone = read_fleet(path)
    assert alone[0].tables == first
    assert alone[1].faults == ("tubs.csv, line 3: names no study and there is no template",)


# ---- what is wrong ----------------------------------------------------------------------------------------------

HEAD = "name,tub.volume\n"
WHOLE = [
    ("", "tubs.csv: is empty"),
    ("\n\n", "tubs.csv: is empty"),
    (",,\nA,300 L,\n", "tubs.csv: is empty"),
    (HEAD, "tubs.csv: holds no tub"),
    ("name,name\nA,B\n", "tubs.csv: names a column twice"),
    ("name, name\nA,B\n", "tubs.csv: names a column twice"),
    (HEAD + "A\0,300 L\n", "tubs.csv: holds characters no table has"),
    (b"name,tub.volume\nT\xfcbingen,300 L\n", "tubs.csv: is not UTF-8 text, see line 2"),
    (HEAD + "A," + "9" * 200_000 + "\n", "tubs.csv, line 2: has a cell longer than any; see its quotation marks"),
]


@pytest.mark.parametrize(("text", "told"), WHOLE, ids=[told + str(at) for at, (_, told) in enumerate(WHOLE)])
def test_a_table_that_is_none(tmp_path: Path, text: str | bytes, told: str) -> None:
    """One line on the error stream, nothing on standard output, exit status 2."""
    done = run("fleet", str(table(tmp_path, text)), "--template", str(template(tmp_path)), "--draws", "0")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(told)
    assert done.stderr.count("\n") == 1


def test_no_template(tmp_path: Path) -> None:
    path = table(tmp_path, HEAD + "A,300 L\n")
    done = run("fleet", str(path))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("tubs.csv: needs a template, by --template STUDY or a column 'study'")
    done = run("fleet", str(path), "--template", str(tmp_path / "none.toml"))
    assert done.returncode == 2
    assert done.stderr == "tubs.csv, line 2: none.toml: there is no such file\n"


@pytest.mark.parametrize("name", ["nowhere", "nowhere.csv"])
def test_no_such_path(tmp_path: Path, name: str) -> None:
    done = run("fleet", str(tmp_path / name))
    assert (done.returncode, done.stdout, done.stderr) == (2, "", f"{name}: there is no such file\n")


def test_a_device_and_a_folder_without_studies(tmp_path: Path) -> None:
    done = run("fleet", "/dev/zero")
    assert (done.returncode, done.stdout, done.stderr) == (2, "", "zero: is no ordinary file\n")
    done = run("fleet", str(tmp_path))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == f"{tmp_path.name}: holds no study; studies are files that end in .toml\n"


BAD_ROWS = [
    ("tub.uses_per_day", "6 dips", "[tub] uses_per_day: "),
    ("tub.volume", "420 m", "[tub] volume: needs a volume such as '420 L', got '420 m'"),
    ("tub.volume", "420", "[tub] volume: "),
    ("elements.Pleated 20.price", "nan", "[[elements]] 1 (Pleated 20) price: must be 0 to 1000000000, got nan"),
    ("tub.uses_per_day", "9" * 400, "[tub] uses_per_day: must be 0 to 5000 dips a day, got a number of more than"),
    ("tub.vulume", "420 L", "[tub] vulume: is unknown; the nearest known one is volume"),
    ("vulume", "420 L", "vulume: is unknown"),
    ("elements.Pleated 21.price", "9", "column 'elements.Pleated 21.price': there is no 'Pleated 21' in the template"),
    ("elements.Pleated 20", "9", "column 'elements.Pleated 20': names no key"),
    ("name.first", "9", "column 'name.first': names no key"),
    ("name.first.last", "9", "column 'name.first.last': 'first' has no table before it in the template"),
    ("study", "none.toml", "none.toml: there is no such file"),
    ("study", "/dev/zero", "zero: is no ordinary file"),
    ("study", "bad.toml", "bad.toml: is not TOML at line 1"),
]


@pytest.mark.parametrize(("key", "cell", "told"), BAD_ROWS, ids=[f"{key}={cell[:9]}" for key, cell, _ in BAD_ROWS])
def test_a_bad_row_names_its_line_and_the_rest_goes_on(tmp_path: Path, key: str, cell: str, told: str) -> None:
    template(tmp_path, "volume = 420 L", "bad.toml")
    path = table(tmp_path, f"tub.depth,{key}\n0.7 m,\n0.7 m,{cell}\n0.6 m,\n")
    done = run("fleet", str(path), "--template", str(template(tmp_path)), "--draws", "0", "--json")
    assert done.returncode == 2
    (line,) = done.stderr.splitlines()
    assert line.startswith("tubs.csv, line 3")
    assert told in line
    found = json.loads(done.stdout)
    assert [tub["where"] for tub in found["tubs"]] == ["tubs.csv, line 2", "tubs.csv, line 4"]
    assert found["failed"] == [{"where": "tubs.csv, line 3", "faults": [line]}]


@pytest.mark.parametrize("row", ["B", "B,300 L,9", "B,300 L,"])
def test_the_wrong_number_of_cells(tmp_path: Path, row: str) -> None:
    """With the number of each; a line broken in quotes counts as the lines it takes."""
    path = table(tmp_path, f'{HEAD}"A\nB",300 L\n{row}\n')
    done = run("fleet", str(path), "--template", str(template(tmp_path)), "--draws", "0")
    assert done.returncode == 2
    assert f"tubs.csv, line 4: has {row.count(',') + 1} cells, the first line has 2\n" in done.stderr


def test_a_bad_study_in_a_folder(tmp_path: Path) -> None:
    """Words still come, for the good ones; every fault of the bad ones stands on the error stream."""
    template(tmp_path, SHORT, "a.toml")
    template(tmp_path, "volume = 420 L", "b.toml")
    template(tmp_path, SHORT.replace('"420 L"', '"3 m"').replace('"19 mm"', '"19"'), "c.toml")
    (tmp_path / "d.toml").mkdir()
    done = run("fleet", str(tmp_path), "--draws", "16")
    assert done.returncode == 2
    assert "North tub" in done.stdout
    assert done.stdout.startswith("1 tub, and it is in the totals.\n3 rows with faults left out.\nRanges hold 8 of 10")
    starts = [line.split(":")[0].split(", [")[0] for line in done.stderr.splitlines()]
    assert starts == ["b.toml", "c.toml", "c.toml", "d.toml"]


@pytest.mark.parametrize("draws", ["3", "-1", "4096"])
def test_odd_numbers_of_draws(tmp_path: Path, draws: str) -> None:
    template(tmp_path)
    done = run("fleet", str(tmp_path), f"--draws={draws}")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == f"draws: must be 0 or a power of two up to 2048, got {draws}\n"


CELLS = st.text(max_size=40) | st.from_regex(r"[-+0-9._eE]{1,30}", fullmatch=True)
KEYS = st.text(max_size=40) | st.lists(
    st.sampled_from(["tub", "elements", "Pleated 20", "price", "name", "", "volume", "format"]), max_size=5
).map(".".join)


@given(CELLS)
def test_any_cell_means_something(cell: str) -> None:
    """A number, true, false or the text itself; never a fault."""
    value = overrides.value_of_text(cell)
    assert isinstance(value, bool | int | float | str)
    assert value == cell.strip() or not isinstance(value, str)


@given(KEYS, CELLS)
def test_any_column_is_taken_or_told(key: str, cell: str) -> None:
    """Nothing but InputError, and that names the column."""
    tables, told = short(), "column "
    try:
        overrides.place(tables, key, overrides.value_of_text(cell))
    except InputError as error:
        told = str(error)
    assert told.startswith("column ")
    assert tables.keys() >= short().keys()


@settings(max_examples=40, deadline=None)
@given(CELLS, st.sampled_from(["name", "tub.volume", "tub.uses_per_day", "elements.Pleated 20.rating", "format"]))
def test_any_cell_ends_as_a_budget_or_as_a_fault_of_its_row(cell: str, key: str) -> None:
    tables = short()
    overrides.place(tables, key, overrides.value_of_text(cell))
    (tub,) = budget([FleetRow(where="row", tables=tables)], draws=0).tubs
    assert all(fault.startswith("row") for fault in tub.faults)
    assert not (tub.faults and tub.option)
    assert tub.faults or tub.option or tub.why_not


# ---- the budget -------------------------------------------------------------------------------------------------


def test_elements_replaced_by_age_are_counted_by_hand() -> None:
    """A spun element that never clogs is replaced every 60 days, 365.25 / 60 times a year in every draw.

    Two housings side by side take twice that; a price 15 higher costs 15 times as many more.
    """
    cheap, dear = spun("A"), spun("B", **{"elements.0.price": 25})
    option = {"name": "Two", "stages": ["Spun 50"], "housings_in_parallel": 2}
    one, other, two = budget([cheap, dear, spun("C", options=[option])], draws=DRAWS).tubs
    central, ends = one.elements["Spun 50"]
    assert (central, *(ends or ())) == pytest.approx((BY_AGE,) * 4)
    assert two.elements["Spun 50"].central == pytest.approx(2.0 * BY_AGE)
    assert other.cost.central - one.cost.central == pytest.approx(15.0 * BY_AGE)
    assert other.consumables.central - one.consumables.central == pytest.approx(15.0 * BY_AGE)


def test_the_total_of_a_tub_is_its_own_and_of_equal_ones_that_many_times() -> None:
    """Cases in which the option lacks the flow neither narrow a total's range nor leave it: three alike are thrice one.

    The freezer's option meets its needs in some of the cases alone; a range that held the central figure in the others
    would be narrower.
    """
    rows = [FleetRow(where=name, tables=demo_with("freezer", *FEW) | {"name": name}) for name in "ABC"]
    alone, three = budget(rows[:1], draws=64), budget(rows, draws=64)
    (tub,) = alone.tubs
    assert tub.chance_of_meeting_needs < 0.9
    assert tub.cost.range is not None
    central, ends = alone.cost["EUR"]
    assert (central, ends) == (tub.cost.central, pytest.approx(tub.cost.range, rel=1e-12))
    assert three.cost["EUR"].central == pytest.approx(3.0 * tub.cost.central)
    assert three.cost["EUR"].range == pytest.approx([3.0 * end for end in tub.cost.range])
    assert three.elements[tub.option or ""].central == pytest.approx(3.0 * tub.elements[tub.option or ""].central)


def test_a_case_counts_for_as_much_as_the_tubs_that_meet_their_needs_in_it() -> None:
    """Two tubs of 100 and 300: in a case that the second lacks, the first says how far both lie above the middle."""
    one = Totals(central=100.0, counted=np.array([100.0, 100.0, 0.0]), told=np.array([110.0, 90.0, 0.0]))
    two = Totals(central=300.0, counted=np.array([0.0, 300.0, 300.0]), told=np.array([0.0, 330.0, 240.0]))
    # cases: 1.1 x 400 with a weight of 100, (90 + 330) with 400, 0.8 x 400 with 300
    assert figure_of(one + two) == (400.0, pytest.approx((320.0, 420.0, 440.0)))
    assert figure_of(Totals(central=5.0, counted=np.zeros(0), told=np.zeros(0))) == (5.0, None)
    assert figure_of(Totals(central=5.0, counted=np.zeros(8), told=np.zeros(8))) == (5.0, None)


def test_currencies_are_kept_apart() -> None:
    found = budget([spun("A"), spun("B", currency="USD"), spun("C")], draws=DRAWS)
    assert set(found.cost) == set(found.consumables) == set(found.year.total) == {"EUR", "USD"}
    one = found.tubs[0].cost.central
    assert found.cost["EUR"].central == pytest.approx(2.0 * one)
    assert found.cost["USD"].central == pytest.approx(one)


def test_a_tub_without_an_option_is_named_and_counted(tmp_path: Path) -> None:
    """A lift of 3 m is more than the pump's 2.4 m: the tub is in no total, the headline says so, and why."""
    path = table(tmp_path, "name,plumbing.static_lift\nHigh,3 m\nLow,\n")
    words = ("fleet", str(path), "--template", str(template(tmp_path)), "--draws", "16")
    done = run(*words, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    document = json.loads(done.stdout)
    high, low = document["tubs"]
    assert (high["name"], high["option"], high["cost_per_year"], high["elements_per_year"]) == ("High", None, None, {})
    assert high["chance_of_meeting_needs"] == 0.0
    assert document["tubs_covered"] == 1
    (left_out,) = document["without_option"]
    assert (left_out["name"], left_out["nearest"]) == ("High", "Pleated 20")
    assert left_out["why"]
    assert document["cost_per_year"]["EUR"]["central"] == low["cost_per_year"]["central"]
    shown = run(*words).stdout
    assert shown.startswith("2 tubs. The totals cover 1 of them. Nothing meets the needs of 1")
    assert "they leave out: High." in " ".join(shown.split())


@pytest.mark.parametrize("name", ["freezer", "barrel", "quay"])
def test_a_tubs_budget_is_that_of_compare(name: str) -> None:
    """One walk, one decision and the draws asked serve both: option, figures and ranges to the last digit."""
    study = study_of(demo_data(name))
    answer = compare(study, draws=64, seed=3)
    (tub,) = budget([FleetRow(where=name, tables=demo_data(name))], draws=64, seed=3).tubs
    best = answer.advised
    assert best is not None
    assert best.sureness is not None
    ranges = best.sureness.ranges
    assert (tub.option, tub.pump, tub.meets_needs, tub.faults) == (best.name, best.pump, True, ())
    assert tub.chance_of_meeting_needs == best.chance
    assert tub.cost == (best.cost_per_year.total, ranges["cost_per_year"])
    assert tub.days == (best.days_to_first_service, ranges["days_to_first_service"])
    assert tub.elements == {
        stage.element: (stage.elements_per_year, ranges[f"elements_per_year.{stage.element}"]) for stage in best.stages
    }
    parts, power = (
        best.cost_per_year,
        (best.energy_kwh_per_year.water_changes or 0.0) * study.prices.electricity_per_kwh,
    )
    apart = (parts.pumping or 0.0) + (parts.cooling or 0.0) + (parts.equipment or 0.0) + (parts.own_time or 0.0)
    assert tub.consumables.central == pytest.approx((parts.total or 0.0) - apart - power)
    assert [choice.name for choice in tub.choices] == [best.name, *(each.name for each in answer.equal)]


def test_no_draws_give_no_ranges(tmp_path: Path) -> None:
    """The central case does not depend on the draws beside it, nor does the chance; what is not drawn is not told."""
    path = template(tmp_path).parent
    central, drawn = (json.loads(run("fleet", str(path), "--json", "--draws", n).stdout) for n in ("0", "16"))
    cost = central["cost_per_year"]["EUR"]
    assert set(cost) == {"central"}
    assert cost["central"] == drawn["cost_per_year"]["EUR"]["central"]
    assert central["tubs"][0]["option"] == drawn["tubs"][0]["option"] == "Pleated 20"
    chances = {each["tubs"][0]["chance_of_meeting_needs"] for each in (central, drawn)}
    assert chances == {compare(study_of(short())).options[0].chance}
    shown = run("fleet", str(path), "--draws", "0").stdout
    assert "no ranges" in shown
    assert "from" not in shown.split("Tub by tub")[1].split("\n\n")[0]


def test_a_tub_given_twice_counts_once(tmp_path: Path) -> None:
    """A copy of a file is the same tub, and so said; one of the same name with something else about it is another."""
    for name in ("a.toml", "b.toml"):
        template(tmp_path, SHORT, name)
    template(tmp_path, SHORT.replace("420 L", "430 L"), "c.toml")
    found = budget(read_fleet(tmp_path), draws=0)
    assert found.twice == (("b.toml", "a.toml"),)
    assert [tub.where for tub in found.tubs] == ["a.toml", "c.toml"]
    assert [found.called(tub) for tub in found.tubs] == ["North tub (a.toml)", "North tub (c.toml)"]
    assert found.cost["EUR"].central == sum(tub.cost.central for tub in found.tubs)
    assert "b.toml says the same as a.toml: one tub, counted once." in run("fleet", str(tmp_path), "--draws=0").stdout


def _ranges(value: object) -> list[list[float]]:
    if isinstance(value, dict):
        return [value["range"]] if "range" in value else [found for each in value.values() for found in _ranges(each)]
    return [found for each in value for found in _ranges(each)] if isinstance(value, list) else []


def test_ranges_are_in_order_and_finite(tmp_path: Path) -> None:
    """Over random studies and those of the demo, for every total and every tub."""
    tubs = [FleetRow(where=str(seed), tables=random_study(seed)) for seed in range(8)]
    found = budget(tubs, draws=DRAWS)
    assert found.failed == ()
    figures = [*found.elements.values(), *found.cost.values(), *(tub.cost for tub in found.tubs)]
    assert all(0.0 <= value < np.inf for central, ends in figures for value in (central, *(ends or ())))
    template(tmp_path)
    document = json.loads(run("fleet", str(tmp_path), "--json", "--draws", "64").stdout, parse_constant=pytest.fail)
    ranges = _ranges(document)
    assert len(ranges) == 7
    assert all(0.0 <= low <= middle <= high for low, middle, high in ranges)


@pytest.fixture(scope="module")
def several() -> list[FleetRow]:
    few = ("Spun 20", "Foam then pleated 20")
    demos = [FleetRow(where=name, tables=demo_with(name, *few)) for name in ("freezer", "barrel")]
    return [
        *demos,
        FleetRow(where="bad", faults=("bad: is bad",)),
        *(FleetRow(where=str(at), tables=random_study(at)) for at in (1, 2, 3)),
    ]


@pytest.fixture(scope="module")
def together(several: list[FleetRow]) -> Fleet:
    """Budget them all side by side, in this process."""
    assert len(several) <= fleet._TUBS_AT_A_TIME
    return budget(several, draws=DRAWS)


def test_an_executor_changes_nothing(several: list[FleetRow], together: Fleet, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two processes give the same bytes, told in order and with the share done rising to 1."""
    monkeypatch.setattr(fleet, "_TUBS_AT_A_TIME", 2)
    shares: list[float] = []
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        found = budget(several, draws=DRAWS, executor=pool, progress=lambda share, _: shares.append(share))
    assert same(together, found)
    assert shares == pytest.approx([1 / 3, 2 / 3, 1.0])


def test_chunks_change_nothing(several: list[FleetRow], together: Fleet, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tubs by themselves or together: the same figures, to the last digit."""
    monkeypatch.setattr(fleet, "_TUBS_AT_A_TIME", 1)
    alone = budget(several, draws=DRAWS)
    assert same(together, alone)
    assert [tub.where for tub in alone.failed] == ["bad"]


def test_of_thousands_little_stays(together: Fleet) -> None:
    """A tub keeps its budget and its year's lines: some kilobytes, whatever was worked out for it."""
    assert len(pickle.dumps(together.tubs)) < 4_000 * len(together.tubs)
    lines, again = len(together.year.lines), replace(together)
    tracemalloc.start()
    assert len(again.year.lines) == lines
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 450 * lines


def test_workers_on_the_command_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As many as are asked for do the work; that processes change nothing is seen above."""
    path = table(tmp_path, "name,tub.uses_per_day\nA,3\nB,6\nC,x\n")
    words = ("fleet", str(path), "--template", str(template(tmp_path)), "--json", "--draws", "16", "--seed", "5")
    alone = run(*words)
    pools: list[ThreadPoolExecutor] = []
    given_out: list[object] = []

    class Pool(ThreadPoolExecutor):
        def submit(self, *work: Any, **named: Any) -> Any:
            given_out.append(work)
            return super().submit(*work, **named)

    @contextmanager
    def processes(number: int) -> Iterator[Pool]:
        with Pool(number) as pool:
            pools.append(pool)
            yield pool

    monkeypatch.setattr(common, "processes", processes)
    assert run(*words, "--workers", "2") == alone
    assert [pool._max_workers for pool in pools] == [2]
    assert given_out
