"""Write docs/wording/: what commands, files, charts and pages say, with each figure's field in its place.

python tests/scripts/said.py
"""

import html
import io
import os
import re
import sys
import tomllib
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, redirect_stdout
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache, partial
from itertools import groupby
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests" / "helpers"), str(ROOT / "ui")]

import openpyxl  # noqa: E402 - see above
import page_cache  # noqa: E402 - found by the line above
import page_readings  # noqa: E402 - see above
import pages  # noqa: E402 - see above
from icalendar import Calendar  # noqa: E402 - see above
from studies import EVERYTHING, LIFT_TEST, WOUND, answered, central, changed, demo_data, demo_with, leaning  # noqa: E402 - see above
from wording import chart_lines, figures_of, lines_of  # noqa: E402 - see above

from filtration import forecast, savings, sweep  # noqa: E402 - see above
from filtration.answers.series import pressure_drops  # noqa: E402 - see above
from filtration.answers.sizing import area_for_interval, smallest_pump  # noqa: E402 - see above
from filtration.plan.dated_plan import plan  # noqa: E402 - see above
from filtration.plan.fleet import budget  # noqa: E402 - see above
from filtration.plan.fleet_rows import FleetRow  # noqa: E402 - see above
from filtration.present import console  # noqa: E402 - see above
from filtration.present.charts.drops import drops_chart  # noqa: E402 - see above
from filtration.present.charts.pictures import CHARTS, chart, readings_chart  # noqa: E402 - see above
from filtration.present.charts.sweep import sweep_chart  # noqa: E402 - see above
from filtration.present.charts.tube import tube_chart  # noqa: E402 - see above
from filtration.present.exports.calendar import build_calendar  # noqa: E402 - see above
from filtration.present.exports.card import render_card  # noqa: E402 - see above
from filtration.present.exports.fleet import bytes_of_fleet  # noqa: E402 - see above
from filtration.present.exports.message import write_message  # noqa: E402 - see above
from filtration.present.exports.report import render_report  # noqa: E402 - see above
from filtration.present.exports.workbook import build_workbook  # noqa: E402 - see above
from filtration.present.words import check as check_words  # noqa: E402 - see above
from filtration.present.words import forecast as forecast_words  # noqa: E402 - see above
from filtration.present.words import size as size_words  # noqa: E402 - see above
from filtration.readings.reading import reading_of  # noqa: E402 - see above
from filtration.study.text import text_of_tables  # noqa: E402 - see above

FOLDER = ROOT / "docs" / "wording"
ABOUT = """
Written by `tests/scripts/said.py` and read by people; the tests tell when anything of it changes. No figure stands
here but the name of the field it shows, ‹total›, two names where two read alike, # where its unit does not tell, and
`long #` where it has more than four digits; what a field of a page holds is the study's own. Long lines that came
before are counted.
"""
_SHORT = 25
FIRST_DAY = date(2026, 2, 20)
NOW = datetime(2026, 2, 20, 12, tzinfo=UTC)
READ = (
    ("2026-02-02 18:00+00:00", "bucket", "10 L in 20.9 s"),
    ("2026-02-06 18:00+00:00", "column", "45 cm"),
    ("2026-02-12 18:00+00:00", "bucket", "10 L in 24.5 s"),
    ("2026-02-14 18:00+00:00", "rinse", ""),
    ("2026-02-15 18:00+00:00", "bucket", "10 L in 21.2 s"),
    ("2026-02-15 19:00+00:00", "bucket", "10 L in 45 s"),
)


@cache
def tub() -> dict[str, Any]:
    """Return the freezer tub of the demos with a few options of every kind, one of them in use."""
    data = demo_with("freezer", "Pleated 10", "Pleated 20", "Spun 20", "Wound 20 wide", "Foam 20 ppi", "Spun 1")
    data["in_use"] = {"option": "pleated-20", "since": "2026-02-01"}
    data["prices"] |= {"horizon": "2 year"}
    return data


@cache
def answer() -> Any:
    return answered(tub(), 64)


@cache
def planned() -> Any:
    return plan(answer().study, answer=answer(), today=FIRST_DAY, draws=16)


@cache
def ahead() -> Any:
    rows = [reading_of(*each, where="row") for each in READ]
    return forecast(answer().study, rows, today=NOW, draws=64)


