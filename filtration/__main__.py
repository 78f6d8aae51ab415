"""The command, and what its process may bring: closed streams, a zone that is none, Ctrl-C; nothing heavy before."""

import gc
import os
import sys
import warnings
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import NoReturn

INTERRUPTED = 130
"""Status of a command that was interrupted, as a shell has it."""


def main() -> NoReturn:
    """Run the command; whatever its process brings ends in one line."""
    try:
        _prepare()
        from filtration.cli.commands import main as run

        run()
    except KeyboardInterrupt:
        _end("Interrupted.", INTERRUPTED)
    except SystemExit as ended:
        if isinstance(ended.code, int):
            _leave(ended.code)
        raise


def _prepare() -> None:
    """See to the streams, so that no file opened later takes the place of a closed one, and to the zone."""
    gc.set_threshold(200_000, 50, 50)  # a command ends soon: looking seldom for what only cycles hold saves a twentieth
    if not sys.warnoptions:
        warnings.simplefilter("ignore")  # they are for whoever works on the program
    while (place := os.open(os.devnull, os.O_RDWR)) <= 2:
        os.set_inheritable(place, True)
    os.close(place)
    if sys.stderr is None:
        sys.stderr = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 - it stays open
    if sys.stdout is None:
        _end("Standard output is closed, so that no answer can be shown; send it to a file or to a terminal.", 1)
    try:
        datetime.now().astimezone()
    except (ValueError, OverflowError):
        _end(f"TZ: needs a zone less than a day from UTC, such as Europe/Berlin, got {os.environ.get('TZ')!r}", 2)


def _leave(status: int) -> None:
    """End once all is written, without taking the process apart, which takes a tenth of a second."""
    with suppress(OSError):  # what cannot be written is told as the process ends
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)


def _end(line: str, status: int) -> NoReturn:
    """Say a line and end at once, whatever still runs."""
    sys.stderr.write(f"{line}\n")
    sys.stderr.flush()
    os._exit(status)


if __name__ == "__main__":
    main()
