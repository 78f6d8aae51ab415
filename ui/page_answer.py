"""An answer on a page: in words, as a table, in pictures."""

import json
from collections.abc import Mapping, Sequence

import pandas as pd
import streamlit as st
from page_text import plain

from filtration import Comparison, OptionAnswer
from filtration.present import phrases, sure_words, words

_INKS = {"light": "#44545d", "dark": "#b9c7ce"}
BESIDE = (
    ("pressure", "flow"),
    ("days",),
    ("days_cases", "days_drivers"),
    ("cost",),
    ("cost_cases", "cost_drivers"),
)
_SPREADSHEET_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else float(f"{value:.{digits}g}")


def _row(option: OptionAnswer, comparison: Comparison) -> dict[str, object]:
    currency = comparison.study.currency
    rinses = [stage.rinses_before_replacing for stage in option.stages]
    total, choice = option.cost_per_year.total, option.choice_cost_per_year
    return {
        "option": phrases.title(option, comparison),
        "meets needs": "yes" if option.meets_needs else "no",
        "first service, days": _rounded(option.days_to_first_service, 2),
        "ends by": option.governed_by or "",
        "clean flow, L/h": _rounded(option.clean_flow_l_per_h, 3),
        "flow when due, L/h": _rounded(option.due_flow_l_per_h, 3),
        "worst view": phrases.distance(option.worst_view_m),
        "rinses": " + ".join("–" if count is None else str(count) for count in rinses),
        f"a year, {currency}": None if total is None else round(total),
        f"choice, {currency}": None if choice is None else round(choice),
        "why not": "; ".join(words.why_not(option)),
    }


def table_of(comparison: Comparison) -> pd.DataFrame:
    """Return the options as people read them, best first, rounded to what is known of them."""
    return pd.DataFrame([_row(option, comparison) for option in comparison.options])


def csv_of(table: pd.DataFrame) -> bytes:
    """Return a table for a spreadsheet; text that one would take for a formula gets a mark in front."""

    def harmless(value: object) -> object:
        return f"'{value}" if isinstance(value, str) and value.startswith(_SPREADSHEET_SIGNS) else value

    return table.map(harmless).to_csv(index=False).encode("utf-8-sig")


def _meaning(term: str) -> str | None:
    meaning = phrases.TERMS.get(term)
    return plain(meaning[:1].upper() + meaning[1:]) if meaning else None


def show_words(comparison: Comparison) -> None:
    """Show what to take and why, its four figures, and the gravest caution."""
    best = comparison.best
    if best is not None:
        st.subheader(plain(phrases.title(best, comparison)), anchor=False)
        currency = comparison.study.currency
        figures = {
            "first service": phrases.days(best.days_to_first_service or 0.0),
            "flow when due": f"{phrases.number(best.due_flow_l_per_h or 0.0, 3)} L/h",
            "worst view": phrases.distance(best.worst_view_m),
            "a year": phrases.money(best.cost_per_year.total or 0.0, currency),
        }
        with st.container(horizontal=True, gap="small"):
            for name, figure in figures.items():
                st.metric(name.capitalize(), plain(figure), help=_meaning(name), width=165)
    st.markdown(plain(words.headline(comparison)))
    st.warning(plain(words.cautions(comparison.study)[0]), icon="⚠️")


def show_sureness(comparison: Comparison) -> None:
    """Show how sure the answer is, what drives it and what to measure next."""
    _listed("How sure", sure_words.sureness(comparison))


def show_table(comparison: Comparison) -> None:
    """Show every option, best first."""
    table = table_of(comparison)
    config = {column: st.column_config.Column(help=_meaning(column.split(", ")[0])) for column in table}
    st.dataframe(
        table,
        hide_index=True,
        width="stretch",
        height="content",
        column_config=config,
        column_order=[column for column in table if column != "why not"],
        placeholder="–",
        alt="Options, best first",
    )
    st.download_button(
        "Table as CSV", lambda: csv_of(table), file_name="options.csv", mime="text/csv", on_click="ignore"
    )


def show_others(comparison: Comparison) -> None:
    """Show in a line each what the other options fail on or cost more."""
    lines = words.others(comparison)
    if lines:
        with st.expander("The others in a line each"):
            st.markdown(_list_of(lines))


def ink() -> str | None:
    """Return a colour of letters in charts that reads well on the page's ground; the theme's own is too pale."""
    return _INKS.get(st.context.theme.type or "")


def show_pictures(drawn: Mapping[str, str], missing: Sequence[str]) -> None:
    """Show the charts, some beside each other where there is room, and say which options they lack."""
    for row in BESIDE:
        for place, name in zip(st.columns(len(row), gap="large"), row, strict=True):
            chart = drawn[name]
            if chart.startswith("{"):
                place.vega_lite_chart(json.loads(chart), width="stretch")
            else:
                place.caption(plain(chart))
    if missing:
        st.caption(plain(f"Not in every picture, as they lack the figures: {', '.join(missing)}."))


def show_notes(comparison: Comparison) -> None:
    """Show what to know beside the figures, and what to mind before anyone gets in."""
    deciding = words.deciding(comparison)
    notes, minding = st.columns(2, gap="large")
    with notes:
        _listed("What decides", deciding)
        _listed("Notes", words.notes(comparison)[len(deciding) :])
    with minding:
        _listed("Before anyone gets in", words.cautions(comparison.study))


def _listed(heading: str, lines: list[str]) -> None:
    st.markdown(f"### {heading}")
    st.markdown(_list_of(lines))


def _list_of(lines: list[str]) -> str:
    return "\n".join(f"- {plain(line)}" for line in lines)
