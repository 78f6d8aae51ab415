"""The command that writes files: what follows from a file's ending, and that nothing is ever half written."""

import errno
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from command import Done, run, toml, write
from studies import SHORT, WOUND, changed, short

from filtration.base.errors import InputError
from filtration.base.whole_file import refuse_taken, write_whole

ELEMENTS = [*short()["elements"], WOUND | {"name": "Spun 50", "kind": "spun", "rating": "50 um", "price": 6}]
STUDY = toml(changed({"elements": ELEMENTS, "prices.horizon": "1 year"}))
CHARTS = "map, pressure, flow, days, cost, days_cases, cost_cases, days_drivers, cost_drivers, life, loading, "


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Done]:
    """Return what writes a report to a file, of the study above unless another is given."""
    own = write(tmp_path_factory.mktemp("own"), STUDY)

    def made(to: Path, *words: str, study: Path | None = None) -> Done:
        return run("report", str(study or own), "--to", str(to), "--today", "2027-03-01", "--draws", "16", *words)

    return made


@pytest.mark.parametrize(
    ("name", "words", "wrote", "begins"),
    [
        ("a.html", (), "report", b"<!DOCTYPE html>"),
        ("a.html", ("--what", "card"), "card", b"<!DOCTYPE html>"),
        ("a.ics", (), "plan", b"BEGIN:VCALENDAR\r\n"),
        ("a.xlsx", (), "report", b"PK"),
        ("a.xlsx", ("--what", "plan"), "plan", b"PK"),
        ("a.csv", (), "answer", b"\xef\xbb\xbfid,name,"),
        ("a.csv", ("--what", "plan"), "plan", b"\xef\xbb\xbfday,date,"),
        ("A.TXT", (), "answer", b"North tub: 420 L"),
        ("days.svg", (), "days", b"<svg "),
        ("a.png", ("--what", "pressure"), "pressure", b"\x89PNG"),
        ("tub.png", (), "map", b"\x89PNG"),
    ],
)
def test_the_ending_says_what(
    report: Callable[..., Done], tmp_path: Path, name: str, words: tuple[str, ...], wrote: str, begins: bytes
) -> None:
    done = report(tmp_path / name, *words)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", f"Wrote {wrote} to {tmp_path / name}.\n")
    assert (tmp_path / name).read_bytes().startswith(begins)
    assert list(tmp_path.iterdir()) == [tmp_path / name]


