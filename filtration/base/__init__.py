"""What every room stands on: errors, units, defaults, draws, arrays, files."""

from filtration.base.rooms import handed_out

__all__ = [
    "GRAVITY_M_S2", "MEASURES", "MOST_CASES", "MOST_DRAWN_STEPS", "MOST_STEPS", "MOST_USES", "NUMBER", "ONE_IN_TEN",
    "PA_PER_M", "PLACES", "SECONDS_PER_DAY", "STUDY_DEFAULTS", "TABLE", "TOLD_SCORES", "UNKNOWNS", "USUAL_FLOW",
    "US_GALLON_M3", "Amount", "Array", "Belief", "Counts", "Factors", "Flags", "Frame", "InputError", "Measure",
    "NoAnswerError", "Numbers", "Remark", "Rows", "Single", "Value", "Values", "afford", "as_typed",
    "central_factors", "check_draws", "column_sums", "demo_file", "demo_names", "factors_at", "factors_of",
    "frame_of", "handed_out", "hidden", "html_of", "in_unit", "in_us_units", "joined", "known_ones", "log_spread",
    "look_up", "model", "nearest", "needed", "no_option", "normal_scores", "number_of", "option_id", "option_of",
    "pages_folder", "published_file", "put_new", "read_quantity", "refuse_taken", "root_between",
    "root_by_sections", "shortest_run_words", "shown", "side_by_side", "sobol_points", "symmetric_root", "taken",
    "template_text", "tenths", "totals", "typed_number", "unhidden", "unit_in", "us_figure", "waited_for",
    "weighted_tenths", "write_whole", "written",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
