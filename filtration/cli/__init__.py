"""The commands, one file each, and what starts the pages."""

from filtration.cli.commands import main

__all__ = ["main"]
