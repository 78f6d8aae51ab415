"""Care, the service walk, renewal, and the events that come of it."""

from filtration.base.rooms import handed_out

__all__ = [
    "AGE_TOLERANCE_DAYS", "ENDLESS", "EVEN", "KINDS", "Care", "Cheapest", "Event", "Life", "Pace", "Past", "RunFlow",
    "Running", "Services", "Total", "Visit", "Visits", "What", "best_life", "care_of", "events_of", "lives_of",
    "no_rates", "pace_of", "rates_of", "run_flows", "running_events", "total_of", "unstated_shortest_days",
    "walk_services", "water_change",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
