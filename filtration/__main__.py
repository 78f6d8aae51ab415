"""Run the commands as ``python -m filtration``."""

from filtration.cli import main

main()
