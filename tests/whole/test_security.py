"""Nobody is let in: no code runs on users' data, names stay text in a real browser, and only this machine is served."""

import ast
import re
import tomllib
from collections.abc import Iterator
from inspect import signature
from pathlib import Path

import page_cache
import page_link
import page_memory
import pytest
from browsing import CHROMIUM, go, visit
from playwright.sync_api import Browser
from studies import demo_with, short
from visitor import Served
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

from filtration import InputError, study_from_text
from filtration.cli.commands import start
from filtration.cli.serve import serve_pages
from filtration.present.words import pages as page_words
from filtration.study.file import load_study
from filtration.study.text import text_of_tables

ROOT = Path(__file__).resolve().parents[2]
needs_browser = pytest.mark.skipif(not CHROMIUM, reason="chromium is not installed")


# ---- no code runs on users' data --------------------------------------------------------------------------------

_CALLS = {"eval", "exec", "compile", "__import__", "system", "popen", "getstatusoutput"}
_MODULES = {
    "pickle",
    "marshal",
    "shelve",
    "dill",
    "subprocess",
    "ctypes",
    "yaml",
    "code",
    "runpy",
    "telnetlib",
    "ftplib",
}
_FETCHES = {"requests", "httpx", "aiohttp", "smtplib", "urllib", "urllib3", "http", "websockets"}