@cache
def swept() -> Any:
    return sweep(answer().study, kinds=("spun", "pleated"), ratings=("5 um", "20 um", "50 um"))


@cache
def club() -> Any:
    rows = []
    for place, name in enumerate(("Quay", "Jetty", "Guests")):
        data = demo_with("freezer", "Pleated 10", "Pleated 20")
        data["tub"] |= {"uses_per_day": 4 + place}
        data["needs"] |= {"see_through": "9 m"} if place == 2 else {}
        rows.append(FleetRow(where=f"{place}.toml", tables=data | {"name": name}))
    return budget(rows, draws=16, today=FIRST_DAY)


def printed(work: Callable[[], object]) -> str:
    """Return what some work prints, on a terminal wider than any line."""
    out, before = io.TextIOWrapper(io.BytesIO(), encoding="utf-8"), os.environ.get("COLUMNS")
    os.environ["COLUMNS"] = "4000"
    try:
        with redirect_stdout(out):
            work()
    finally:
        os.environ.pop("COLUMNS") if before is None else os.environ.update(COLUMNS=before)
    out.seek(0)
    return out.read()


def read(page: str) -> str:
    """Return what is read on a page of HTML, a line a part."""
    bare = re.sub(r"(?s)<(style|svg|script).*?</\1>", "", page)
    return html.unescape(re.sub(r"<[^>]+>", "\n", bare))


def _sized(size: Any) -> str:
    headline, parts = size_words.told(size)
    return "\n".join([headline, *(f"{head}: {line}" for head, some in parts.items() for line in some)])


def _checked() -> str:
    found = leaning(tub())
    return "\n".join(
        [check_words.headline(found), *check_words.lines(found), check_words.quiet(found), check_words.METHOD]
    )


def everything() -> Any:
    return answered(tomllib.loads(f"format = 1\n{EVERYTHING}"), 16)


def variants() -> Iterator[tuple[str, Any]]:
    """Yield answers that say what the one of the demo does not."""
    several = demo_data("quay")
    several["options"] = several["options"][6:8]
    makers = {"elements.0.clean_loss": [["8 L/min", "1.2 kPa"]], "elements.0.dirt_capacity": "60 g",
              "elements.0.dirt_capacity_at": "1.7 bar", "elements.0.rating_means": "absolute"}  # fmt: skip
    yield "where nothing meets the needs", answered(changed({"needs": {"turnovers_per_hour": 6}}), 16)
    yield "with everything a study can hold", everything()
    yield "with several pumps", answered(several, 64)
    yield "of a tub nobody uses", answered(changed({"tub.uses_per_day": 0, "tub.water_change_every": "never"}), 16)
    yield "by makers' figures, measured", answered(changed(makers | {"measured": LIFT_TEST, "plumbing": None}), 16)


