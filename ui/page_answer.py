"""An answer on a page as a table."""

from collections.abc import Callable

import pandas as pd
import streamlit as st
from page_text import plain
from streamlit.elements.lib.column_types import ColumnConfig

from filtration import Comparison, OptionAnswer
from filtration.base.defaults import model
from filtration.present.charts.catalogue import METRIC, Display
from filtration.present.words import answer, in_units, odds, phrases

_THOUSAND = 1000.0
_FAR_M = model("optics.most_said")


def _cases(option: OptionAnswer) -> str | None:
    if option.sureness is None:
        return None
    told = odds.of_twenty(option.sureness.chance_of_meeting_needs)
    return told.replace("fewer than ", "<").replace("more than ", ">")


def _row(option: OptionAnswer, comparison: Comparison, display: Display) -> dict[str, object]:
    currency, cost = comparison.study.currency, option.cost_per_year
    flow, pressure, length, mass = display.flow, display.pressure, display.length, display.mass

    def shown(value: float | None, into: Callable[[float], float] = float, digits: int = 2) -> float | None:
        return None if value is None else float(f"{into(value):.{digits}g}")

    def whole(value: float | None) -> float | None:
        return None if value is None else round(value)

    return {
        "option": phrases.title(option, comparison),
        "meets needs": "yes" if option.meets_needs else "no",
        "cases of 20": _cases(option),
        "first service, days": shown(option.days_to_first_service, phrases.rounded_down),
        f"a year, {currency}": whole(cost.total),
        f"lowest visibility, {length}": shown(min(option.worst_view_m, _FAR_M), display.length_of),
        f"clean flow, {flow}": shown(option.clean_flow_l_per_h, display.flow_of, 3),
        f"flow at rinse, {flow}": shown(option.due_flow_l_per_h, display.flow_of, 3),
        "limited by": option.governed_by or "",
        "rinses": phrases.rinses(option),
        f"cartridge-related, {currency}": whole(option.choice_cost_per_year),
        "turnovers an hour": shown(option.clean_turnovers_per_hour),
        f"taken when new, {pressure}": shown(option.clean_filter_loss_kpa, display.pressure_of),
        f"pressure drop at rinse, {pressure}": shown(option.due_filter_loss_kpa, display.pressure_of),
        f"dirt held at rinse, {mass}": shown(option.deposit_when_due_g, display.mass_of),
        f"clean visibility, {length}": shown(min(option.see_through_clean_m, _FAR_M), display.length_of),
        "clear again after, h": shown(option.hours_to_clear_after_session),
        "services a year": shown(option.services_per_year),
        "cartridges a year": shown(sum(stage.elements_per_year or 0.0 for stage in option.stages) or None),
        **{f"{name}, {currency}": whole(getattr(cost, part)) for part, name in phrases.PARTS.items()},
        "pumping, kWh": whole(option.energy_kwh_per_year.pumping),
        "cooling, kWh": whole(option.energy_kwh_per_year.cooling),
        "why not": in_units.converted("; ".join(answer.why_not(option)), display, in_units.own_names(comparison.study)),
    }


def table_of(comparison: Comparison, display: Display = METRIC) -> pd.DataFrame:
    """Return every figure of the options, best first, rounded to what is known of them."""
    return pd.DataFrame([_row(option, comparison, display) for option in comparison.options])


def meaning(term: str) -> str | None:
    """Return what a term of the table means; None where it needs no word."""
    told = phrases.TERMS.get(term.lower())
    return plain(told[:1].upper() + told[1:]) if told else None


def look(table: pd.DataFrame, column: str) -> ColumnConfig:
    """Return how a column looks: with its meaning, and with marks at the thousands where it has some."""
    told = meaning(column.split(", ", maxsplit=1)[0])
    if pd.api.types.is_numeric_dtype(table[column]) and table[column].max() >= _THOUSAND:
        return st.column_config.NumberColumn(help=told, format="localized")
    return st.column_config.Column(help=told)
