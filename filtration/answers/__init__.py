"""Ranking, decision, odds, drivers, remarks, series, sizing, savings."""

from filtration.base.rooms import handed_out

__all__ = [
    "CASES", "DRAWS", "FEWEST", "L_PER_H", "PLAN_DRAWS", "RECORD_DAYS", "SEED", "TWICE", "AreaSize", "AreaTrial",
    "Assumption", "Assumptions", "CatchBySize", "Clearness", "Comparison", "Curve", "Decision", "DrawnOption",
    "Driver", "Drops", "FlowBand", "FlowRun", "Followed", "Loading", "LoopCurve", "Measure", "Odds", "OptionAnswer",
    "Progress", "PumpSize", "PumpTrial", "Saving", "Savings", "Sureness", "Sweep", "Swept", "WarmthAnswer",
    "afford_draws", "answer_of", "area_for_interval", "assumptions_of", "central_of", "compare", "decided",
    "drawn_options", "figures_of", "first_run_of", "follow", "follow_all", "judged", "kept_options", "largest_saving",
    "longest_water_life_days", "loss_with", "most_runs_of", "narrowed", "ordered", "parts_of", "pressure_drops",
    "ranges_of", "ranked", "running_of", "savings", "smallest_pump", "sweep", "total_indices", "tube_spread",
    "unmoved",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
