"""A person at the pages without a browser: what one would send and read over the websocket, and the server's doings."""

import asyncio
import contextlib
import os
import re
import socket
import ssl
import subprocess
import sys
import time
import tomllib
import urllib.request
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import page_link
from google.protobuf.message import Message
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.Common_pb2 import FileUploaderState, FileURLs, UploadedFileInfo
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.asyncio.client import ClientConnection, connect

from filtration import compare
from filtration.answers.decision import DRAWS
from filtration.base.places import demo_file
from filtration.present.words import front
from filtration.study.file import study_from_dict
from filtration.study.text import text_of_tables

WAIT_S = 300.0
WIDGETS = ("number_input", "slider", "selectbox", "button", "text_input", "file_uploader")
ANSWERS = re.compile("about every|will not do|No option meets your needs")
"""What an answer in a line holds."""


def own_tub(litres: float | None = None, uses_per_day: float | None = None, few: Sequence[str] = ()) -> dict[str, Any]:
    """Return the freezer demo's tables, with other water or dips a day where given, and a few of its options."""
    tables = tomllib.loads(demo_file("freezer").read_text(encoding="utf-8"))
    if litres is not None:
        tables["tub"]["volume"] = f"{litres:.10g} L"
    if few:
        tables["options"] = [option for option in tables["options"] if option["name"] in few]
    if uses_per_day is not None:
        tables["tub"]["uses_per_day"] = uses_per_day
    return tables


def link_of(tables: Mapping[str, Any]) -> str:
    """Return what the address of a page of this tub carries."""
    return f"study={page_link.packed([text_of_tables(tables)])}"


def answer_line(tables: Mapping[str, Any]) -> str:
    """Return what the page of a tub says in a line, by the library alone."""
    comparison = compare(study_from_dict(tables), draws=DRAWS)
    return front.sentence(comparison.spoken_of, comparison)


@dataclass(frozen=True, kw_only=True)
class Served:
    """A running front end: where, which process, and what it wrote."""

    address: str
    process: int
    log: Path

    def complaints(self) -> list[str]:
        """Return the lines of the log that tell of something gone wrong."""
        signs = ("Traceback", "Error", "Exception", "exception", "WARNING")
        return [line for line in self.log.read_text(encoding="utf-8").splitlines() if any(s in line for s in signs)]


def free_port() -> int:
    """Return a port that nobody uses."""
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        port: int = trial.getsockname()[1]
        return port


@contextlib.contextmanager
def served(folder: Path, before: Sequence[str] = (), more: Sequence[str] = ()) -> Iterator[Served]:
    """Serve the pages on a free port, in a process of its own with its home and logbook in a folder.

    Words before the command may watch it; more words are options of its own.
    """
    port = free_port()
    log, address = folder / "server.log", f"http://127.0.0.1:{port}"
    command = [*before, sys.executable, "-m", "filtration", "app", "--port", str(port), *more]
    environment = {**os.environ, "HOME": str(folder), "FILTRATION_LOGBOOK": str(folder / "logbook.sqlite")}
    with log.open("wb") as out:
        server = subprocess.Popen(
            command, cwd=folder, stdin=subprocess.DEVNULL, stdout=out, stderr=out, env=environment
        )
        try:
            deadline = time.monotonic() + WAIT_S
            while True:
                with contextlib.suppress(OSError):
                    urllib.request.urlopen(f"{address}/_stcore/health", timeout=5).close()  # noqa: S310 - our own server
                    break
                if server.poll() is not None or time.monotonic() > deadline:
                    raise RuntimeError(log.read_text(encoding="utf-8"))
                time.sleep(0.1)
            yield Served(address=address, process=server.pid, log=log)
        finally:
            server.terminate()
            server.wait(timeout=20)


@dataclass
class Shown:
    """What a run of the script sent: its widgets by kind and label, its words, warnings, and what an exception says."""

    widgets: dict[tuple[str, str], Any] = field(default_factory=dict)
    words: list[str] = field(default_factory=list)
    exceptions: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    elements: int = 0

    def take(self, element: Any) -> None:
        """Take in an element."""
        kind = element.WhichOneof("type")
        value = getattr(element, kind)
        self.elements += 1
        if kind == "exception":
            self.exceptions.append(f"{value.type}: {value.message}")
        elif kind == "alert":
            self.errors.append(value.body)
        elif kind in WIDGETS:
            self.widgets[kind, value.label] = value
        elif kind in {"markdown", "heading"}:
            self.words.append(re.sub(r"\\(.)", r"\1", value.body))

    def line(self) -> str:
        """Return the answer in a line; empty where there is none."""
        return next((said.strip("*") for said in reversed(self.words) if ANSWERS.search(said)), "")


