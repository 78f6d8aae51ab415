"""How elements load: an option before its cases, its table along the clock, a run."""

from filtration.base.rooms import handed_out

__all__ = [
    "COARSE", "FINE", "FLOOR_PA", "FULL_TOLERANCE", "MOST_DUE", "POWER", "Case", "Course", "Deposit", "Entry",
    "Load", "Loops", "Resistance", "Tables", "case_of", "central_case", "clean_and_due_of", "clean_flow_m3_s",
    "drag_of", "efficiencies", "entries_of", "entry_by_id", "entry_of", "groups_of", "guessed_courses", "load_of",
    "loop_for", "resistance_of", "side_by_kind", "stage_of", "stated_capacity", "tables_of", "usable_kg",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
