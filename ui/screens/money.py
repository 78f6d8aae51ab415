"""The money: what is cartridge-related, reusable against disposable, the pump's heat, what to buy, what would save."""

from functools import partial

import page_cache
import page_frame
import page_state
import pandas as pd
import streamlit as st
from page_text import plain

from filtration import Comparison, OptionAnswer
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.plan.spending import bought_in_a_year, break_even_day, own_hours_per_year, rinses_until, spending_of
from filtration.present.charts.paid import pair_of
from filtration.present.words import answer, phrases, savings, stories


def figures(option: OptionAnswer, comparison: Comparison) -> None:
    """Show a year in a few figures, cash and own time apart."""
    cost, currency = option.cost_per_year, comparison.study.currency
    own = cost.own_time or 0.0
    hours = own_hours_per_year(comparison.study, option)
    related = phrases.money(option.choice_cost_per_year or 0.0, currency)
    shown = {
        "A year, cash": phrases.money((cost.total or 0.0) - own, currency),
        "Cartridge-related": related if answer.is_choice(comparison) else "–",
        "Own time": f"{phrases.number(hours)} h",
        "For the pump's heat": phrases.money(cost.cooling or 0.0, currency),
    }
    page_frame.figures(shown)
    st.markdown(plain(stories.time_story(hours, own, currency)))
    st.markdown(plain(stories.heat_story(option, comparison, page_state.display())))


def over_the_years(text: str, option: OptionAnswer, comparison: Comparison) -> None:
    """Show when a reusable filter beats a disposable one."""
    pair = pair_of(comparison, option)
    if pair is not None:
        spent = [spending_of(option.events) for option in pair]
        names = [phrases.title(option, comparison) for option in pair]
        saved = spent[1].total[-1] - spent[0].total[-1]
        years = comparison.study.prices.horizon_days / DAYS_PER_YEAR
        crossing = break_even_day(*spent)
        rinsed = rinses_until(pair[0].events, crossing or 0)
        told = stories.paid_story(*names, crossing, saved, comparison.study.currency, years, rinsed)
        st.markdown(plain(told))
    page_frame.picture(text, "paid", option.id)


def saving(text: str, option: OptionAnswer) -> None:
    """Show what would save most beside the cartridge."""
    st.header("What would save most", anchor=False)
    found = page_cache.savings_of(text, option.id)
    rows = savings.rows(found, page_state.display())
    if rows:
        page_frame.table(rows, "What would save most")
    st.caption(plain(savings.page_method() if rows else savings.headline(found)))


def shopping(option: OptionAnswer, comparison: Comparison) -> None:
    """Show what to buy in a year."""
    st.header("A year's shopping", anchor=False)
    bought = bought_in_a_year(comparison.study.elements, option.events)
    table = pd.DataFrame(stories.shopping_lines(bought, comparison.study.currency))
    page_frame.table(table, "A year's shopping")
    page_frame.download("Shopping list as CSV", partial(page_frame.csv_of, table), "shopping.csv", "text/csv")


text, comparison = page_frame.answer()
option = page_frame.choose(comparison)
if option.cost_per_year.total is None:
    st.info(plain(f"{option.name} never runs on this pump, so it has no cost."))
else:
    figures(option, comparison)
page_frame.beside(partial(page_frame.picture, text, "cost"), partial(over_the_years, text, option, comparison))
if option.cost_per_year.total is not None:
    shopping(option, comparison)
    saving(text, option)