class Visitor:
    """One session over a websocket: opens the pages, changes a widget, goes to another page, and reads what comes.

    Parameters
    ----------
    address : str
        Of the server.
    query : str, optional
        What the page's address carries.
    origin : str, optional
        Whose page it is; left out, the server's own.
    headers : mapping of str to str, optional
        What to send along as the websocket is opened.
    trusts : ssl.SSLContext, optional
        Whom to trust, where the address is https.
    """

    def __init__(
        self,
        address: str,
        query: str = "",
        origin: str | None = None,
        headers: Mapping[str, str] | None = None,
        trusts: ssl.SSLContext | None = None,
    ) -> None:
        self._address, self._query = address, query
        self._opening = {"origin": origin or address, "additional_headers": headers, "ssl": trusts}
        self._session = ""
        self._socket: ClientConnection
        self._states: dict[str, tuple[str, Any]] = {}
        self._pages: Mapping[str, str] = {}
        self._page = ""
        self.shown = Shown()

    async def __aenter__(self) -> Self:
        """Open the websocket, as a page of the same origin does."""
        uri = self._address.replace("http", "ws", 1) + "/_stcore/stream"
        self._socket = await connect(
            uri,
            subprotocols=["streamlit"],  # type: ignore[list-item]  # a plain word
            max_size=None,
            open_timeout=WAIT_S,
            **self._opening,
        )
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Leave."""
        await self._socket.close()

    def at(self, address: str) -> Self:
        """Return the same person at another server, whose page still shows what the last one sent."""
        self._opening["origin"] = address
        self._address = address
        return self

    async def open(self) -> float:
        """Open the first page; return how long it took until its script had finished [s]."""
        return await self._run()

    async def go(self, page: str) -> float:
        """Follow the link to a page."""
        self._page, self._states = self._pages[page], {}
        return await self._run()

    async def change(self, kind: str, label: str, value: float) -> float:
        """Type a number into a field, or move a slider."""
        typed = ("string_value", f"{value:.10g}") if kind == "text_input" else ("double_array_value", value)
        self._states[self.shown.widgets[kind, label].id] = typed
        return await self._run()

    async def press(self, label: str) -> float:
        """Press a button."""
        at = self.shown.widgets["button", label].id
        self._states[at] = ("trigger_value", True)
        try:
            return await self._run()
        finally:
            self._states.pop(at, None)

    async def room_for(self, name: str) -> FileURLs:
        """Ask where to send a file."""
        message = BackMsg()
        message.file_urls_request.session_id = self._session
        message.file_urls_request.file_names.append(name)
        await self._socket.send(message.SerializeToString())
        async with asyncio.timeout(WAIT_S):
            while True:
                told = ForwardMsg.FromString(await self._socket.recv())  # type: ignore[arg-type]  # as below
                if told.WhichOneof("type") == "file_urls_response":
                    return told.file_urls_response.file_urls[0]

    async def sent(self, label: str, name: str, size: int, room: FileURLs) -> float:
        """Say that a file has been sent there, by the field of a label."""
        file = UploadedFileInfo(name=name, size=size, file_id=room.file_id, file_urls=room)
        at = self.shown.widgets["file_uploader", label].id
        self._states[at] = ("file_uploader_state_value", FileUploaderState(uploaded_file_info=[file]))
        return await self._run()

    async def _run(self) -> float:
        """Ask for a run of the script with the widgets as they are, and read until it has finished."""
        message = BackMsg()
        asked = message.rerun_script
        asked.query_string, asked.page_script_hash = self._query, self._page
        asked.context_info.url, asked.context_info.color_scheme = self._address, "light"
        asked.widget_states.SetInParent()
        for at, (form, value) in self._states.items():
            state = asked.widget_states.widgets.add(id=at)
            if form == "double_array_value":
                state.double_array_value.data.append(value)
            elif isinstance(value, Message):
                getattr(state, form).CopyFrom(value)
            else:
                setattr(state, form, value)
        start = time.perf_counter()
        await self._socket.send(message.SerializeToString())
        async with asyncio.timeout(WAIT_S):
            while not await self._read():
                pass
        took = time.perf_counter() - start
        here = {widget.id for widget in self.shown.widgets.values()}
        self._states = {at: state for at, state in self._states.items() if at in here}
        return took

    async def _read(self) -> bool:
        """Take in the next message; return whether it says that the script has finished."""
        data = await self._socket.recv()
        message = ForwardMsg.FromString(data)  # type: ignore[arg-type]  # the server sends bytes alone
        match message.WhichOneof("type"):
            case "new_session":
                self.shown, self._session = Shown(), message.new_session.initialize.session_id
            case "navigation":
                self._pages = {page.url_pathname: page.page_script_hash for page in message.navigation.app_pages}
                self._page = message.navigation.page_script_hash
            case "page_info_changed":
                self._query = message.page_info_changed.query_string
            case "delta" if message.delta.WhichOneof("type") == "new_element":
                self.shown.take(message.delta.new_element)
            case "script_finished":
                return message.script_finished == ForwardMsg.FINISHED_SUCCESSFULLY
            case "ref_hash":
                raise RuntimeError("the server thinks that something is known here")
        return False
