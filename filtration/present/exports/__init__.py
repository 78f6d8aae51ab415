"""Files that leave the program."""

from filtration.base.rooms import handed_out

__all__ = [
    "CALENDAR", "DRAWN", "ENDINGS", "PICTURES", "SWEPT", "WAYS", "bytes_of", "bytes_of_fleet", "bytes_of_sweep",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
