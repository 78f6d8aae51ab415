"""The answer in words, tables, pictures and documents."""

from filtration.base.rooms import handed_out

__all__ = ["COLOURS", "INK", "METRIC", "Display", "say"]


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
