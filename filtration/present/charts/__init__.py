"""Pictures of an answer."""

from filtration.base.rooms import handed_out

__all__ = [
    "CHARTS", "LOOKED_AT", "METRIC", "OWN", "US", "Display", "a_few", "chart", "days_chart", "drops_chart",
    "flow_readings_chart", "loss_readings_chart", "map_chart", "most_held_g", "pair_of", "png_of", "readings_chart",
    "svg_of", "sweep_chart", "tube_chart",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
