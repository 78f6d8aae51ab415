"""What if: one thing on a slider, the answer now beside the answer then; and what size would do."""

from collections.abc import Callable, Sequence
from functools import partial

import page_cache
import page_frame
import page_state
import pandas as pd
import streamlit as st
from page_fields import BY_PLACE, CHANGE, Field
from page_text import plain

from filtration import Comparison
from filtration.present.words import answer, fields, phrases, stories


def sizes(text: str, comparison: Comparison) -> None:
    """Ask for the smallest pump that keeps a flow, and the area that gives an interval."""
    st.header("Sizing", anchor=False)
    option, display = page_frame.choose(comparison), page_state.display()
    flow = display.flow_of(comparison.wanted_flow_l_per_h or option.clean_flow_l_per_h)
    days = 2.0 * (option.days_to_first_service or 14.0)

    def ask(
        name: str, label: str, value: str, step: float, button: str, size: Callable[[float], Sequence[str]]
    ) -> None:
        with st.form(name):
            wanted = st.number_input(label, value=float(value), step=step, format="%.6g")
            if st.form_submit_button(button):
                for line in size(wanted):
                    st.markdown(page_frame.say(line, comparison))

    pump = partial(page_cache.pump_for, text, option.id, unit=display.flow)
    area = partial(page_cache.area_for, text, option.id)
    page_frame.beside(
        partial(ask, "pump", f"Flow to keep, {display.flow}", f"{flow:.3g}", 50.0, "Smallest pump", pump),
        partial(ask, "area", "Days to the first service", f"{days:.2g}", 1.0, "Area it takes", area),
    )


def compare_both(text: str, comparison: Comparison, field: Field, value: float) -> None:
    """Show the answer as it is and as it would be: the filter at hand, then what to take, then how sure that is."""
    option = comparison.spoken_of
    moved = page_cache.moved(text, field.table, field.key, field.written(value))
    faults = page_cache.faults(moved)
    if faults:
        page_frame.errors(faults)
        return
    was, then = (page_cache.study(each).tub.water_life_days for each in (text, moved))
    if field.place != CHANGE.place and was != then:
        st.caption(plain(stories.water_moves(was, then)))
    would = option if moved == text else page_cache.alone(moved, option.id)
    rows = stories.beside(option, would, comparison.study.currency, page_state.display())
    columns = [plain(phrases.title(option, comparison)), "as it is", "as it would be"]
    page_frame.table(pd.DataFrame(rows, columns=columns), "The filter as it is, and as it would be")

    def headline(heading: str, of: str) -> None:
        st.markdown(f"**{heading}**")
        line = st.empty()
        known = of == text
        for work in (page_cache.answer,) if known else (page_cache.advice, page_cache.answer):
            found = page_frame.telling(partial(work, of))
            line.markdown(page_frame.say(answer.headline(found), found))

    def keep() -> None:
        page_state.put(page_cache.as_written(moved))
        page_state.renew()

    page_frame.beside(partial(headline, "As it is", text), partial(headline, "As it would be", moved))
    if moved != text:
        st.button("Keep it so", on_click=keep)


text, comparison = page_frame.answer()
values = {place: page_cache.value_of(text, *place.split(".")) for place in fields.WHAT_IFS}
offered = [place for place, value in values.items() if value is not None]
names = {place: f"{fields.WHAT_IFS[place]}: {fields.FIELDS[place][0].lower()}" for place in offered}
place = page_frame.pick("What to move", names, key="what if", persist_state="session", width=420)
field = BY_PLACE[place]
unit, now = field.unit(), field.read(values[place])
assert isinstance(now, float)  # noqa: S101 - it was offered because it has a number
least, most, step = page_cache.reach(place, now, field.step())
key = f"slider.{st.session_state.edition}.{place}.{unit}"
then = st.slider(fields.label(place, unit), least, most, now, step, format="%.6g", key=key)
if then == now:
    st.caption("Move it: the answer as it is stays on the left.")
compare_both(text, comparison, field, then)
sizes(text, comparison)
