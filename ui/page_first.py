"""What the first visitor sees, worked out in a process of its own while the server starts on another core."""

import gc
import os
import sys
from contextlib import suppress
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Event
from time import sleep
from typing import Any

from page_kept import MOST_FITTED

from filtration import InputError, study_from_text
from filtration.answers.decision import DRAWS
from filtration.answers.ranking import central_of, ranked
from filtration.base.places import demo_file
from filtration.cli.serve import FIRST, STUDY

ready = Event()
"""Set where pages can be shown: while the first thread still loads libraries, no second one is to look for them."""
_LATER_S = 3.0  # by then the first page is there
_BRIEFLY_S = 2e-4  # so long this thread keeps the one who serves a file to the browser waiting


def shown_first() -> str:
    """Return the text of the tub that the first visitor will see."""
    named = os.environ.get(STUDY)
    return (Path(named) if named else demo_file("freezer")).read_text(encoding="utf-8-sig")


def give(told: Connection) -> None:
    """Send the server the central case and the advice, and then the answer with its ranges, in no hurry."""
    with suppress(InputError, OSError, UnicodeDecodeError):
        text = shown_first()
        study = study_from_text(text)
        if study.elements_driven <= MOST_FITTED:
            central = central_of(study)
            told.send((text, central, ranked(central)))
            os.nice(10)
            told.send((text, ranked(central, draws=DRAWS)))


def take() -> None:
    """Load what pages are made of, read what was worked out, and work out what was not."""
    usual = sys.getswitchinterval()
    sys.setswitchinterval(_BRIEFLY_S)
    try:
        import page_cache
        import page_file  # noqa: F401 - these and what they stand on
        import page_filters  # noqa: F401
        import page_memory  # noqa: F401
        import page_readings  # noqa: F401

        with suppress(InputError, OSError, UnicodeDecodeError):
            text = shown_first()
            if not page_cache.faults(text):
                if found := _received():
                    of, central, advice = found
                    page_cache.central.learn(central, of)
                    page_cache.advice.learn(advice, of)
                _draw(text, "tube", "map", "days", sure=False)
                ready.set()
                if found := _received():
                    of, answer = found
                    page_cache.answer.learn(answer, of)
                import page_frame  # noqa: F401 - a chart wants pandas whole, which a first visitor may be loading

                _draw(text, "days", sure=True)
    finally:
        sys.setswitchinterval(usual)
        ready.set()
    sleep(_LATER_S)
    import scipy.stats  # noqa: F401 - for the first change, as nothing here had to draw

    gc.freeze()  # what is loaded stays, and need not be looked through while somebody waits
    gc.set_threshold(700, 10, 10)  # as Python has it, and the command not


def _received() -> Any:  # noqa: ANN401 - whatever the other process sends
    """Return what the other process sends next; nothing where there is none, or it failed."""
    for told in FIRST:
        with suppress(EOFError, OSError):
            return told.recv()
    return None


def _draw(text: str, *pictures: str, sure: bool) -> None:
    import page_cache

    at = (page_cache.answer if sure else page_cache.advice)(text).spoken_of.id
    for name in pictures:
        page_cache.looked_at(text, name, display=page_cache.charts.METRIC, at=at, sure=sure)
