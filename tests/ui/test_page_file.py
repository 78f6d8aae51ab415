"""The study file that the pages were started with: opened, saved whole after each change, never over another's."""

import tomllib
from collections.abc import Callable
from pathlib import Path

import page_cache
import page_link
import pytest
from pages import at, field, text_on
from streamlit.runtime.context import ContextProxy
from streamlit.testing.v1 import AppTest
from typer.testing import CliRunner

from filtration import Comparison
from filtration.base.places import demo_file, template_text
from filtration.cli import serve
from filtration.cli.commands import app
from filtration.present.words import fields as field_words


@pytest.fixture(autouse=True)
def still(monkeypatch: pytest.MonkeyPatch, freezer: Comparison) -> None:
    """Spare the working out of answers that are not looked at."""
    monkeypatch.setattr(page_cache, "answer", lambda _text: freezer)


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Start the pages with a study file."""
    made = tmp_path / "tub.toml"
    made.write_bytes(template_text().encode())
    monkeypatch.setenv(serve.STUDY, str(made))
    return made


def put(page: AppTest, place: str, value: str) -> None:
    field(page, place).set_value(value).run()
    assert not page.exception


def test_a_number_changed_is_found_in_the_file(page: AppTest, file: Path) -> None:
    at(page.run(), "your_tub")
    assert field(page, "tub.volume").value == "420"
    put(page, "tub.volume", "431,5")
    before, after = template_text().splitlines(), file.read_text("utf-8").splitlines()
    assert tomllib.loads(file.read_text("utf-8"))["tub"]["volume"] == "431.5 L"
    (line,) = [line for line in after if line not in before]  # every remark is still there
    assert line.startswith('volume = "431.5 L"')
    assert len(after) == len(before)
    assert field_words.FILE_SAVED in text_on(page)
    assert "study" not in page.query_params  # the file carries it
    press(page, "Undo")
    assert file.read_text("utf-8") == template_text()


def press(page: AppTest, label: str) -> None:
    next(button for button in page.button if button.label == label).click().run()
    assert not page.exception


def test_what_does_not_fit_waits_and_is_carried_by_the_address(page: AppTest, file: Path) -> None:
    at(page.run(), "your_tub")
    put(page, "tub.volume", "1.200")
    assert field_words.FILE_WAITS in text_on(page)
    assert file.read_text("utf-8") == template_text()
    assert "1.200 L" in page_link.unpacked("".join(page.query_params["study"]))[0]
    put(page, "tub.volume", "1200")
    assert tomllib.loads(file.read_text("utf-8"))["tub"]["volume"] == "1200 L"


def test_a_change_made_elsewhere_is_never_written_over(page: AppTest, file: Path) -> None:
    at(page.run(), "your_tub")
    theirs = template_text().replace('"420 L"', '"500 L"').encode()
    file.write_bytes(theirs)
    put(page, "tub.uses_per_day", "9")
    assert file.read_bytes() == theirs
    assert field_words.FILE_CHANGED in text_on(page)
    press(page, "Read the file, and keep mine beside it")
    assert file.read_bytes() == theirs
    assert field(page, "tub.volume").value == "500"
    mine, tubs = "".join(page.query_params["study"]), page.session_state["tubs"]
    assert page_link.unpacked(mine) == tubs[1:]
    assert tomllib.loads(tubs[1])["tub"]["uses_per_day"] == 9
    put(page, "tub.uses_per_day", "8")
    tub = tomllib.loads(file.read_text("utf-8"))["tub"]
    assert (tub["volume"], tub["uses_per_day"]) == ("500 L", 8)


def test_a_file_changed_elsewhere_is_followed_where_nothing_was_changed_here(page: AppTest, file: Path) -> None:
    at(page.run(), "your_tub")
    file.write_text(template_text().replace('"420 L"', '"500 L"'), "utf-8")
    page.run()
    assert field(page, "tub.volume").value == "500"
    assert field_words.FILE_FOLLOWED in text_on(page)


@pytest.mark.parametrize("gone", [Path.unlink, lambda path: path.write_bytes(b"\xff")])
def test_a_file_that_is_gone_or_spoilt_is_told_and_left(
    page: AppTest, file: Path, gone: Callable[[Path], object]
) -> None:
    at(page.run(), "your_tub")
    gone(file)
    left = file.read_bytes() if file.exists() else None
    put(page, "tub.volume", "430")
    assert field_words.FILE_SAVED not in text_on(page)
    assert (file.read_bytes() if file.exists() else None) == left


def test_a_visitor_from_elsewhere_saves_nothing(page: AppTest, file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ContextProxy, "headers", property(lambda _self: {"X-Forwarded-For": "192.0.2.7"}))
    at(page.run(), "your_tub")
    put(page, "tub.volume", "430")
    assert field_words.FILE_READ_ONLY in text_on(page)
    assert file.read_text("utf-8") == template_text()


@pytest.mark.parametrize(("host", "saves"), [("127.0.0.1", True), ("localhost", True), ("0.0.0.0", False)])  # noqa: S104 - nothing is served here
def test_pages_served_to_others_save_nothing(
    page: AppTest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, host: str, *, saves: bool
) -> None:
    for name in (serve.STUDY, serve.READ_ONLY):
        monkeypatch.setenv(name, "")
    monkeypatch.setattr(serve, "_check", lambda *_: None)
    monkeypatch.setattr("streamlit.web.cli.main", lambda *_, **__: None)
    made = tmp_path / "tub.toml"
    made.write_bytes(template_text().encode())
    assert CliRunner().invoke(app, ["app", str(made), "--host", host]).exit_code == 0
    at(page.run(), "your_tub")
    put(page, "tub.volume", "430")
    assert ('"430 L"' in made.read_text("utf-8")) == saves


def test_another_tub_does_not_take_the_place_of_the_files(page: AppTest, file: Path) -> None:
    file.write_bytes(demo_file("freezer").read_bytes())
    page.query_params["study"] = page_link.packed([demo_file("barrel").read_text("utf-8")]) or ""
    at(page.run(), "your_tub")
    assert [tomllib.loads(text)["name"] for text in page.session_state["tubs"]] == [
        "Harbour freezer tub",
        page_cache.demos()["barrel"],
    ]
    press(page, page_cache.demos()["quay"])
    assert len(page.session_state["tubs"]) == 3
    assert file.read_bytes() == demo_file("freezer").read_bytes()


def test_windows_ends_of_lines_stay(page: AppTest, file: Path) -> None:
    file.write_bytes(template_text().replace("\n", "\r\n").encode())
    at(page.run(), "your_tub")
    put(page, "tub.volume", "430")
    assert file.read_bytes().count(b"\r\n") == file.read_bytes().count(b"\n") == template_text().count("\n")


@pytest.mark.parametrize(("name", "told"), [("none.toml", "no such file"), ("bad.toml", "not TOML")])
def test_a_file_that_is_none_is_told_before_anything_is_served(tmp_path: Path, name: str, told: str) -> None:
    (tmp_path / "bad.toml").write_text("[tub", "utf-8")
    done = CliRunner().invoke(app, ["app", str(tmp_path / name)])
    assert done.exit_code != 0
    assert told in str(done.exception)
