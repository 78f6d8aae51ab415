"""Dated events, seasons, shopping, money over the years, many tubs."""

from filtration.base.rooms import handed_out

__all__ = [
    "Done", "Fleet", "Outcome", "Plan", "Planned", "Purchase", "Spending", "best_of_either_sort",
    "bought_in_a_year", "break_even_day", "budget", "figures", "in_cents", "is_reusable", "numbered", "outcome_of",
    "own_hours_per_year", "plan", "read_fleet", "readings_from_table", "rinses_until", "rows_of_table",
    "services_done", "spares_for", "spending_of", "summed", "tubs_from_table",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
