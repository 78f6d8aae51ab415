"""What a process of its own works out for the first visitor is known to the pages, and what it could not, they do."""

import os
import struct
import subprocess
import sys
from collections import OrderedDict
from collections.abc import Callable
from functools import partial
from multiprocessing import Pipe
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Thread

import page_cache
import page_first
import pytest
from studies import demo_with

from filtration.cli.serve import STUDY
from filtration.study.text import text_of_tables


def _noted(begun: list[object], work: Callable[..., object], *args: object, **kwargs: object) -> object:
    begun.append(work)
    return work(*args, **kwargs)


def test_the_first_answer_is_read_and_not_worked_out_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = text_of_tables(demo_with("freezer", "Pleated 20") | {"name": "First"})
    (tmp_path / "tub.toml").write_text(text, encoding="utf-8")
    monkeypatch.setenv(STUDY, str(tmp_path / "tub.toml"))
    monkeypatch.setattr(os, "nice", lambda _more: 0)
    here, there = Pipe(duplex=False)
    with here, there:
        giving = Thread(target=page_first.give, args=(there,))
        giving.start()
        messages = [here.recv_bytes(), here.recv_bytes()]
        giving.join()
    found, works = page_cache.answer(text), (page_cache.central, page_cache.advice, page_cache.answer)
    half = struct.pack("!i", len(messages[0])) + messages[0][:1000]
    for whole in (True, False):
        begun = list[object]()
        for work in works:
            monkeypatch.setattr(work, "_known", OrderedDict())
            monkeypatch.setattr(work, "_function", partial(_noted, begun, work._function))
        here, there = Pipe(duplex=False)

        def send(there: Connection = there, *, whole: bool = whole) -> None:
            with there:
                for message in messages if whole else ():
                    there.send_bytes(message)
                if not whole:  # and then it is killed
                    os.write(there.fileno(), half)

        monkeypatch.setattr(page_first, "FIRST", [here])
        monkeypatch.setattr(page_first, "_LATER_S", 0.0)
        page_first.ready.clear()
        sending = Thread(target=send)
        sending.start()
        page_first.take()
        sending.join()
        assert page_first.ready.is_set()
        assert (begun == []) == whole
        assert page_cache.answer(text).advised == found.advised
        assert page_cache.answer(text).odds == found.odds


ORDER = """import sys
import page_first
page_first._LATER_S = 0.0
page_first._draw = lambda *_, sure: print(sure, "pandas" in sys.modules)
page_first.take()
"""


def test_pandas_is_whole_before_a_chart_is_drawn_beside_a_visitor() -> None:
    # a chart looks for pandas as far as it is there: half of it, where a visitor's page just loads it
    folder = Path(page_first.__file__).parent
    told = subprocess.run([sys.executable, "-c", ORDER], cwd=folder, capture_output=True, text=True, check=True)
    assert told.stdout.splitlines()[-1] == "True True"
