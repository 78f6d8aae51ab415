"""Dated events, seasons, shopping, money over the years, many tubs."""

from filtration.base.rooms import handed_out

__all__ = [
    "KINDS_OF_COST", "Bought", "Done", "Fleet", "FleetRow", "Line", "Outcome", "Plan", "Planned", "Purchase", "Ranged",
    "Spending", "Standard", "TubBudget", "VisitDay", "Year", "best_of_either_sort", "bought_in_a_year",
    "break_even_day", "budget", "in_cents", "is_reusable", "month_of", "numbered", "outcome_of", "own_hours_per_year",
    "plan", "read_fleet", "readings_from_table", "rinses_until", "row_of", "rows_of_table", "rows_of_text",
    "services_done", "spares_for", "spending_of", "summed", "tubs_from_table",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
