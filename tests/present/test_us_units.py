"""A study in gallons is answered in US units on every face: no metric figure in any command, export or notebook."""

import html
import io
import re
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from command import run, write
from plans import Case, case_of
from studies import Given, answered

from filtration import sweep
from filtration.answers.cheaper import savings
from filtration.plan.outcome import Outcome
from filtration.present.charts.pictures import CHARTS, chart
from filtration.present.exports.by_ending import WAYS, bytes_of, bytes_of_sweep
from filtration.study.text import text_of_tables

L_PER_GAL, M_PER_FT, PA_PER_INCH_OF_WATER = 3.785411784, 0.3048, 9806.65 * 0.0254  # exact, by definition
BARN: Given = {
    "name": "Barn tank 420 L",  # a name is its owner's
    "currency": "USD",
    "tub": {"volume": "110 gal", "water_temperature": "39 degF", "uses_per_day": 4},
    "pump": {"shutoff_head": "8 ft", "max_flow": "660 gph", "power": "38 W"},
    "plumbing": {"bore": "1 in", "length": "10 ft"},
    "prices": {"horizon": "1 year"},
    "elements": [
        {"name": "Pleated 20", "kind": "pleated", "size": "10 x 2.5 in", "rating": "20 um", "price": 22},
        {"name": "Spun 20", "kind": "spun", "size": "10 x 2.5 in", "rating": "20 um", "price": 7},
    ],
}
METRIC = re.compile(r"[0-9] ?(?:L/h|L/min|L|[cm]?m|m²|m\^2|m³|°C|degC|kPa|bar)\b(?!/)|_l_per_h|_kpa\b|_m\b|cm of water")


@pytest.fixture(scope="module")
def barn() -> Case:
    return case_of(BARN)


def outcome_of(case: Case) -> Outcome:
    return Outcome(answer=case.answer, compared=case.answer, plan=case.plan, rows=(), why="")


def told_by(data: bytes, ending: str) -> str:
    """Return the text in a file, its looks and the owner's name aside."""
    if ending == ".xlsx":
        book = openpyxl.load_workbook(io.BytesIO(data))
        text = "\n".join(str(cell.value) for sheet in book for row in sheet for cell in row)
    else:
        text = html.unescape(re.sub(r"<style.*?</style>|<[^>]*>", " ", data.decode("utf-8-sig"), flags=re.DOTALL))
    return text.replace("\r\n ", "").replace(BARN["name"], "")


@pytest.mark.parametrize(("ending", "wanted"), [(ending, wanted) for ending in WAYS for wanted in WAYS[ending]])
def test_no_export_of_a_us_study_is_metric(barn: Case, ending: str, wanted: str) -> None:
    assert not METRIC.findall(told_by(bytes_of(outcome_of(barn), ending, wanted), ending))


@pytest.mark.parametrize("name", CHARTS)
def test_no_chart_of_a_us_study_is_metric(barn: Case, name: str) -> None:
    drawn = chart(barn.answer, name).to_dict()
    del drawn["datasets"], drawn["config"]
    assert not METRIC.findall(str(drawn).replace("1e-", ""))


def test_the_card_counts_five_gallons(barn: Case) -> None:
    """5 gallons over the clean flow, in seconds."""
    option = barn.answer.option(barn.plan.option)
    seconds = round(5.0 * L_PER_GAL / option.clean_flow_l_per_h * 3600.0)
    assert f"new: {seconds} seconds" in told_by(bytes_of(outcome_of(barn), ".html", "card"), ".html")


def test_tables_say_their_units(barn: Case) -> None:
    """The CSV of options and that of curves: the figures of the answer over the exact sizes of the units."""
    options = pd.read_csv(io.BytesIO(bytes_of(outcome_of(barn), ".csv", "answer"))).set_index("id")
    metric = barn.answer.table()
    assert options["clean_flow_gph"].to_numpy() == pytest.approx(metric["clean_flow_l_per_h"].to_numpy() / L_PER_GAL)
    assert options["see_through_worst_ft"].to_numpy() == pytest.approx(
        metric["see_through_worst_m"].to_numpy() / M_PER_FT
    )
    found = sweep(barn.answer.study, kinds=["spun"], ratings=[10.0, 50.0])
    curves = pd.read_csv(io.BytesIO(bytes_of_sweep(found, ".csv")))
    assert curves["clean_filter_loss_in_of_water"].to_numpy() == pytest.approx(
        1e3 * found.table()["clean_filter_loss_kpa"].to_numpy() / PA_PER_INCH_OF_WATER
    )
    assert "clean_flow_gph" in found._repr_html_()
    assert not METRIC.findall(found._repr_html_())


def test_a_notebook_shows_them_too(barn: Case) -> None:
    taken = barn.answer.advised
    assert taken is not None
    shown = [each._repr_html_() for each in (barn.answer, taken, barn.plan, savings(barn.answer))]
    assert not [METRIC.findall(each) for each in shown if METRIC.search(each)]
    assert f"<td>{taken.clean_flow_l_per_h / L_PER_GAL:.4g}</td>" in shown[1]
    metric = answered({**BARN, "tub": BARN["tub"] | {"volume": "416.4 L"}}).options[0]._repr_html_()
    assert "clean_flow_l_per_h" in metric


COMMANDS = (
    ("compare", "--full"),
    ("plan", "--today", "2027-03-01"),
    ("sweep", "--kinds", "spun", "--ratings", "10,50"),
    ("savings",),
    ("size", "--option", "pleated-20", "--flow", "300 gph"),
    ("size", "--option", "pleated-20", "--interval", "30 day"),
    ("forecast", "--today", "2027-03-01"),
    ("check",),
)


@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: " ".join(words[:1]))
def test_no_command_tells_a_us_study_in_metric(tmp_path: Path, words: tuple[str, ...]) -> None:
    fitted = {"in_use": {"option": "pleated-20", "since": "2027-02-01"}}
    study = write(tmp_path, text_of_tables({**BARN, **fitted}))
    done = run(words[0], str(study), *words[1:])
    assert (done.returncode, done.stderr) == (0, "")
    assert not METRIC.findall(done.stdout.replace(BARN["name"], ""))