@pytest.mark.parametrize(
    ("name", "words", "told"),
    [
        ("a.pdf", (), "--to: must end in .html, .ics, .xlsx, .csv, .txt, .png, .svg, got 'a.pdf'"),
        ("a", (), "--to: must end in .html, .ics, .xlsx, .csv, .txt, .png, .svg, got 'a'"),
        ("a.ics", ("--what", "card"), "--what: a .ics file holds plan or water, got 'card'"),
        ("a.html", ("--what", "plan"), "--what: a .html file holds report or card, got 'plan'"),
        ("a.svg", ("--what", "a"), f"--what: a .svg file holds one chart: {CHARTS}view, catch, lives, paid; got 'a'"),
        (
            "a.html",
            ("--option", "pleatd-20"),
            "option: no option has the id or name 'pleatd-20'; the nearest is 'pleated-20'",
        ),
        ("a.html", ("--today", "soon"), "--today: needs a day such as 2026-03-01, got 'soon'"),
    ],
)
def test_what_does_not_fit_is_told(
    report: Callable[..., Done], tmp_path: Path, name: str, words: tuple[str, ...], told: str
) -> None:
    done = report(tmp_path / name, *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert told in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_no_plan_no_calendar(report: Callable[..., Done], tmp_path: Path) -> None:
    study = write(tmp_path, SHORT + "[needs]\nflow = '9000 L/h'\n")
    done = report(tmp_path / "a.ics", study=study)
    assert done.returncode == 2
    assert "No option meets your needs." in done.stderr
    assert "Nothing was written." in done.stderr
    assert not (tmp_path / "a.ics").exists()
    assert report(tmp_path / "a.html", study=study).returncode == 0


def test_never_over_a_file_unless_told(report: Callable[..., Done], tmp_path: Path) -> None:
    to = tmp_path / "a.txt"
    to.write_text("mine")
    done = report(to)
    assert (done.returncode, done.stderr) == (2, f"{to}: there is a file already; nothing was written\n")
    assert to.read_text() == "mine"
    assert report(to, "--force").returncode == 0
    assert "Clear is not clean." in to.read_text(encoding="utf-8")
    assert list(tmp_path.iterdir()) == [to]


def test_a_calendar_written_over_another_cancels_what_is_gone(report: Callable[..., Done], tmp_path: Path) -> None:
    to = tmp_path / "a.ics"
    assert report(to).returncode == 0
    before = to.read_bytes()
    assert b"STATUS:" not in before
    assert report(to, "--option", "spun-50", "--force").returncode == 0
    assert to.read_bytes().count(b"STATUS:CANCELLED\r\n") == before.count(b"BEGIN:VEVENT\r\n")
    assert report(to, "--force").returncode == 0
    back = to.read_bytes()
    assert back.count(b"BEGIN:VEVENT\r\n") - back.count(b"STATUS:CANCELLED\r\n") == before.count(b"BEGIN:VEVENT\r\n")


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    for force in (False, True):
        with pytest.raises(InputError, match=r"is a folder, not a file; nothing was written$"):
            refuse_taken(tmp_path, force=force)
    with pytest.raises(InputError, match=r"cannot be written \(there is no folder .*\); nothing was written$"):
        write_whole(tmp_path / "none" / "a.txt", b"x")


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to("real.txt")
    write_whole(tmp_path / "link.txt", b"new", force=True)
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real.txt").read_text() == "new"


@pytest.mark.parametrize(
    ("call", "number", "why"),
    [
        ("fsync", errno.ENOSPC, "No space left on device"),
        ("mkdir", errno.EROFS, "Read-only file system"),
        ("mkdir", errno.EACCES, "Permission denied"),
        ("replace", errno.EIO, "Input/output error"),
    ],
)
@pytest.mark.parametrize("force", [False, True])
def test_what_the_disk_refuses(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    call: str,
    number: int,
    why: str,
    force: bool,  # noqa: FBT001 - a parameter of the test
) -> None:
    to = tmp_path / "a.txt"
    if force:
        to.write_text("mine")

    def refuse(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, call, refuse)
    if call == "replace":  # a disk without links
        monkeypatch.setattr(os, "link", refuse)
    with pytest.raises(InputError) as error:
        write_whole(to, b"new", force=force)
    assert str(error.value) == f"{to}: cannot be written ({why}); nothing was written"
    assert [path.read_text() for path in tmp_path.iterdir()] == ["mine"] * force


@pytest.mark.parametrize("quicker", [False, True])
def test_a_disk_without_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, quicker: bool) -> None:  # noqa: FBT001
    """The file is whole there too, and over no other, though another writer was quicker since we looked."""
    to = tmp_path / "a.txt"

    def refuse(*_: object, **__: object) -> None:
        if quicker:
            to.write_text("mine")
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", refuse)
    if quicker:
        with pytest.raises(InputError, match=r"a\.txt: there is a file already; nothing was written$"):
            write_whole(to, b"new")
    else:
        write_whole(to, b"new")
    assert [path.read_text() for path in tmp_path.iterdir()] == ["mine" if quicker else "new"]


def test_a_write_that_the_system_cuts_short(tmp_path: Path) -> None:
    """The system itself refuses to let the file grow; what was there is still there, and nothing beside it."""
    to = tmp_path / "a.csv"
    to.write_text("mine")
    code = (
        "import resource, signal, sys\nfrom filtration.base.whole_file import write_whole\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))\n"
        "write_whole(sys.argv[1], b'x' * 100_000, force=True)\n"
    )
    done = subprocess.run([sys.executable, "-c", code, str(to)], capture_output=True, text=True, check=False)
    assert f"InputError: {to}: cannot be written (File too large); nothing was written" in done.stderr
    assert [path.read_text() for path in tmp_path.iterdir()] == ["mine"]


@pytest.mark.skipif(os.name != "posix", reason="users as POSIX has them")
def test_a_folder_that_may_only_be_read(tmp_path: Path) -> None:
    """As another user where this one may do anything."""
    folder = tmp_path / "shut"
    folder.mkdir()
    folder.chmod(0o555)
    for above in (tmp_path, *tmp_path.parents[:2]):
        above.chmod(above.stat().st_mode | 0o055) if os.geteuid() == 0 else None
    code = (
        "import os, sys\nfrom filtration.base.whole_file import write_whole\n"
        "os.geteuid() or os.setuid(65534)\nwrite_whole(sys.argv[1], b'x')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(folder / "a.txt")], capture_output=True, text=True, check=False
    )
    assert f"InputError: {folder / 'a.txt'}: cannot be written (Permission denied); nothing was written" in done.stderr
    assert list(folder.iterdir()) == []


def test_the_command_is_told_and_nothing_heavy_is_loaded_for_it() -> None:
    code = (
        "import sys\nfrom filtration import cli\n"
        "heavy = {'jinja2', 'xlsxwriter', 'icalendar', 'altair', 'pandas', 'numpy'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
    assert "report" in run("--help").stdout
