"""The study file and its frozen values, checked once at the edge."""

from filtration.base.rooms import handed_out

__all__ = [
    "DAY", "DEPTH", "LISTS", "MONTHS", "SIZE", "SIZES", "TABLES", "WEEKDAYS", "Assumed", "Dust", "Element",
    "ElementTable", "Fitted", "Hand", "Key", "Kind", "Limit", "Needs", "Option", "Study", "StudyFile", "StudyTable",
    "as_text", "element_of", "filled", "foreign_keys", "load_study", "load_tables", "medium_of", "moved", "new_id",
    "place", "placed_faults", "quantity", "rinse_price", "slug", "soak_price", "study_from_dict", "study_from_text",
    "study_json_schema", "tables_of_text", "text_of_file", "text_of_tables", "text_with", "value_of_text",
    "with_belief",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
