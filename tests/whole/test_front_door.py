"""The server's front door: who is let in, what the browser is told, and whom the server itself ever calls."""

import asyncio
import contextlib
import re
import shutil
import socket
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from visitor import Served, Visitor, link_of, own_tub, served
from websockets.exceptions import InvalidStatus

STRACE, UNSHARE = shutil.which("strace"), shutil.which("unshare")
FEW = ("Pleated 20",)
NAME_SERVER = "127.0.0.9"
STRANGERS = (
    "https://stranger.example",
    "http://127.0.0.1:9",
    "http://127.0.0.1",
    "http://localhost:{port}",
    "https://127.0.0.1:{port}",
    "http://127.0.0.1:{port}.stranger.example",
    "null",
    "",
)


def port_of(server: Served) -> int:
    return int(server.address.rsplit(":", 1)[1])


def asked(server: Served, path: str, method: str = "GET", **headers: str) -> tuple[int, dict[str, str]]:
    """Ask for something; return status and headers."""
    request = urllib.request.Request(server.address + path, None, headers, method=method)  # noqa: S310 - our own server
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:  # noqa: S310
            return answer.status, {name.lower(): value for name, value in answer.headers.items()}
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, {name.lower(): value for name, value in refused.headers.items()}


async def knock(server: Served, origin: str) -> None:
    """Open the websocket as a page of an origin does, and close it again."""
    async with Visitor(server.address, origin=origin):
        pass


@pytest.mark.parametrize("origin", STRANGERS)
def test_a_strangers_page_is_refused(server: Served, origin: str) -> None:
    whose = origin.format(port=port_of(server))
    if whose:
        with pytest.raises(InvalidStatus, match="403"):
            asyncio.run(knock(server, whose))
        assert asked(server, "/", Origin=whose)[0] == 403
    for method in ("PUT", "POST", "DELETE", "OPTIONS"):
        assert asked(server, "/_stcore/upload_file/a/b", method, **({"Origin": whose} if whose else {}))[0] == 403


def test_the_pages_own_are_let_in(server: Served) -> None:
    asyncio.run(knock(server, server.address))
    assert asked(server, "/")[0] == 200
    assert asked(server, "/", Origin=server.address)[0] == 200
    assert asked(server, "/_stcore/upload_file/a/b", "OPTIONS", Origin=server.address)[0] == 204
    assert asked(server, "/", Host="stranger.example")[0] == 403


def test_what_the_framework_tells_of_itself_is_shut(server: Served) -> None:
    for path in ("/_stcore/metrics", "/_stcore/metrics?families=session_memory", "/_stcore/agent/openapi.json"):
        assert asked(server, path)[0] == 404, path


POLICY = {
    "default-src": "'self'",
    "script-src": "'self' 'unsafe-inline' 'unsafe-eval' blob:",
    "style-src": "'self' 'unsafe-inline'",
    "img-src": "'self' data: blob:",
    "font-src": "'self' data:",
    "connect-src": "'self' data: blob:",
    "worker-src": "'self' blob:",
    "frame-src": "'self' blob:",
    "object-src": "'none'",
    "frame-ancestors": "'self'",
    "base-uri": "'self'",
    "form-action": "'self'",
}


@pytest.mark.parametrize("path", ["/", "/_stcore/health", "/_stcore/metrics", "/no/such/page.js"])
def test_every_answer_carries_every_header(server: Served, path: str) -> None:
    _, headers = asked(server, path)
    rules = dict(rule.strip().split(" ", 1) for rule in headers["content-security-policy"].split(";"))
    assert rules == POLICY
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["x-content-type-options"] == "nosniff"


@contextlib.contextmanager
def silent_name_server() -> Iterator[list[bytes]]:
    """Listen where names are asked for, and never answer."""
    heard, over = list[bytes](), threading.Event()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as ear:
        ear.bind((NAME_SERVER, 53))
        ear.settimeout(0.1)

        def listen() -> None:
            while not over.is_set():
                with contextlib.suppress(TimeoutError):
                    heard.append(ear.recv(4096))

        thread = threading.Thread(target=listen, daemon=True)
        thread.start()
        try:
            yield heard
        finally:
            over.set()
            thread.join(timeout=5)


@pytest.mark.skipif(not (STRACE and UNSHARE), reason="strace or unshare is not installed")
def test_no_outside_name_or_address_is_ever_asked_for(tmp_path: Path) -> None:
    """A whole session traced, with pages, a file and strangers; the one name server of the machine never answers."""
    (tmp_path / "resolv.conf").write_text(f"nameserver {NAME_SERVER}\n", encoding="ascii")
    trace = tmp_path / "trace"
    alone = f"mount --bind {tmp_path / 'resolv.conf'} /etc/resolv.conf && exec"
    calls = "trace=connect,sendto,sendmsg,sendmmsg"

    before = [str(UNSHARE), "-m", "sh", "-c", f'{alone} {STRACE} -D -f -qq -e {calls} -o {trace} "$0" "$@"']

    async def session(server: Served) -> float:
        async with Visitor(server.address, link_of(own_tub(few=FEW))) as visitor:
            await visitor.open()
            assert visitor.shown.exceptions == []
            await visitor.go("which_filter")
            room = await visitor.room_for("tub.toml")
            asked(server, room.upload_url, "PUT", Origin="https://stranger.example")
            start = time.monotonic()
            for origin in ("https://stranger.example", "http://127.0.0.1:9"):
                with pytest.raises(InvalidStatus, match="403"):
                    await knock(server, origin)
            return time.monotonic() - start

    with silent_name_server() as heard, served(tmp_path, before) as server:
        assert asyncio.run(session(server)) < 5.0
    assert heard == []
    told = trace.read_text(encoding="utf-8")
    assert told.count("\n") > 10  # it was watched
    addresses = set(re.findall(r'sin_addr=inet_addr\("([^"]+)"\)|inet_pton\(AF_INET6, "([^"]+)"', told))
    assert {one or other for one, other in addresses} <= {"127.0.0.1"}, addresses
    paths = set(re.findall(r'sun_path="([^"]+)"', told))
    assert not paths, paths  # no name service of the system either
