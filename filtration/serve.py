"""The front end, served on this machine."""

import socket

from filtration.errors import InputError
from filtration.places import pages_folder

_MOST = 65535
_OWN = {"127.0.0.1", "localhost"}  # the pages answer to these names alone unless another address is asked for


def serve(host: str = "127.0.0.1", port: int = 8501) -> None:
    """Serve the pages until interrupted.

    Parameters
    ----------
    host : str, optional
        Address to listen on.
    port : int, optional
        Port to listen on, 1 to 65535.

    Raises
    ------
    InputError
        If there is no such port or address, or if somebody else listens there.
    """
    _check(host, port)
    from streamlit.web.cli import main

    options = {"server.address": host, "server.port": str(port), "server.showEmailPrompt": "false"}
    if host not in _OWN:
        options["server.allowedHosts"] = "*"
    script = str(pages_folder() / "app.py")
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
