"""Two servers behind the web server of docs/serving.md, word for word but for places of files and numbers of ports."""

import asyncio
import contextlib
import os
import re
import shutil
import ssl
import subprocess
import time
import urllib.error
import urllib.request
from base64 import b64encode
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from http.cookiejar import CookieJar
from pathlib import Path

import pytest
from visitor import Served, Visitor, answer_line, free_port, link_of, own_tub, served
from websockets.exceptions import InvalidStatus

from filtration.study.text import text_of_tables

NGINX = shutil.which("nginx", path=f"{os.environ['PATH']}:/usr/sbin") or ""
OPENSSL = shutil.which("openssl") or ""
SITE, USER = "https://tubs.example.org", "keeper:our tubs"
LOG_OF = 'log_format which "$visitor $upstream_addr $status $request_uri";'
FEW = ("Pleated 20", "Pleated 50")
DEMO, TUB = own_tub(few=FEW), own_tub(330.0, 7.0, FEW)

pytestmark = pytest.mark.skipif(not (NGINX and OPENSSL), reason="nginx or openssl is not installed")


def configuration() -> str:
    """Return the text that the document shows."""
    document = Path(__file__).resolve().parents[2] / "docs" / "serving.md"
    (found,) = re.findall(r"```nginx\n(.*?)```", document.read_text(encoding="utf-8"), flags=re.DOTALL)
    return str(found)


def placed(text: str, places: Mapping[str, str]) -> str:
    """Return the text with each place that stands in it put elsewhere."""
    for place, elsewhere in places.items():
        assert text.count(place) == 1, place
        text = text.replace(place, elsewhere)
    return text


@dataclass(frozen=True, kw_only=True)
class Front:
    """The web server: where, the servers behind it, whom its visitors trust, and what it was asked."""

    address: str
    behind: list[Served]
    trusts: ssl.SSLContext
    log: Path

    def asked(self) -> list[list[str]]:
        """Return visitor, server, status and path of each request it has passed on."""
        rows = [line.split() for line in self.log.read_text(encoding="utf-8").splitlines()]
        return [row for row in rows if row[1] != "-"]


@pytest.fixture(scope="module")
def front(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Front]:
    folder = tmp_path_factory.mktemp("front")
    certificate, key, users, log = (folder / name for name in ("own.pem", "own.key", "users", "asked.log"))
    asked = "req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=tubs.example.org -addext subjectAltName=IP:127.0.0.1"
    made = [OPENSSL, *asked.split(), "-keyout", str(key), "-out", str(certificate)]
    subprocess.run(made, check=True, capture_output=True)
    users.write_text(USER.replace(":", ":{PLAIN}"), encoding="utf-8")
    port = free_port()
    with contextlib.ExitStack() as stack:
        homes = [folder / "one", folder / "two"]
        for home in homes:
            home.mkdir()
        behind = [stack.enter_context(served(home)) for home in homes]
        shown = placed(
            configuration(),
            {
                "listen 443 ssl": f"listen 127.0.0.1:{port} ssl",
                "/etc/ssl/tubs.example.org.pem": str(certificate),
                "/etc/ssl/private/tubs.example.org.key": str(key),
                "/etc/nginx/tubs.htpasswd": str(users),
                "127.0.0.1:8501": behind[0].address.removeprefix("http://"),
                "127.0.0.1:8502": behind[1].address.removeprefix("http://"),
            },
        )
        kinds = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
        rooms = "".join(f"{kind}_temp_path {folder / kind};\n" for kind in kinds)
        whole = folder / "nginx.conf"
        whole.write_text(
            f"daemon off; master_process off; pid {folder / 'pid'};\nevents {{}}\n"
            f"http {{\n{rooms}{LOG_OF}\naccess_log {log} which;\n{shown}}}\n",
            encoding="utf-8",
        )
        complaints = (folder / "complaints.log").open("wb")
        stack.enter_context(complaints)
        command = [NGINX, "-c", str(whole), "-e", str(folder / "errors.log")]
        running = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=complaints, stderr=complaints)
        stack.callback(running.wait, timeout=20)
        stack.callback(running.terminate)
        found = Front(
            address=f"https://127.0.0.1:{port}",
            behind=behind,
            trusts=ssl.create_default_context(cafile=str(certificate)),
            log=log,
        )
        deadline = time.monotonic() + 20.0
        while Guest(front=found).asks("/_stcore/health")[0] != 200:
            assert running.poll() is None, (folder / "complaints.log").read_text(encoding="utf-8")
            assert time.monotonic() < deadline
            time.sleep(0.05)
        yield found
    for server in behind:
        assert server.complaints() == []


