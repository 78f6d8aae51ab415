"""Whatever goes wrong on a page becomes one of our lines, with what to do: through the real server."""

import asyncio
import base64
import json
import os
import zlib
from pathlib import Path

import pytest
from page_text import plain
from streamlit.proto.Common_pb2 import FileURLs
from visitor import Served, Shown, Visitor, link_of, own_tub, served

from filtration.present.words.pages import FAULTS

FEW = ("Pleated 20",)
LABEL = "Study file (TOML, at most 1 MB)"


def word(*texts: str) -> str:
    """Return what a link holds, broken letters and all."""
    return base64.urlsafe_b64encode(zlib.compress(json.dumps(texts).encode())).decode().rstrip("=")


HALF = json.dumps(["Harbour freezer tub", [["2026-03-03", "note", "", "\ud800"]], []])
HALF_A_NAME = json.dumps(["\ud800", [["2026-03-03", "rinse", "", ""]], []])
NO_STUDY, NO_READINGS = (
    "The link holds no study that can be read; here is a demo instead.",
    "The link's unsaved readings cannot be read.",
)


@pytest.mark.parametrize(
    ("key", "text", "told"),
    [
        ("study", "name = '\udc80'", NO_STUDY),
        ("readings", HALF, NO_READINGS),
        ("readings", HALF_A_NAME, NO_READINGS),
    ],
)
def test_half_a_letter_in_a_link_is_told(server: Served, key: str, text: str, told: str) -> None:
    async def visit() -> Shown:
        async with Visitor(server.address, f"{key}={word(text)}") as visitor:
            await visitor.open()
            return visitor.shown

    shown = asyncio.run(visit())
    assert shown.exceptions == []
    assert shown.errors[0].replace("\\", "") == told


def test_a_file_that_the_server_forgot_is_asked_for_again(server: Served) -> None:
    async def visit() -> Shown:
        async with Visitor(server.address, link_of(own_tub(few=FEW))) as visitor:
            await visitor.open()
            await visitor.go("your_tub")
            await visitor.sent(LABEL, "tub.toml", 10, FileURLs(file_id="no-such-file"))
            return visitor.shown

    shown = asyncio.run(visit())
    assert shown.exceptions == []
    assert plain(FAULTS["file"]) in shown.errors


def test_a_server_started_anew_under_a_visitor_goes_on(tmp_path: Path) -> None:
    """What the browser still shows, and the file it brought, reach a server that knows of neither."""
    query = link_of(own_tub(330.0, few=FEW))

    async def leave(server: Served) -> Visitor:
        async with Visitor(server.address, query) as visitor:
            await visitor.open()
            await visitor.go("your_tub")
            file = FileURLs(file_id="from-before")
            await visitor.sent(LABEL, "tub.toml", 10, file)
            return visitor

    async def come_back(server: Served, visitor: Visitor) -> Shown:
        async with visitor.at(server.address):
            await visitor.open()
            return visitor.shown

    with served(tmp_path) as server:
        visitor = asyncio.run(leave(server))
    with served(tmp_path) as server:
        shown = asyncio.run(come_back(server, visitor))
        assert server.complaints() == []
    assert shown.exceptions == []
    assert any("330" in str(widget) for widget in shown.widgets.values())


BROKEN = """
import filtration.base.places

def demo_file(name):
    raise ZeroDivisionError("made up for a test")

filtration.base.places.demo_file = demo_file
"""


def test_a_fault_of_ours_is_said_in_our_words_with_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(BROKEN, encoding="utf-8")
    before = ["env", f"PYTHONPATH={tmp_path}:{os.environ.get('PYTHONPATH', '')}"]

    async def visit(server: Served) -> Shown:
        async with Visitor(server.address) as visitor:
            await visitor.open()
            return visitor.shown

    with served(tmp_path, before) as server:
        shown = asyncio.run(visit(server))
        assert "made up for a test" in server.log.read_text(encoding="utf-8")
    assert shown.exceptions == []
    assert shown.errors == [FAULTS["page"]]
