"""An answer on a page: in words, in twenty dots, as a table."""

from collections.abc import Callable
from dataclasses import fields
from functools import partial

import page_frame
import page_state
import pandas as pd
import streamlit as st
from page_frame import say
from page_text import plain
from streamlit.elements.lib.column_types import ColumnConfig

from filtration import Comparison, OptionAnswer
from filtration.answers.results import CostPerYear
from filtration.base.defaults import model
from filtration.present.charts.catalogue import METRIC, Display
from filtration.present.words import answer as words
from filtration.present.words import in_units as unit_words
from filtration.present.words import odds as sure_words
from filtration.present.words import pages as page_words
from filtration.present.words import phrases
from filtration.present.words.in_units import converted

_THOUSAND = 1000.0
_FAR_M = model("optics.most_said")


def _cases(option: OptionAnswer) -> str | None:
    if option.sureness is None:
        return None
    told = sure_words.of_twenty(option.sureness.chance_of_meeting_needs)
    return told.replace("fewer than ", "<").replace("more than ", ">")


def _row(option: OptionAnswer, comparison: Comparison, display: Display) -> dict[str, object]:
    currency, cost = comparison.study.currency, option.cost_per_year
    rinses = [stage.rinses_before_replacing for stage in option.stages]
    flow, pressure, length, mass = display.flow, display.pressure, display.length, display.mass

    def shown(value: float | None, into: Callable[[float], float] = float, digits: int = 2) -> float | None:
        return None if value is None else float(f"{into(value):.{digits}g}")

    def whole(value: float | None) -> float | None:
        return None if value is None else round(value)

    parts = [part.name for part in fields(CostPerYear) if part.name != "total"]
    return {
        "option": phrases.title(option, comparison),
        "meets needs": "yes" if option.meets_needs else "no",
        "cases of 20": _cases(option),
        "first service, days": shown(option.days_to_first_service),
        f"a year, {currency}": whole(cost.total),
        f"worst view, {length}": shown(min(option.worst_view_m, _FAR_M), display.length_of),
        f"clean flow, {flow}": shown(option.clean_flow_l_per_h, display.flow_of, 3),
        f"flow when due, {flow}": shown(option.due_flow_l_per_h, display.flow_of, 3),
        "ends by": option.governed_by or "",
        "rinses": " + ".join("–" if count is None else str(count) for count in rinses),
        f"choice, {currency}": whole(option.choice_cost_per_year),
        "turnovers an hour": shown(option.clean_turnovers_per_hour),
        f"taken when new, {pressure}": shown(option.clean_filter_loss_kpa, display.pressure_of),
        f"taken when due, {pressure}": shown(option.due_filter_loss_kpa, display.pressure_of),
        f"dirt held when due, {mass}": shown(option.deposit_when_due_g, display.mass_of),
        f"clean view, {length}": shown(min(option.see_through_clean_m, _FAR_M), display.length_of),
        "clear again after, h": shown(option.hours_to_clear_after_session),
        "services a year": shown(option.services_per_year),
        "elements a year": shown(sum(stage.elements_per_year or 0.0 for stage in option.stages) or None),
        **{f"{phrases.PARTS[part]}, {currency}": whole(getattr(cost, part)) for part in parts},
        "pumping, kWh": whole(option.energy_kwh_per_year.pumping),
        "cooling, kWh": whole(option.energy_kwh_per_year.cooling),
        "why not": converted("; ".join(words.why_not(option)), display, unit_words.own_names(comparison.study)),
    }


def table_of(comparison: Comparison, display: Display = METRIC) -> pd.DataFrame:
    """Return every figure of the options, best first, rounded to what is known of them."""
    return pd.DataFrame([_row(option, comparison, display) for option in comparison.options])


def _meaning(term: str) -> str | None:
    meaning = phrases.TERMS.get(term.lower())
    return plain(meaning[:1].upper() + meaning[1:]) if meaning else None


def _look(table: pd.DataFrame, column: str) -> ColumnConfig:
    """Return how a column looks: with its meaning, and with marks at the thousands where it has some."""
    told = _meaning(column.split(", ", maxsplit=1)[0])
    if pd.api.types.is_numeric_dtype(table[column]) and table[column].max() >= _THOUSAND:
        return st.column_config.NumberColumn(help=told, format="localized")
    return st.column_config.Column(help=told)


def show_words(comparison: Comparison) -> None:
    """Show what to take and why, in twenty dots and four figures, and the gravest caution."""
    best, display = comparison.advised, page_state.display()
    if best is not None:
        st.header(plain(phrases.title(best, comparison)), anchor=False)
        figures = {
            "First service": phrases.days(best.days_to_first_service or 0.0),
            "Flow when due": f"{phrases.number(display.flow_of(best.due_flow_l_per_h or 0.0), 3)} {display.flow}",
            "Worst view": phrases.distance(best.worst_view_m, display),
            "A year": phrases.money(best.cost_per_year.total or 0.0, comparison.study.currency),
        }
        page_frame.figures(figures, _meaning)
    st.markdown(say(words.headline(comparison), comparison))
    signs, told = page_words.dots(comparison)
    if signs:
        with st.container(gap=None):
            st.markdown(signs)
            st.caption(say(told, comparison))
    st.warning(plain(words.cautions(comparison.study)[0]), icon="⚠️")


def show_sureness(comparison: Comparison) -> None:
    """Show how sure the answer is, what drives it and what to measure next."""
    page_frame.headed({"How sure, and what to measure next": sure_words.sureness(comparison)}, comparison)


def show_table(comparison: Comparison) -> None:
    """Show every option, best first."""
    table = table_of(comparison, page_state.display())
    looks = {column: _look(table, column) for column in table}
    page_frame.table(table, "Options, best first", "stretch", height="content", column_config=looks, placeholder="–")
    page_frame.download_table("Table as CSV", table, "options.csv")


def show_others(comparison: Comparison) -> None:
    """Show in a line each what the other options fail on or cost more."""
    lines = words.others(comparison)
    if lines:
        with st.expander("The others in a line each"):
            st.markdown(page_frame.bullets(lines, comparison))


def show_notes(comparison: Comparison) -> None:
    """Show what to know beside the figures, and what to mind before anyone gets in."""
    deciding = words.deciding(comparison)
    notes = {"What decides": deciding, "Notes": words.notes(comparison)[len(deciding) :]}
    minding = {"Before anyone gets in": words.cautions(comparison.study)}
    page_frame.beside(*(partial(page_frame.headed, parts, comparison) for parts in (notes, minding)))
