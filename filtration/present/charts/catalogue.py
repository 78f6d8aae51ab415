"""Pictures of an answer, for a page, a notebook or a report.

A colour never speaks alone: kinds of element have their own shape as well, pumps and options their own dash, parts of
the cost stand in a fixed order and bear their names, and cases stand below the name of their option.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import altair as alt

from filtration.answers.results import Comparison
from filtration.present.charts.look import METRIC, Display
from filtration.present.charts.losses import (
    flow_chart,
    flow_words,
    pressure_chart,
    pressure_words,
    without_flow,
    without_pressure,
)
from filtration.present.charts.map import map_chart, map_words, without_map
from filtration.present.charts.odds import (
    COST,
    DAYS,
    Figure,
    cases_chart,
    cases_words,
    drivers_chart,
    drivers_words,
    without_cases,
)
from filtration.present.charts.paid import paid_chart, paid_words, without_paid
from filtration.present.charts.year import (
    cost_chart,
    cost_words,
    days_chart,
    days_words,
    without_cost,
    without_record,
)
from filtration.present.words.in_units import US

__all__ = ["METRIC", "PICTURES", "US", "Display", "Picture", "cost_chart", "days_chart", "flow_chart", "pressure_chart"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A chart that can be asked for by name.

    Parameters
    ----------
    draw : callable
        From an answer and the units shown to a chart; raises ``NoAnswerError`` where there is nothing to draw.
    alt : callable
        From an answer and the units shown to what the chart says, for whoever cannot see it.
    left_out : callable
        From an answer to the names of the options that have no figures for this chart.
    """

    draw: Callable[[Comparison, Display], alt.LayerChart]
    alt: Callable[[Comparison, Display], str]
    left_out: Callable[[Comparison], list[str]]


def _cases_of(figure: Figure) -> Picture:
    return Picture(
        draw=lambda comparison, display: cases_chart(comparison, figure, display),
        alt=lambda comparison, _display: cases_words(comparison, figure),
        left_out=lambda comparison: without_cases(comparison, figure),
    )


def _drivers_of(figure: Figure) -> Picture:
    return Picture(
        draw=lambda comparison, display: drivers_chart(comparison, figure, display),
        alt=lambda comparison, _display: drivers_words(comparison, figure),
        left_out=lambda _comparison: [],
    )


PICTURES: Mapping[str, Picture] = MappingProxyType(
    {
        "map": Picture(draw=map_chart, alt=map_words, left_out=without_map),
        "pressure": Picture(draw=pressure_chart, alt=pressure_words, left_out=without_pressure),
        "flow": Picture(draw=flow_chart, alt=flow_words, left_out=without_flow),
        "days": Picture(draw=days_chart, alt=days_words, left_out=without_record),
        "cost": Picture(draw=cost_chart, alt=cost_words, left_out=without_cost),
        "paid": Picture(draw=paid_chart, alt=paid_words, left_out=without_paid),
        "days_cases": _cases_of(DAYS),
        "cost_cases": _cases_of(COST),
        "days_drivers": _drivers_of(DAYS),
        "cost_drivers": _drivers_of(COST),
    }
)
