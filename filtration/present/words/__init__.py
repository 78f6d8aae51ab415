"""All wording."""

from filtration.base.rooms import handed_out

__all__ = [
    "CAUTIONS", "CRISP_DEPTHS", "ENDS", "FAULTS", "KINDS", "PARTS", "SHORT_REASONS", "TERMS", "TITLE", "US", "VERDICTS",
    "another", "as_written", "asides", "at_service", "buckets", "capital", "cents", "converted", "counted", "day",
    "days", "described", "display_of", "distance", "doubted", "due", "flow", "flow_words", "headed", "moment", "money",
    "not_taken", "number", "of_twenty", "reason_in_words", "refused", "rinses", "service", "single", "title", "verdict",
    "whole_days",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
