"""The answer: what to take and why, how sure that is, the map of what fails, every figure."""

from functools import partial

import page_frame
from page_answer import show_notes, show_others, show_sureness, show_table, show_words


def show() -> None:
    """Show the page."""
    page_frame.opening("which_filter")
    text, comparison = page_frame.answer()
    show_words(comparison)
    picture = partial(page_frame.picture, text)
    page_frame.beside(partial(picture, "map"), partial(show_sureness, comparison))
    show_others(comparison)
    show_table(comparison)
    page_frame.beside(partial(picture, "days_cases"), partial(picture, "cost_cases"))
    page_frame.beside(partial(picture, "days_drivers"), partial(picture, "cost_drivers"))
    show_notes(comparison)


show()