@dataclass(kw_only=True)
class Guest:
    """A browser with a password and cookies of its own."""

    front: Front
    headers: dict[str, str] = field(
        default_factory=lambda: {"Authorization": f"Basic {b64encode(USER.encode()).decode()}", "Origin": SITE}
    )
    jar: CookieJar = field(default_factory=CookieJar)

    def asks(self, path: str, data: bytes | None = None, method: str = "GET", **more: str) -> tuple[int, str]:
        """Ask for something; return status and body, status 0 where nobody listens."""
        opener = urllib.request.build_opener(
            urllib.request.HTTPSHandler(context=self.front.trusts), urllib.request.HTTPCookieProcessor(self.jar)
        )
        headers = self.headers | {name.replace("_", "-"): value for name, value in more.items()}
        request = urllib.request.Request(self.front.address + path, data, headers, method=method)  # noqa: S310 - ours
        try:
            with opener.open(request, timeout=30) as answer:
                return answer.status, answer.read().decode(errors="replace")
        except urllib.error.HTTPError as refused:
            with refused:
                return refused.code, refused.read().decode(errors="replace")
        except urllib.error.URLError:
            return 0, ""

    def cookies(self) -> dict[str, str]:
        """Return the cookies it holds."""
        return {cookie.name: cookie.value or "" for cookie in self.jar}

    def comes(self) -> None:
        """Ask for the page and for what a page asks first, as a browser does before the websocket."""
        for path in ("/", "/_stcore/health", "/_stcore/host-config"):
            assert self.asks(path)[0] == 200, path

    def puts(self, where: str, data: bytes) -> tuple[int, str]:
        """Send a file."""
        head = 'Content-Disposition: form-data; name="tub.toml"; filename="tub.toml"\r\n'
        body = f"--part\r\n{head}Content-Type: application/toml\r\n\r\n".encode() + data + b"\r\n--part--\r\n"
        token = self.cookies()["_streamlit_xsrf"]
        kind = "multipart/form-data; boundary=part"
        return self.asks(where, body, "PUT", Content_Type=kind, X_Xsrftoken=token)

    def visits(self) -> Visitor:
        """Return the websocket of its page."""
        words = "; ".join(f"{name}={value}" for name, value in self.cookies().items())
        headers = {"Authorization": self.headers["Authorization"], "Cookie": words}
        return Visitor(self.front.address, link_of(DEMO), SITE, headers, self.front.trusts)


def test_who_is_let_in(front: Front) -> None:
    assert Guest(front=front, headers={"Origin": SITE}).asks("/")[0] == 401
    assert Guest(front=front).asks("/", Origin="https://stranger.example")[0] == 403
    assert Guest(front=front).asks("/", bytes(3_000_000), "PUT")[0] == 413
    status, body = Guest(front=front).asks("/")
    assert status == 200
    assert "<div id=" in body

    async def open_elsewhere() -> None:
        headers = {"Authorization": Guest(front=front).headers["Authorization"]}
        async with Visitor(front.address, origin="https://stranger.example", headers=headers, trusts=front.trusts):
            pass

    with pytest.raises(InvalidStatus, match="403"):
        asyncio.run(open_elsewhere())


def test_a_visitor_stays_with_a_server_and_a_file_gets_there(front: Front) -> None:
    guests = [Guest(front=front) for _ in range(40)]
    for guest in guests:
        guest.asks("/_stcore/health")
    at = {visitor: server for visitor, server, *_ in front.asked()}
    assert set(at.values()) == {server.address.removeprefix("http://") for server in front.behind}

    one = guests[0]
    other = next(each for each in guests if at[each.cookies()["visitor"]] != at[one.cookies()["visitor"]])
    text = text_of_tables(TUB).encode()

    async def visit() -> None:
        one.comes()
        async with one.visits() as visitor:
            await visitor.open()
            await visitor.go("your_tub")
            room = await visitor.room_for("tub.toml")
            assert other.puts(room.upload_url, text)[0] == 400  # the other server knows of no such visit
            assert one.puts(room.upload_url, text) == (204, "")
            await visitor.sent("Study file (TOML, at most 1 MB)", "tub.toml", len(text), room)
            assert visitor.shown.exceptions == []
            assert visitor.shown.widgets["text_input", "Water, L"].default == "330"
            assert visitor.shown.line().startswith(answer_line(TUB))

    asyncio.run(visit())
    time.sleep(0.2)  # the websocket is noted at its end
    rows = [row for row in front.asked() if row[0] == one.cookies()["visitor"]]
    assert {row[3].split("?")[0].split("/")[2] for row in rows if "_stcore" in row[3]} >= {"stream", "upload_file"}
    assert {row[1] for row in rows} == {at[one.cookies()["visitor"]]}