def told() -> Iterator[tuple[str, str, Any]]:
    """Yield what is said where, in text, and what it was worked out from."""
    study = answer().study
    yield "compare --full", printed(lambda: console.print_answer(answer())), answer()
    for what, other in variants():
        yield f"compare --full, {what}", printed(partial(console.print_answer, other)), other
    yield "plan", printed(lambda: console.print_plan(planned())), planned()
    later = {"prices.horizon": "2 year", "tub.uses_by_month": [9, 9, 9, 9, 9, 9, 3, 3, 3, 3, 3, 3]}
    stocked = {"elements.0.lead_time": "10 day", "elements.0.suppliers": 1, "prices.disinfectant_per_month": 5}
    seasons = answered(changed(later | stocked | {"elements.1": {**WOUND, "price": 5}}), 16)
    other = plan(seasons.study, answer=seasons, today=FIRST_DAY, draws=16)
    yield "plan, with seasons and delivery times", printed(lambda: console.print_plan(other)), other
    yield "forecast", printed(lambda: console.print_forecast(ahead())), ahead()
    bare = forecast(study, [], today=NOW, draws=64)
    yield "forecast, nothing read", printed(lambda: console.print_forecast(bare)), bare
    odd = [*READ, ("2026-02-16 18:00+00:00", "flow", "9000 L/h"), ("2026-02-17 18:00+00:00", "pressure", "60 kPa")]
    odd += [
        ("2026-02-18 18:00+00:00", "uses", "40"),
        ("2026-02-19 18:00+00:00", "rinse", ""),
        ("2026-03-19", "rinse", ""),
    ]
    doubted = forecast(study, [reading_of(*each, where="row") for each in odd], today=NOW, draws=64)
    for why in ("clarity", "short", "flow"):
        helpless = replace(ahead(), advice=replace(ahead().advice, why=why, do="nothing helps"))
        lines = [forecast_words.headline(helpless), *forecast_words.today(helpless), *forecast_words.figures(helpless)]
        yield f"forecast, where no service helps: {why}", "\n".join(lines), helpless
    yield "forecast, much in doubt", printed(lambda: console.print_forecast(doubted)), doubted
    found = savings(answer())
    yield "savings", printed(lambda: console.print_savings(found)), found
    yield "sweep", printed(lambda: console.print_sweep(swept())), swept()
    over = sweep(tub(), option="pleated-20", over="tub.uses_per_day", values=(4, 6, 12))
    yield "sweep over a key", printed(lambda: console.print_sweep(over)), over
    placed = sweep(tub(), option="pleated-20", over="pump.placed", values=("in the water", "outside"))
    yield "sweep over words", printed(lambda: console.print_sweep(placed)), placed
    for option in ("pleated-20", "spun-20"):
        pump, area = smallest_pump(study, option, 1800.0 / 3.6e6), area_for_interval(study, option, 30.0)
        yield f"size, the pump of {option}", _sized(pump), pump
        yield f"size, the area of {option}", _sized(area), area
    yield "check", _checked(), None
    yield "fleet", printed(lambda: console.print_fleet(club())), None
    yield "report", read(render_report(answer(), planned())), (answer(), planned())
    yield "card", read(render_card(answer(), planned())), (answer(), planned())
    yield "message", write_message(answer(), planned()), (answer(), planned())
    yield "workbook", _sheets(build_workbook(answer(), planned())), None
    yield "workbook of many tubs", _sheets(bytes_of_fleet(club(), ".xlsx")), None
    yield "calendar", _entries(build_calendar(planned(), {}, NOW, what="plan")), planned()


def _sheets(data: bytes) -> str:
    """Return the sheets of a workbook: name, where it is frozen, and headings."""
    return "\n".join(
        f"{sheet.title} ({sheet.freeze_panes}): {'; '.join(str(cell.value) for cell in sheet[1])}"
        for sheet in openpyxl.load_workbook(io.BytesIO(data))
    )


def _entries(data: bytes) -> str:
    found = Calendar.from_ical(data).walk("VEVENT")
    return "\n".join(f"{event['SUMMARY']}\n{event.get('DESCRIPTION', '')}" for event in found[:20])


def cut_short(lines: Sequence[str], known: set[str]) -> Iterator[str]:
    """Yield lines, but of long ones that came before how many they are."""
    bare = [re.sub(r"^(markdown|warning): |^- |\*", "", line) for line in lines]
    for old, some in groupby(zip(lines, bare, strict=True), lambda each: each[1] in known and len(each[1]) > _SHORT):
        told = [line for line, _ in some]
        yield from [f"… {len(told)} as above"] if old else told
    known.update(bare)


def block(heading: str, lines: Iterable[str]) -> str:
    """Return a part of a page: lines as they stand."""
    return "\n".join([f"\n## {heading}\n", "```text", *lines, "```", ""])


@cache
def all_told() -> list[tuple[str, str, Any]]:
    """Return what is said where, once."""
    return list(told())


def words_page(known: set[str]) -> str:
    """Return the page of commands and files as it should be; note its lines among those known."""
    parts = [block(heading, cut_short(lines_of(text, list(figures_of(of))), known)) for heading, text, of in all_told()]
    return f"# Wording of commands and files\n{ABOUT}" + "".join(parts)


@cache
def all_charts() -> list[tuple[str, dict[str, Any]]]:
    """Return every chart, once."""
    return list(charts())