def _forbidden(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names = [each.name for each in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
        elif isinstance(node, ast.Call):
            called = node.func
            name = (
                called.id if isinstance(called, ast.Name) else called.attr if isinstance(called, ast.Attribute) else ""
            )
            own = isinstance(called, ast.Attribute) and isinstance(called.value, ast.Name) and called.value.id == "re"
            names = [f"call {name}"] if name in _CALLS and not own else []
        else:
            continue
        yield from (name for name in names if name.startswith("call ") or name.split(".")[0] in _MODULES | _FETCHES)


def test_no_eval_no_pickle_no_shell_and_nobody_called() -> None:
    files = [*(ROOT / "filtration").rglob("*.py"), *(ROOT / "ui").rglob("*.py")]
    assert len(files) > 100
    for file in files:
        own = ["ctypes"] if file.name == "serve.py" else []  # for one setting of the heap
        assert list(_forbidden(ast.parse(file.read_text(encoding="utf-8")))) == own, file
    assert len(list(_forbidden(ast.parse("import pickle\nfrom subprocess import run\neval('1')\nos.system('x')")))) == 4


def test_markup_is_made_in_one_place_and_pages_switch_no_html_on() -> None:
    text = {file: file.read_text(encoding="utf-8") for file in (ROOT / "ui").rglob("*.py")}
    own_looks = re.compile(r"st\.html\(Path\(__file__\)\.with_name\(\"look\.css\"\)\)")
    own_script = re.compile(r"st\.components\.v2\.component\(\"remembered\", js=_SCRIPT\)")  # which writes no markup
    assert not re.search("HTML|eval|fetch|document", page_memory._SCRIPT)
    every = {file: own_script.sub("", own_looks.sub("", each)) for file, each in text.items()}
    assert not [file for file, each in every.items() if re.search(r"unsafe_allow_html|st\.html\(|components", each)]
    marked = [
        file.name for file in (ROOT / "filtration").rglob("*.py") if "Markup(" in file.read_text(encoding="utf-8")
    ]
    assert marked == ["html.py"]


# ---- how much is taken in ---------------------------------------------------------------------------------------


def test_a_study_of_more_than_a_megabyte_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "tub.toml"
    file.write_bytes(b"#" * 1_000_001)
    with pytest.raises(InputError, match="more than the 1 MB allowed; it was not read"):
        load_study(file)
    with pytest.raises(InputError, match="more than the 1 MB allowed"):
        study_from_text("\n" * 1_000_001)


def test_the_page_takes_a_megabyte_at_most() -> None:
    config = tomllib.loads((ROOT / "ui" / ".streamlit" / "config.toml").read_text(encoding="utf-8"))
    assert config["server"]["maxUploadSize"] == 1
    for screen in (ROOT / "ui" / "screens").glob("*.py"):
        text = screen.read_text(encoding="utf-8")
        assert text.count("st.file_uploader(") == len(re.findall(r"max_upload_size\"?[=:] ?1\b", text)), screen.name


def test_a_page_refuses_what_would_take_it_an_hour() -> None:
    """The command works out any number; whoever sends a link does not choose how long a club's machine works."""
    element, most = short()["elements"][0], page_cache.MOST_FITTED
    stages = [element["name"]] * 10
    for number, good in ((most // 10, True), (most // 10 + 1, False)):
        data = short() | {"options": [{"name": f"O {at}", "stages": stages} for at in range(number)]}
        assert (page_cache.faults(text_of_tables(data)) == ()) == good
    (fault,) = page_cache.faults(text_of_tables(data))
    assert fault == (
        "Options: have 130 cartridges in all, counted on every pump; a page works out at most 120, the command more"
    )


def test_a_link_that_unpacks_to_more_than_a_megabyte_is_refused() -> None:
    word = page_link.packed(["#" * 2_000_000])
    assert word is not None
    with pytest.raises(ValueError, match="too much"):
        page_link.unpacked(word)


# ---- who is served ----------------------------------------------------------------------------------------------


def _listening() -> set[tuple[str, int]]:
    """Return the addresses this machine listens on, as Linux writes them."""
    rows = [
        line.split()
        for name in ("/proc/net/tcp", "/proc/net/tcp6")
        if Path(name).exists()
        for line in Path(name).read_text(encoding="ascii").splitlines()[1:]
    ]
    return {(row[1].split(":")[0], int(row[1].split(":")[1], 16)) for row in rows if row[3] == "0A"}


@pytest.mark.skipif(not Path("/proc/net/tcp").exists(), reason="tells it as Linux does")
def test_the_app_listens_on_this_machine_alone(server: Served) -> None:
    port = int(server.address.rsplit(":", 1)[1])
    assert {address for address, listening in _listening() if listening == port} == {"0100007F"}
    assert signature(start).parameters["host"].default == signature(serve_pages).parameters["host"].default


@pytest.mark.parametrize(
    ("host", "origin"),
    [
        ("127.0.0.1:{port}", "https://stranger.example"),
        ("stranger.example:{port}", "http://stranger.example:{port}"),  # a name that leads to this machine
    ],
)
def test_another_sites_page_gets_no_answer(server: Served, host: str, origin: str) -> None:
    import socket

    port = int(server.address.rsplit(":", 1)[1])
    url = f"ws://{host.format(port=port)}/_stcore/stream"
    with (
        socket.create_connection(("127.0.0.1", port)) as line,
        pytest.raises(InvalidStatus, match="403"),
        connect(url, sock=line, origin=origin.format(port=port)),  # type: ignore[arg-type]  # text will do
    ):
        pass


# ---- names stay text --------------------------------------------------------------------------------------------

IMAGE = "![x](http://stranger.example/x.png)"
NAMES = {
    "Pleated 50": f"{IMAGE} <img src=x onerror=alert(1)>",
    "Pleated 20": "[home](http://stranger.example) $x^2$ :red[a]",
    "Wound 50": ":material/home: <script>alert(1)</script> `b`",
}


@needs_browser
def test_hostile_names_are_text_on_every_page(browser: Browser, server: Served) -> None:
    """No request, no markup, no formula, no icon comes of them, wherever they are shown."""
    tables = demo_with("freezer", "Pleated 50", "Pleated 20", "Wound 50", "Foam then pleated 20")
    tables["name"], tables["currency"] = f"{IMAGE} **b** <b>i</b>", "$x$<i>"
    tables.pop("in_use", None)
    for row in (*tables["elements"], *tables.get("options", ())):
        row["name"] = NAMES.get(row["name"], f"# {row['name']} _c_ $y$ <u>")
        if "stages" in row:
            row["stages"] = [NAMES.get(stage, f"# {stage} _c_ $y$ <u>") for stage in row["stages"]]
    word = page_link.packed([text_of_tables(tables)])
    seen = visit(browser, server, query=f"study={word}")
    page, dialogs = seen.page, list[str]()
    page.on("dialog", lambda dialog: (dialogs.append(dialog.message), dialog.dismiss()))
    for name in page_words.PAGES:
        go(page, name)
        main = page.locator("[data-testid=stMain]")
        for made in ("a[href*=stranger]", "img[src*=stranger]", "img[src=x]", ".katex", "u", "script"):
            assert main.locator(made).count() == 0, (name, made)
        assert main.locator("span[style*=color]:text-is('a')").count() == 0
    go(page, "which_filter")
    text = page.locator("[data-testid=stMain]").inner_text().replace("\u2060", "")
    assert any(name in text for name in (*NAMES.values(), "# ")), text[:500]
    assert seen.strangers == []
    assert dialogs == []
    page.context.close()
