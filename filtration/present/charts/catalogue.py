"""Charts of an answer by name, for a page, a notebook or a report.

A colour never speaks alone: kinds of element have their own shape as well, pumps and options their own dash, parts of
the cost stand in a fixed order and bear their names, and cases stand below the name of their option.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import altair as alt

from filtration.answers.results import Comparison, OptionAnswer
from filtration.present.charts import losses, odds, rating_map, year
from filtration.present.display import METRIC, Display
from filtration.present.words.in_units import US
from filtration.present.words.phrases import title

__all__ = ["METRIC", "PICTURES", "US", "Display", "Picture"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A chart that can be asked for by name.

    Parameters
    ----------
    draw : callable
        From an answer and the units shown to a chart; raises ``NoAnswerError`` where there is nothing to draw.
    alt : callable
        From an answer and the units shown to what the chart says, for whoever cannot see it.
    shows : callable, optional
        From an answer to the options that have what the chart shows; all where it says itself which it takes.
    """

    draw: Callable[[Comparison, Display], alt.LayerChart]
    alt: Callable[[Comparison, Display], str]
    shows: Callable[[Comparison], Sequence[OptionAnswer]] = lambda comparison: comparison.options

    def left_out(self, comparison: Comparison) -> list[str]:
        """Return the names of the options that have no figures for this chart."""
        shown = {option.id for option in self.shows(comparison)}
        return [title(option, comparison) for option in comparison.options if option.id not in shown]


def _cases(figure: odds.Figure) -> Picture:
    cases = partial(odds.with_cases, figure)
    return Picture(draw=partial(odds.cases_chart, figure), alt=partial(odds.cases_words, figure), shows=cases)


def _drivers(figure: odds.Figure) -> Picture:
    return Picture(draw=partial(odds.drivers_chart, figure), alt=partial(odds.drivers_words, figure))


PICTURES: Mapping[str, Picture] = {
    "map": Picture(draw=rating_map.map_chart, alt=rating_map.map_words, shows=rating_map.first_of_cells),
    "pressure": Picture(draw=losses.pressure_chart, alt=losses.pressure_words, shows=losses.with_pressure),
    "flow": Picture(draw=losses.flow_chart, alt=losses.flow_words, shows=losses.with_flow),
    "days": Picture(draw=year.days_chart, alt=year.days_words),
    "cost": Picture(draw=year.cost_chart, alt=year.cost_words, shows=year.with_cost),
    "days_cases": _cases(odds.DAYS),
    "cost_cases": _cases(odds.COST),
    "days_drivers": _drivers(odds.DAYS),
    "cost_drivers": _drivers(odds.COST),
}
