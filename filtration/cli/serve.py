"""The front end, served on this machine; what a page may load is told to the browser with every answer."""

import os
import socket
import sys
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

from filtration.base.errors import InputError
from filtration.base.places import pages_folder

NO_LOGBOOK = "FILTRATION_NO_LOGBOOK"
"""Set, the pages keep no logbook."""

_MOST = 65535
# The charts' own little language is compiled as they are drawn, hence 'unsafe-eval'.
_POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self' data: blob:; worker-src 'self' blob:; "
    "frame-src 'self' blob:; object-src 'none'; frame-ancestors 'self'; base-uri 'self'; form-action 'self'"
)
_HEADERS = (
    (b"content-security-policy", _POLICY.encode()),
    (b"referrer-policy", b"no-referrer"),
    (b"x-content-type-options", b"nosniff"),
)
_OWN = {"127.0.0.1", "localhost"}  # the pages answer to these names alone unless another address is asked for


Message = MutableMapping[str, Any]
Send = Callable[[Message], Awaitable[None]]
Receive = Callable[[], Awaitable[Message]]


class Guarded:
    """An ASGI application that tells the browser with every answer to load from nowhere else.

    Parameters
    ----------
    app : callable
        The application inside.
    """

    def __init__(self, app: Callable[[Message, Receive, Send], Awaitable[None]]) -> None:
        self._app = app

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        """Answer a request."""

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                named = {name for name, _ in _HEADERS}
                kept = [header for header in message.get("headers", []) if bytes(header[0]).lower() not in named]
                message["headers"] = [*kept, *_HEADERS]
            await send(message)

        await self._app(scope, receive, with_headers)


def serve(host: str = "127.0.0.1", port: int = 8501, *, logbook: bool = True) -> None:
    """Serve the pages until interrupted.

    Parameters
    ----------
    host : str, optional
        Address to listen on.
    port : int, optional
        Port to listen on, 1 to 65535.
    logbook : bool, optional
        Whether the pages read and write this machine's logbook.

    Raises
    ------
    InputError
        If there is no such port or address, or if somebody else listens there.
    """
    _check(host, port)
    if not logbook:
        os.environ[NO_LOGBOOK] = "1"
    from streamlit.web.cli import main

    options = {
        "server.address": host,
        "server.port": str(port),
        "server.showEmailPrompt": "false",
        "logger.hideWelcomeMessage": "true",
    }
    if host not in _OWN:
        options["server.allowedHosts"] = "*"
    script = str(pages_folder() / "server.py")
    shown = f"[{host}]" if ":" in host else host
    sys.stderr.write(f"The pages are at http://{shown}:{port}; Ctrl+C ends them.\n")
    main(["run", script, *(f"--{name}={value}" for name, value in options.items())], standalone_mode=False)


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
        reason = error.strerror or "the system gives no reason"
        raise InputError(
            f"--port: cannot listen on {host}, port {port}: {reason}; try --port {port % _MOST + 1}"
        ) from None
