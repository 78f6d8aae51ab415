"""Run the commands as ``python -m filtration``."""

from filtration.cli.commands import main

main()