def charts() -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield every chart."""
    for name in CHARTS:
        yield name, chart(answer(), name).to_dict()
    yield "readings", readings_chart(ahead()).to_dict()
    yield "pressure read", readings_chart(ahead(), "pressure").to_dict()
    yield "tube", tube_chart(answer().spoken_of).to_dict()
    drops = pressure_drops(answer().study, central(answer().study).followed, "pleated-20")
    yield "drops", drops_chart(drops, answer(), 2.0).to_dict()
    for place, panel in enumerate(panels(sweep_chart(swept()).to_dict()), start=1):
        yield f"sweep, panel {place}", panel


def panels(spec: dict[str, Any], datasets: Any = None) -> Iterator[dict[str, Any]]:
    """Yield the panels of a picture of several, each as a chart of its own."""
    datasets = spec.get("datasets", datasets)
    if "layer" in spec:
        yield {"title": {"text": "", "subtitle": []}, "description": "", "datasets": datasets} | spec
    for part in spec.get("vconcat", []) + spec.get("hconcat", []):
        yield from panels(part, datasets)


def charts_page() -> str:
    """Return the page of charts as it should be."""
    figures = list(figures_of((answer(), ahead())))
    parts = ["\n".join([f"\n## {name}\n", *chart_lines(spec, figures), ""]) for name, spec in all_charts()]
    return f"# Wording of charts\n{ABOUT}" + "".join(parts)


SCREENS = (
    *("your_filter", "your_tub", "which_filter", "what_if", "flow_pressure", "money", "plan_ahead", "clear_water"),
    *("many_tubs", "how_it_works", "your_readings"),
)


def screens() -> Iterator[tuple[str, str]]:
    """Yield what stands on each page."""
    with ExitStack() as stack:
        folder = stack.enter_context(TemporaryDirectory())
        stack.enter_context(patch.dict(os.environ, FILTRATION_LOGBOOK=f"{folder}/book.sqlite"))
        stack.enter_context(patch.object(page_readings, "now", lambda: NOW))
        page = pages.opened(pages.first_page(), text_of_tables(tub()), SCREENS[0])
        for name in SCREENS:
            pages.at(page, name)
            if name == "what_if":
                for label in ("Smallest pump", "Area it takes"):
                    next(each for each in page.button if each.label == label).click().run()
            if name == "your_readings":
                rows = "\n".join(["when,kind,value,note", *(",".join([*each, ""]) for each in READ)])
                page.file_uploader[0].set_value(("rows.csv", rows.encode(), "text/csv")).run()
            yield name, _seen(page).replace(folder, "FOLDER")
        stack.enter_context(patch.object(page_cache, "answer", lambda _text: everything()))
        page = pages.opened(pages.first_page(), f"format = 1\n{EVERYTHING}", "your_tub")
        yield "your_tub, with everything a study can hold", _seen(page)
        page.session_state.units = "us"
        for label in ("Pleated 20", "Foam then pleated"):
            _press(page, f"**{label}**")
            yield f"your_tub, {label} opened", _seen(page)
        for label in ("Add a filter", "Add a combination"):
            _press(page, label)
            yield f"your_tub, {label}", _seen(page)
        yield "which_filter, in gallons", _seen(pages.at(page, "which_filter"))
        page = pages.opened(pages.first_page(), text_of_tables(tub()).replace('"420 L"', '"0 L"'), "your_tub")
        yield "your_tub, with a fault", _seen(page)
        yield "money, with a fault", _seen(pages.at(page, "money"))
        pages.at(page, "your_tub")
        _press(page, "An empty tub")
        yield "your_tub, empty", _seen(page)


def _seen(page: Any) -> str:
    """Return what stands on a page as it is now."""
    assert not page.exception
    return "\n".join(pages.outline(page.main))


def _press(page: Any, label: str) -> None:
    """Press the button whose label begins so."""
    next(each for each in page.button if each.label.startswith(label)).click().run()


def pages_page(known: set[str]) -> str:
    """Return the page of pages as it should be, where lines are known already."""
    figures, on_each, parts = list(figures_of(answer())), set[str](), list[str]()
    for name, text in screens():
        lines = [line for line in lines_of(text, figures) if line not in on_each]
        on_each = on_each or {line for line in lines if line.startswith(("page_link", "button_group"))}
        parts.append(block(name, cut_short(lines, known)))
    return f"# Wording of pages\n{ABOUT}" + "".join(parts)


def known_words() -> set[str]:
    """Return the lines that the page of commands and files has."""
    lines = (FOLDER / "words.md").read_text(encoding="utf-8").splitlines()
    return {re.sub(r"^- |\*", "", line) for line in lines}


if __name__ == "__main__":
    (FOLDER / "words.md").write_text(words_page(set()), encoding="utf-8")
    (FOLDER / "charts.md").write_text(charts_page(), encoding="utf-8")
    (FOLDER / "pages.md").write_text(pages_page(known_words()), encoding="utf-8")
