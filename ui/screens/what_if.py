"""What if: one thing on a slider, the answer now beside the answer then; and what size would do."""

import page_cache
import page_frame
import page_state
import pandas as pd
import streamlit as st
from page_fields import (
    BORE,
    CHANGE,
    FLOW,
    HOSE,
    HOURS,
    LIFT,
    POWER_PRICE,
    SEE_THROUGH,
    SHOWERED,
    TEMPERATURE,
    TURNOVERS,
    USES,
    VOLUME,
    Field,
)
from page_text import plain

from filtration import Comparison, InputError
from filtration.present.words import answer as words
from filtration.present.words import fields as field_words
from filtration.present.words import phrases
from filtration.present.words import stories as page_stories

MOVED = (
    USES,
    SHOWERED,
    CHANGE,
    TEMPERATURE,
    VOLUME,
    LIFT,
    FLOW,
    HOURS,
    BORE,
    HOSE,
    TURNOVERS,
    SEE_THROUGH,
    POWER_PRICE,
)


def sizes(text: str, comparison: Comparison) -> None:
    """Ask for the smallest pump that keeps a flow, and the area that gives an interval."""
    st.header("What size would do?", anchor=False)
    option, display = page_frame.choose(comparison), page_state.display()
    pump, area = st.columns(2, gap="large")
    with pump, st.form("pump"):
        wanted = comparison.wanted_flow_l_per_h or option.clean_flow_l_per_h
        flow = st.number_input(
            f"Flow to keep, {display.flow}", value=float(f"{display.flow_of(wanted):.3g}"), step=50.0, format="%.6g"
        )
        if st.form_submit_button("Smallest pump"):
            told(page_cache.pump_for(text, option.id, flow, display.flow), comparison)
    with area, st.form("area"):
        now = option.days_to_first_service or 14.0
        days = st.number_input("Days to the first service", value=float(f"{2.0 * now:.2g}"), step=1.0, format="%.6g")
        if st.form_submit_button("Area it takes"):
            told(page_cache.area_for(text, option.id, days), comparison)


def told(lines: tuple[str, ...], comparison: Comparison) -> None:
    """Show sentences one below the other."""
    for line in lines:
        st.markdown(page_frame.say(line, comparison))


def show() -> None:
    """Show the page."""
    page_frame.opening("what_if")
    text, comparison = page_frame.answer()
    tables = page_cache.tables(text)
    offered = {field.place: field for field in MOVED if page_cache.value_of(text, field.table, field.key) is not None}
    state = st.session_state
    place = st.selectbox(
        "What to move",
        list(offered),
        format_func=lambda place: f"{field_words.WHAT_IFS[place]}: {field_words.FIELDS[place][0].lower()}",
        key="what if",
        persist_state="session",
        width=420,
    )
    field = offered[place]
    unit = field.unit()
    now = field.shown(tables)
    if not isinstance(now, float):
        now = field.read(page_cache.value_of(text, field.table, field.key))
    assert isinstance(now, float)  # noqa: S101 - it was offered because it has a number
    least, most, step = page_cache.reach(field.place, now, field.step[page_state.display().us])
    then = st.slider(
        field_words.label(place, unit),
        least,
        most,
        now,
        step,
        format="%.6g",
        key=f"slider.{state.edition}.{place}.{unit}",
    )
    if then == now:
        st.caption("Move it: the answer as it is stays on the left.")
    compare_both(text, comparison, field, then)
    sizes(text, comparison)


def compare_both(text: str, comparison: Comparison, field: Field, value: float) -> None:
    """Show the answer as it is and as it would be: first the filter at hand, then all of them."""
    option, display, currency = comparison.spoken_of, page_state.display(), comparison.study.currency
    try:
        moved = page_cache.moved(text, field.table, field.key, field.written(value))
        faults = page_cache.faults(moved)
    except InputError as error:
        moved, faults = text, tuple(page_cache.told(error))
    if faults:
        for fault in faults:
            st.error(plain(fault))
        return
    was, then = (page_cache.study(each) for each in (text, moved))
    if field.place != CHANGE.place and was.tub.water_life_days != then.tub.water_life_days:
        st.caption(plain(page_stories.water_moves(was.tub.water_life_days, then.tub.water_life_days)))
    title = plain(phrases.title(option, comparison))
    would = option if moved == text else page_cache.alone(moved, option.id)
    rows = page_stories.beside(option, would, currency, display)
    table = pd.DataFrame(rows, columns=[title, "as it is", "as it would be"])
    st.dataframe(table, hide_index=True, width="content", alt="The filter as it is, and as it would be")
    old, new = st.columns(2, gap="large")
    with old:
        st.markdown("**As it is**")
        st.markdown(page_frame.say(words.headline(comparison), comparison))
    with new:
        st.markdown("**As it would be**")
        other = page_frame.progressing(moved)
        st.markdown(page_frame.say(words.headline(other), other))

    def keep() -> None:
        page_state.put(moved)
        page_state.renew()

    if moved != text:
        st.button("Keep it so", on_click=keep)


show()
