"""The answer: what to take and why, how sure that is, the map of what fails, every figure."""

from functools import partial

import page_answer
import page_frame
import page_state
import streamlit as st
from page_text import plain

from filtration import Comparison
from filtration.present.words import answer, odds, pages, phrases


def in_words(comparison: Comparison) -> None:
    """Show what to take and why, in twenty dots and four figures, and the gravest caution."""
    best, display = comparison.advised, page_state.display()
    if best is not None:
        st.header(plain(phrases.title(best, comparison)), anchor=False)
        figures = {
            "First service": phrases.first_run(best),
            "Flow at rinse": phrases.flow(best.due_flow_l_per_h or 0.0, display),
            "Lowest visibility": phrases.distance(best.worst_view_m, display),
            "A year": phrases.money(best.cost_per_year.total or 0.0, comparison.study.currency),
        }
        page_frame.figures(figures, page_answer.meaning)
    st.markdown(page_frame.say(answer.headline(comparison), comparison))
    signs, told = pages.dots(comparison)
    if signs:
        with st.container(gap=None):
            st.markdown(signs)
            st.caption(page_frame.say(told, comparison))
    st.warning(plain(answer.cautions(comparison.study)[0]), icon="⚠️")


def as_table(comparison: Comparison) -> None:
    """Show every option, best first."""
    table = page_answer.table_of(comparison, page_state.display())
    looks = {column: page_answer.look(table, column) for column in table}
    page_frame.table(table, "Options, best first", "stretch", height="content", column_config=looks, placeholder="–")
    page_frame.download("Table as CSV", partial(page_frame.csv_of, table), "options.csv", "text/csv")


text, comparison = page_frame.answer()
picture = partial(page_frame.picture, text)
listed = partial(page_frame.headed, answer=comparison)
in_words(comparison)
sure = {"How sure, and what to measure next": odds.sureness(comparison)}
page_frame.beside(partial(picture, "map"), partial(listed, sure))
others, deciding = answer.others(comparison), answer.deciding(comparison)
if others:
    with st.expander("The others in a line each"):
        st.markdown(page_frame.bullets(others, comparison))
as_table(comparison)
page_frame.beside(partial(picture, "days_cases"), partial(picture, "cost_cases"))
page_frame.beside(partial(picture, "days_drivers"), partial(picture, "cost_drivers"))
notes = {"What decides": deciding, "Notes": answer.notes(comparison)[len(deciding) :]}
minding = {"Before anyone gets in": answer.cautions(comparison.study)}
page_frame.beside(partial(listed, notes), partial(listed, minding))
