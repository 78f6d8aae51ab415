"""What the first visitor sees, worked out in a process of its own while the server starts on another core."""

import os
from collections.abc import Iterator
from contextlib import suppress
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Event
from typing import Any

from filtration import InputError
from filtration.cli.serve import FIRST, STUDY

ready = Event()
"""Set where pages can be shown: while the first thread still loads libraries, no second one is to look for them."""


def worked_out() -> Iterator[None]:
    """Answer the tub that the first visitor will see; stop for a while wherever something can be shown."""
    import page_cache

    named = os.environ.get(STUDY)
    text = Path(named).read_text(encoding="utf-8-sig") if named else page_cache.demo_text("freezer")
    if page_cache.faults(text):
        return
    for work, names, sure in (
        (page_cache.advice, ("tube", "map", "days"), False),
        (page_cache.answer, ("days",), True),
    ):
        at = work(text).spoken_of.id
        for name in names:
            page_cache.looked_at(text, name, display=page_cache.charts.METRIC, at=at, sure=sure)
        yield


def give(told: Connection) -> None:
    """Send what was worked out to the server."""
    import page_cache

    with suppress(InputError, OSError, UnicodeDecodeError):
        for _ in worked_out():
            told.send(page_cache.known())


def take() -> None:
    """Load what pages are made of, read what was worked out, and work out what was not."""
    try:
        import page_cache
        import page_file  # noqa: F401 - these and what they stand on
        import page_filters  # noqa: F401
        import page_memory  # noqa: F401
        import page_readings  # noqa: F401

        for known in _read():
            page_cache.learn(known)
            ready.set()
    finally:
        ready.set()
    with suppress(InputError, OSError, UnicodeDecodeError):
        for _ in worked_out():
            pass
    import scipy.stats  # noqa: F401 - for the first change, as nothing here had to draw


def _read() -> Iterator[dict[str, Any]]:
    """Yield what the other process sends; nothing where there is none, or it failed."""
    for told in FIRST:
        with suppress(EOFError, OSError):
            while True:
                yield told.recv()
