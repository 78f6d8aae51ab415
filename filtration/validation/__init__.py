"""Published cases recomputed."""

from filtration.base.rooms import handed_out

__all__ = [
    "ALONE", "CONTRADICTED", "HELD", "Check", "Checks", "verify",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
