"""An owner's readings: kept, fitted, and what they say of the next service."""

from filtration.base.rooms import handed_out

__all__ = [
    "DONE", "KINDS", "MEASURED", "MODEL", "WITHOUT_ELEMENT", "Advice", "Doubt", "Estimate", "Fit", "Forecast",
    "KnownAs", "Logbook", "Reading", "SeenReading", "SeenRun", "SeenRuns", "beside", "cells", "csv_of", "fit",
    "forecast", "in_order", "is_another", "known_as", "load_readings", "load_shared", "logbook_path", "noon_of",
    "pooled", "reading_of", "readings_from_csv", "readings_to_csv", "seen_runs", "spread_of", "would_refuse",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
