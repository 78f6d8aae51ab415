"""The plan: what to do and to buy on which day, what a year's shopping is, and all of it as files to export."""

from datetime import date
from functools import partial
from typing import Any

import page_cache
import page_frame
import page_readings
import page_state
import streamlit as st
from page_text import plain

from filtration.plan.dated import Plan
from filtration.plan.outcome import Outcome
from filtration.present.charts.pictures import CHARTS, OWN
from filtration.present.exports.by_ending import bytes_of
from filtration.present.words import exports, pages
from filtration.present.words import plan as plan_words


def asked(text: str) -> tuple[date, tuple[page_readings.Row, ...] | None]:
    """Ask from which day to plan, and return the readings that move it, if any."""
    rows = page_readings.rows_that_count(page_cache.study(text))
    first_day = st.date_input("From", value=page_readings.now().date(), format="YYYY-MM-DD", width=150) or date.min
    if rows is None:
        st.caption("What you log under Your readings moves these days.")
    return first_day, rows if page_readings.gone_by() else None


def days(plan: Plan) -> None:
    """Show what is done and bought on which day."""
    st.header("The first year, day by day", anchor=False)
    looks: dict[str, Any] = {plan.study.currency: st.column_config.NumberColumn(format="%.2f")}
    looks |= dict.fromkeys(("day", "earliest", "latest"), st.column_config.DateColumn(format="ddd D MMM YYYY"))
    rows, heading = plan_words.first_year_rows(plan), "The first year, day by day"
    page_frame.table(rows, heading, "stretch", height=420, column_config=looks, placeholder="–")


def listed(plan: Plan) -> None:
    """Show shopping, sums and what to know beside them."""
    left = {
        "A year's shopping": plan_words.shopping(plan),
        "Reusable or disposable": [plan_words.break_even(plan)],
        "At a service": plan_words.cautions(plan),
    }
    right = {
        "Year by year": plan_words.years(plan),
        "From the long-run rate to this plan's average": plan_words.gap(plan),
        "Notes": plan_words.notes(plan),
    }
    page_frame.beside(partial(page_frame.headed, left), partial(page_frame.headed, right))


def files(outcome: Outcome) -> None:
    """Offer everything that can be taken along."""
    st.header("Exports", anchor=False)
    stem = pages.file_stem(outcome.answer.study.name)
    with st.container(horizontal=True, gap="small"):
        for (ending, wanted), name in exports.FILES.items():
            needs_plan = wanted in ("plan", "card", "water")
            never = wanted == "water" and outcome.answer.study.water_never_changed
            if not never and (outcome.plan is not None or not needs_plan):
                page_frame.download(name, partial(bytes_of, outcome, ending, wanted), f"{stem}-{wanted}{ending}")
    st.caption(plain(exports.FILES_NOTE))


def charts(text: str, outcome: Outcome, at: str) -> None:
    """Offer one chart as a picture."""
    with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
        name = page_frame.pick("One chart", {name: exports.CHARTS[name] for name in CHARTS}, width=320)
        drawable = page_cache.is_drawn(page_cache.picture(text, name, page_state.display(), at if name in OWN else ""))
        for ending in (".png", ".svg"):
            data = partial(bytes_of, outcome, ending, name, at)
            page_frame.download(ending[1:].upper(), data, f"{name}{ending}", disabled=not drawable)
    if not drawable:
        st.caption("That one has nothing to show here.")


text, comparison = page_frame.answer()
with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
    option = page_frame.choose(comparison)
    first_day, rows = asked(page_cache.as_written(text))
with page_frame.faults_told():
    outcome = page_frame.telling(
        partial(page_readings.outcome, page_cache.as_written(text), option.id, first_day, rows)
    )
if outcome.plan is None:
    st.info(plain(outcome.why))
else:
    st.markdown(f"**{plain(plan_words.headline(outcome.plan))}**")
files(outcome)
charts(text, outcome, option.id)
if outcome.plan is not None:
    days(outcome.plan)
    listed(outcome.plan)
