"""Every chart by name, and as PNG or SVG, drawn without a browser."""

import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import altair as alt

from filtration.answers import clearness as clear
from filtration.answers import series
from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.draws import ONE_IN_TEN
from filtration.base.errors import InputError, NoAnswerError, shown
from filtration.present.charts.catalogue import METRIC, PICTURES, Display
from filtration.present.charts.clear import catch_chart, lives_chart, view_chart
from filtration.present.charts.look import a_few
from filtration.present.charts.paid import paid_chart
from filtration.present.charts.readings import flow_readings_chart, loss_readings_chart
from filtration.present.charts.series import life_chart, loading_chart
from filtration.present.words.in_units import display_of
from filtration.readings.fitted_runs import seen_runs
from filtration.readings.foretold import Forecast
from filtration.study.values import Study

_WIDTH_PX, _TIMES = 720, 2.0
_ID = re.compile(r'(\bid="|url\(#|href="#)')
_BEYOND = re.compile("[\U00010000-\U0010ffff]")
_SAFE = 18  # letters, the widest of which fit where Vega cuts


Drawn = alt.LayerChart | alt.VConcatChart
Series = Callable[[str, str], Any]
"""From a kind of ``SERIES`` and an option's id to what charts of single options are drawn from."""

SERIES: Mapping[str, Callable[[Study, Callable[[str], Any], str], Any]] = {
    "runs": lambda _study, follow, at: series.flow_runs(follow(at)),
    "dirtier": lambda study, _follow, at: series.flow_runs_at(study, at, ONE_IN_TEN),
    "cleaner": lambda study, _follow, at: series.flow_runs_at(study, at, -ONE_IN_TEN),
    "loading": lambda _study, follow, at: series.loading_of(follow(at)),
    "clearness": lambda _study, follow, at: clear.clearness_of(follow(at)),
    "catch": lambda _study, follow, at: clear.catch_by_size(follow(at)),
    "views": lambda study, follow, at: clear.views_by_water_life(follow(at), clear.lives_to_show(study)),
}
"""What charts of single options are drawn from, by kind: from a study, what follows its options, and an option's id.

Flow from new to replacement, as assumed and where bathers bring more or less dirt; the loss as it loads, how far one
sees, what it catches by size, and how far one sees by the water's life.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Own:
    """What a chart of single options shows: of which answer, which option, which few, from what, in what units."""

    answer: Comparison
    option: OptionAnswer
    few: Sequence[OptionAnswer]
    series: Series
    display: Display = METRIC


def _life(own: Own) -> alt.LayerChart:
    runs, dirtier, cleaner = (own.series(kind, own.option.id) for kind in ("runs", "dirtier", "cleaner"))
    return life_chart(own.option, runs, dirtier, cleaner, own.answer.wanted_flow_l_per_h, own.display)


def _view(own: Own) -> alt.LayerChart:
    clearness, depth_m = own.series("clearness", own.option.id), own.answer.study.tub.depth_m
    return view_chart(own.option, clearness, depth_m, own.display)


def _lives(own: Own) -> alt.LayerChart:
    study, views = own.answer.study, [own.series("views", each.id) for each in own.few]
    lives, now, wanted = clear.lives_to_show(study), study.tub.water_life_days, study.needs.see_through_m
    return lives_chart(own.few, lives, views, now, wanted, own.display)


OWN: Mapping[str, Callable[[Own], alt.LayerChart]] = {
    "life": _life,
    "loading": lambda own: loading_chart([(each, own.series("loading", each.id)) for each in own.few], own.display),
    "view": _view,
    "catch": lambda own: catch_chart(own.option, own.series("catch", own.option.id), own.display),
    "lives": _lives,
    "paid": lambda own: paid_chart(own.answer, own.option, own.display),
}
"""Charts of single options, by name."""

CHARTS = (*PICTURES, *OWN)
"""Names of all charts."""


def chart(answer: Comparison, name: str, option: str | None = None, *, width_px: int = _WIDTH_PX) -> alt.LayerChart:
    """Draw a chart as it stands in a file.

    Parameters
    ----------
    answer : Comparison
        The answer.
    name : str
        One of ``CHARTS``.
    option : str, optional
        Id or name of the option that charts of one option are drawn for; left out, the one to take.
    width_px : int, optional
        Width with all its letters.

    Returns
    -------
    altair.LayerChart
        The chart.

    Raises
    ------
    InputError
        If there is no such chart or option, or nothing to draw.
    """
    if name not in CHARTS:
        raise InputError(f"there is no chart {shown(name)}; there are {', '.join(CHARTS)}")
    one = answer.spoken_of if option is None else answer.option(option)
    follow = partial(series.follow_option, answer.study)
    few, drawn_from = a_few(answer), lambda kind, at: SERIES[kind](answer.study, follow, at)
    display = display_of(answer.study)
    own = Own(answer=answer, option=one, few=few, series=drawn_from, display=display)
    draw = partial(OWN[name], own) if name in OWN else partial(PICTURES[name].draw, answer, display)
    autosize = alt.AutoSizeParams(type="fit-x", contains="padding")
    drawn = _drawn(name, draw).properties(width=width_px, autosize=autosize, background="white")
    spec = drawn.to_dict()
    return alt.LayerChart.from_dict(_whole_letters(spec)) if _BEYOND.search(repr(spec)) else drawn


def _whole_letters(given: Any) -> Any:  # noqa: ANN401 - whatever stands in a chart
    """Return a chart's texts such that cutting a long one cannot cut a letter in two.

    Vega cuts after so many half letters of UTF-16, and half a letter is no text any more. So what is beyond its first
    plane and may be cut is shown as a box.
    """
    match given:
        case str():
            return given[:_SAFE] + _BEYOND.sub("\u25af", given[_SAFE:])
        case dict():
            return {key: value if key == "description" else _whole_letters(value) for key, value in given.items()}
        case list():
            return [_whole_letters(value) for value in given]
    return given


def readings_chart(ahead: Forecast, name: str = "flow") -> alt.LayerChart:
    """Draw the run in use with its readings, and what lies ahead.

    Parameters
    ----------
    ahead : Forecast
        What was made of the readings.
    name : {"flow", "pressure"}, optional
        What is drawn against time.

    Returns
    -------
    altair.LayerChart
        The chart.

    Raises
    ------
    InputError
        If there is no such chart, or nothing to draw.
    """
    draws = {"flow": flow_readings_chart, "pressure": loss_readings_chart}
    if name not in draws:
        raise InputError(f"there is no chart {shown(name)} of readings; there are {', '.join(draws)}")
    display = display_of(ahead.study)
    return _drawn(name, lambda: draws[name](seen_runs(ahead), ahead, display))


def _drawn(name: str, draw: Callable[[], alt.LayerChart]) -> alt.LayerChart:
    try:
        return draw()
    except NoAnswerError as nothing:
        raise InputError(f"{name}: there is nothing to draw: {nothing}") from None


def png_of(drawn: Drawn) -> bytes:
    """Return a chart as PNG, sharp on a fine screen.

    Parameters
    ----------
    drawn : altair.LayerChart or altair.VConcatChart
        What ``chart`` or ``sweep_chart`` draws.

    Returns
    -------
    bytes
        The file.
    """
    out = io.BytesIO()
    drawn.save(out, format="png", scale_factor=_TIMES)
    return out.getvalue()


def svg_of(drawn: Drawn, mark: str = "") -> str:
    """Return a chart as SVG.

    Parameters
    ----------
    drawn : altair.LayerChart
        What ``chart`` draws.
    mark : str, optional
        Put before each of its internal names, so that several can stand in one page.

    Returns
    -------
    str
        The picture.
    """
    out = io.StringIO()
    drawn.save(out, format="svg")
    return _ID.sub(rf"\g<1>{mark}", out.getvalue()) if mark else out.getvalue()
