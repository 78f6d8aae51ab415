"""The front end, served on this machine; what a page may load is told to the browser with every answer."""

import os
import signal
import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from ctypes import CDLL
from importlib import import_module
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from filtration.base.errors import InputError
from filtration.base.places import pages_folder
from filtration.cli.common import tell
from filtration.study.file import load_tables

NO_LOGBOOK = "FILTRATION_NO_LOGBOOK"
"""Set, the pages keep no logbook."""
STUDY, READ_ONLY = "FILTRATION_STUDY", "FILTRATION_READ_ONLY"
"""The study file that the pages open, and, set, that they do not save it."""
FIRST: list[Connection] = []
"""Where the pages read what another process works out for the first visitor."""

_MOST = 65535
# The charts' own little language is compiled as they are drawn, hence 'unsafe-eval'; a part of a page with a script of
# its own, such as the one that remembers, comes as a blob.
_POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self' data: blob:; worker-src 'self' blob:; "
    "frame-src 'self' blob:; object-src 'none'; frame-ancestors 'self'; base-uri 'self'; form-action 'self'"
)
_HEADERS = {
    "content-security-policy": _POLICY,
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
}
_OWN = {"127.0.0.1", "localhost"}  # the pages answer to these names alone unless another address is asked for
_SHUT = ("/_stcore/metrics", "/_stcore/agent")  # of the framework, and nobody's business


def guarded(app: ASGIApp) -> ASGIApp:
    """Return an ASGI application that answers its own pages alone, and tells the browser to load from nowhere else."""

    async def answer(scope: Scope, receive: Receive, send: Send) -> None:
        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message.setdefault("headers", [])
                MutableHeaders(scope=message).update(_HEADERS)
            await send(message)

        if scope["type"] == "websocket" and not _is_own(scope):
            await send({"type": "websocket.close", "code": 1008})
        elif scope["type"] == "http" and not _is_own(scope):
            await PlainTextResponse("This is for its own pages alone.", 403)(scope, receive, with_headers)
        elif scope["type"] == "http" and scope["path"].startswith(_SHUT):
            await PlainTextResponse("There is nothing here.", 404)(scope, receive, with_headers)
        else:
            await app(scope, receive, with_headers)

    return answer


def _is_own(scope: Scope) -> bool:
    """Return whether a request comes from a page served here; to look at one needs no page before it."""
    from streamlit import get_option

    headers = Headers(scope=scope)
    host, origins = headers.get("host", ""), headers.getlist("origin")
    served = "https" if scope["scheme"] in ("https", "wss") else "http"
    names = get_option("server.allowedHosts")
    looks = scope["type"] == "http" and scope["method"] in ("GET", "HEAD")
    known = "*" in names or host.rpartition(":")[0] in names or host in names
    return known and (origins == [f"{served}://{host}"] or (looks and not origins))


def serve_pages(host: str = "127.0.0.1", port: int = 8501, *, logbook: bool = True, study: Path | None = None) -> None:
    """Serve the pages until interrupted.

    Parameters
    ----------
    host : str, optional
        Address to listen on.
    port : int, optional
        Port to listen on, 1 to 65535.
    logbook : bool, optional
        Whether the pages read and write this machine's logbook.
    study : path, optional
        A study file to open, and to save where the pages are served to this machine alone.

    Raises
    ------
    InputError
        If there is no such port or address, if somebody else listens there, or if the study file cannot be read.
    """
    if study is not None:
        load_tables(study)
        os.environ[STUDY] = str(study.resolve())
    _check(host, port)
    if not logbook:
        os.environ[NO_LOGBOOK] = "1"
    if host not in _OWN:
        os.environ[READ_ONLY] = "1"
    quiet = {"server.showEmailPrompt": "false", "logger.hideWelcomeMessage": "true"}
    options = {"server.address": host, "server.port": str(port), **quiet}
    if host not in _OWN:
        options["server.allowedHosts"] = "*"
    _share_one_heap()
    script = str(pages_folder() / "server.py")
    shown = f"[{host}]" if ":" in host else host
    tell(f"The pages are at http://{shown}:{port}; Ctrl+C ends them.")
    with _working_out_first():
        from streamlit.web.cli import main

        main(["run", script, *(f"--{name}={value}" for name, value in options.items())], standalone_mode=False)


def _share_one_heap() -> None:
    """Let all threads take their memory from one heap: of many, each keeps the most that its visitors ever needed.

    GNU's ``M_ARENA_MAX``; Python lets one thread work at a time, so that nobody waits for it.
    """
    with suppress(AttributeError, OSError, TypeError):  # other systems have other heaps
        CDLL(None).mallopt(-8, 1)


@contextmanager
def _working_out_first() -> Iterator[None]:
    """Let a process of its own work out what the first visitor sees, while this one loads what it serves with."""
    if (os.cpu_count() or 1) == 1 or sys.platform != "linux":
        yield
        return
    context = get_context("fork")  # nothing else runs here yet
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=_work_out_first, args=(here, there), daemon=True)
    process.start()
    there.close()
    FIRST.append(here)
    try:
        yield
    finally:
        process.kill()


def _work_out_first(read: Connection, told: Connection) -> None:
    """Work it out, in silence and deaf to Ctrl-C; what fails here, the pages find out by themselves."""
    read.close()  # else this process would wait for a reader for ever, should the server be killed
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    sys.path.insert(0, str(pages_folder()))
    import_module("page_first").give(told)


def _check(host: str, port: int) -> None:
    """Try the address, as whoever starts the pages should read why they do not start."""
    if not 1 <= port <= _MOST:
        raise InputError(f"--port: must be 1 to {_MOST}, got {port}")
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as trial:
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            trial.bind(address)
    except (socket.gaierror, UnicodeError):
        raise InputError(f"--host: needs an address of this machine such as 127.0.0.1, got {host!r}") from None
    except PermissionError:
        raise InputError(f"--port: {port} may not be used by you; take one from 1024 on") from None
    except OSError as error:
        reason, other = error.strerror or "the system gives no reason", port % _MOST + 1
        raise InputError(f"--port: cannot listen on {host}, port {port}: {reason}; try --port {other}") from None
