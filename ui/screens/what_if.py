"""What if: one thing on a slider, the answer now beside the answer then; and what size would do."""

from collections.abc import Callable
from functools import partial

import page_cache
import page_frame
import page_state
import pandas as pd
import streamlit as st
from page_fields import BY_PLACE, CHANGE, Field
from page_text import plain

from filtration import Comparison, InputError, OptionAnswer
from filtration.present.words import answer as words
from filtration.present.words import fields as field_words
from filtration.present.words import phrases
from filtration.present.words import stories as page_stories


def ask_pump(text: str, comparison: Comparison, option: OptionAnswer) -> None:
    """Ask for the smallest pump that keeps a flow."""
    display, wanted = page_state.display(), comparison.wanted_flow_l_per_h or option.clean_flow_l_per_h
    value = float(f"{display.flow_of(wanted):.3g}")
    with st.form("pump"):
        flow = st.number_input(f"Flow to keep, {display.flow}", value=value, step=50.0, format="%.6g")
        if st.form_submit_button("Smallest pump"):
            told(page_cache.pump_for(text, option.id, flow, display.flow), comparison)


def ask_area(text: str, comparison: Comparison, option: OptionAnswer) -> None:
    """Ask for the area that gives an interval."""
    value = float(f"{2.0 * (option.days_to_first_service or 14.0):.2g}")
    with st.form("area"):
        days = st.number_input("Days to the first service", value=value, step=1.0, format="%.6g")
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
    values = {place: page_cache.value_of(text, *place.split(".")) for place in field_words.WHAT_IFS}
    names = {
        place: f"{what}: {field_words.FIELDS[place][0].lower()}"
        for place, what in field_words.WHAT_IFS.items()
        if values[place] is not None
    }
    place = page_frame.pick("What to move", names, key="what if", persist_state="session", width=420)
    field = BY_PLACE[place]
    unit, now = field.unit(), field.read(values[place])
    assert isinstance(now, float)  # noqa: S101 - it was offered because it has a number
    least, most, step = page_cache.reach(place, now, field.step[page_state.display().us])
    key = f"slider.{st.session_state.edition}.{place}.{unit}"
    then = st.slider(field_words.label(place, unit), least, most, now, step, format="%.6g", key=key)
    if then == now:
        st.caption("Move it: the answer as it is stays on the left.")
    compare_both(text, comparison, field, then)
    st.header("What size would do?", anchor=False)
    option = page_frame.choose(comparison)
    page_frame.beside(partial(ask_pump, text, comparison, option), partial(ask_area, text, comparison, option))


def compare_both(text: str, comparison: Comparison, field: Field, value: float) -> None:
    """Show the answer as it is and as it would be: first the filter at hand, then all of them."""
    option = comparison.spoken_of
    try:
        moved = page_cache.moved(text, field.table, field.key, field.written(value))
        faults = page_cache.faults(moved)
    except InputError as error:
        moved, faults = text, tuple(page_cache.told(error))
    if faults:
        page_frame.errors(faults)
        return
    was, then = (page_cache.study(each).tub.water_life_days for each in (text, moved))
    if field.place != CHANGE.place and was != then:
        st.caption(plain(page_stories.water_moves(was, then)))
    would = option if moved == text else page_cache.alone(moved, option.id)
    rows = page_stories.beside(option, would, comparison.study.currency, page_state.display())
    columns = [plain(phrases.title(option, comparison)), "as it is", "as it would be"]
    page_frame.table(pd.DataFrame(rows, columns=columns), "The filter as it is, and as it would be")

    def headline(heading: str, work: Callable[[], Comparison]) -> None:
        st.markdown(f"**{heading}**")
        found = work()
        st.markdown(page_frame.say(words.headline(found), found))

    def keep() -> None:
        page_state.put(moved)
        page_state.renew()

    page_frame.beside(
        partial(headline, "As it is", lambda: comparison),
        partial(headline, "As it would be", partial(page_frame.progressing, moved)),
    )
    if moved != text:
        st.button("Keep it so", on_click=keep)


show()
