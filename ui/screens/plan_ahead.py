"""The plan: what to do and to buy on which day, what a year's shopping is, and all of it as files to take along."""

from datetime import date
from functools import partial

import page_cache
import page_frame
import page_readings
import page_state
import pandas as pd
import streamlit as st
from page_text import plain

from filtration import InputError, NoAnswerError
from filtration.plan.dated import Plan
from filtration.plan.outcome import Outcome
from filtration.present.charts.pictures import CHARTS
from filtration.present.exports.by_ending import bytes_of
from filtration.present.words import exports as ways_words
from filtration.present.words import plan as plan_words
from filtration.present.words.pages import file_stem


def asked(text: str) -> tuple[date, tuple[page_readings.Row, ...] | None]:
    """Ask from which day to plan, and whether readings move it."""
    rows = page_readings.rows_that_count(page_cache.study(text))
    first_day = st.date_input("From", value=page_readings.now().date(), format="YYYY-MM-DD", width=150) or date.min
    if rows is None:
        st.caption("What you log under Your readings moves these days.")
        return first_day, None
    return first_day, rows if st.checkbox("Go by my readings", value=True) else None


def days(plan: Plan) -> None:
    """Show what is done and bought on which day."""
    st.header("The first year, day by day", anchor=False)
    table = pd.DataFrame(plan_words.first_year_rows(plan))
    st.dataframe(
        table,
        hide_index=True,
        width="stretch",
        height=420,
        column_config={plan.study.currency: st.column_config.NumberColumn(format="%.2f")},
        placeholder="–",
        alt="The first year, day by day",
    )


def listed(plan: Plan) -> None:
    """Show shopping, sums and what to know beside them."""
    left = {
        "A year's shopping": plan_words.shopping(plan),
        "Rinsed or thrown away": [plan_words.break_even(plan)],
        "At a service": plan_words.cautions(plan),
    }
    right = {
        "Year by year": plan_words.years(plan),
        "From the long-run rate to this plan's average": plan_words.gap(plan),
        "Notes": plan_words.notes(plan),
    }
    for column, parts in zip(st.columns(2, gap="large"), (left, right), strict=True):
        with column:
            for heading, lines in parts.items():
                st.header(heading, anchor=False)
                st.markdown("\n".join(f"- {plain(line)}" for line in lines))


def files(outcome: Outcome) -> None:
    """Offer everything that can be taken along."""
    st.header("Take it along", anchor=False)
    stem = file_stem(outcome.answer.study.name)
    with st.container(horizontal=True, gap="small"):
        for (ending, wanted), name in ways_words.FILES.items():
            if outcome.plan is not None or wanted not in ("plan", "card"):
                st.download_button(
                    name,
                    partial(bytes_of, outcome, ending, wanted),
                    file_name=f"{stem}-{wanted}{ending}",
                    on_click="ignore",
                )
    st.caption(plain(ways_words.FILES_NOTE))


def charts(text: str, outcome: Outcome, at: str) -> None:
    """Offer one chart as a picture."""
    with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
        name = st.selectbox("One chart", CHARTS, format_func=ways_words.CHARTS.__getitem__, width=320)
        drawable = page_cache.drawable(text, name, at, page_state.display())
        for ending in (".png", ".svg"):
            st.download_button(
                ending[1:].upper(),
                partial(bytes_of, outcome, ending, name, at),
                file_name=f"{name}{ending}",
                on_click="ignore",
                disabled=not drawable,
            )
    if not drawable:
        st.caption("That one has nothing to show here.")


def show() -> None:
    """Show the page."""
    page_frame.opening("plan_ahead")
    text, comparison = page_frame.answer()
    with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
        option = page_frame.choose(comparison)
        first_day, rows = asked(text)
    try:
        outcome = page_frame.telling(partial(page_readings.outcome, text, option.id, first_day, rows))
    except InputError as error:
        st.error(plain("; ".join(error.faults)))
        return
    except NoAnswerError as nothing:
        st.info(plain(str(nothing)))
        return
    if outcome.plan is None:
        st.info(plain(outcome.why))
    else:
        st.markdown(f"**{plain(plan_words.headline(outcome.plan))}**")
    files(outcome)
    charts(text, outcome, option.id)
    if outcome.plan is not None:
        days(outcome.plan)
        listed(outcome.plan)


show()
