"""Whatever a page works out ends once its visitor has gone, within a moment."""

from collections.abc import Callable
from datetime import UTC, date, datetime

import page_cache
import page_many
import page_readings
import pytest
from pages import opened
from streamlit.testing.v1 import AppTest, local_script_runner
from studies import demo_with

from filtration.base.waiting import waited_for
from filtration.study.text import text_of_tables

TODAY = datetime(2026, 2, 20, 12, tzinfo=UTC)
ROWS = (("2026-02-02T18:00+01:00", "flow", "22 L/min", ""),)

Work = Callable[[str, str], object]
WORK: dict[str, Work] = {
    "fit": lambda text, _option: page_readings.looked(text, ROWS, TODAY),
    "plan": lambda text, option: page_readings.outcome(text, option, TODAY.date(), None),
    "savings": page_cache.savings_of,
    "pump": lambda text, option: page_cache.pump_for(text, option, 900.0, "L/h"),
    "area": lambda text, option: page_cache.area_for(text, option, 30.0),
    "pressure drops": page_cache.drops_of,
    "chart of one option": lambda text, option: page_cache.series_of(text, "dirtier", option),
    "what if, one option": lambda text, option: page_cache.alone(text.replace("420 L", "430 L"), option),
    "what if, all of them": lambda text, _option: page_cache.answer(text.replace("420 L", "440 L")),
    "many tubs": lambda text, _option: page_many.fleet((("tub.toml", text),), text, date(2026, 2, 20)),
}


def in_use(name: str) -> str:
    known = {"name": name, "in_use": {"option": "pleated-20", "since": "2026-02-01"}}
    return text_of_tables(demo_with("freezer", "Pleated 20") | known)


@pytest.mark.parametrize("what", WORK)
def test_whatever_a_page_works_out_ends_once_nobody_waits(what: str) -> None:
    """In the middle: its first looks are let pass."""
    text = in_use("Left early")
    option, looks = page_cache.answer(text).spoken_of.id, list[int]()

    def look() -> None:
        looks.append(1)
        if len(looks) > 3:
            raise InterruptedError

    with waited_for(look), pytest.raises(InterruptedError):
        WORK[what](text, option)
    assert len(looks) == 4


def test_a_page_stops_in_the_middle_as_its_visitor_goes(page: AppTest, monkeypatch: pytest.MonkeyPatch) -> None:
    """By Streamlit's own request to stop, which a closed browser makes; what was begun is not gone on with."""
    runners, ended, savings = list[local_script_runner.LocalScriptRunner](), list[object](), page_cache.savings_of
    start = local_script_runner.LocalScriptRunner.start

    def started(runner: local_script_runner.LocalScriptRunner) -> None:
        runners.append(runner)
        start(runner)

    def left(text: str, option: str) -> object:
        runners[-1].request_stop()
        ended.append(savings(text, option))
        return ended[-1]

    monkeypatch.setattr(local_script_runner.LocalScriptRunner, "start", started)
    monkeypatch.setattr(page_cache, "savings_of", left)
    opened(page, in_use("Left in the middle"), "money")
    assert len(runners) == 2
    assert ended == []
