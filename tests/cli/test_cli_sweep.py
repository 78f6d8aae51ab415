"""The command sweep, run as a person runs it: a table to read, a document, and files that hold the same."""

import json
from pathlib import Path

import pandas as pd
import pytest
from command import numbers_in, run, toml, write
from pandas.testing import assert_frame_equal
from studies import SHORT, changed, demo_data, study_of

from filtration import sweep
from filtration.answers.curves import KINDS_SWEPT, RATINGS_UM, Swept
from filtration.present import console

MOST_LINES = 31


@pytest.fixture
def tub(tmp_path: Path) -> str:
    """Write the freezer tub's study."""
    file = tmp_path / "tub.toml"
    assert run("new", str(file), "--demo", "freezer").returncode == 0
    return str(file)


def test_it_says_what_meets_the_needs_above_a_short_table(tub: str) -> None:
    done = run("sweep", tub, "--option", "pleated-20")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith(
        "Harbour freezer tub\n\nCartridges of 10 x 2.5 in, each alone in one housing on Submersible.\nMeets your "
    )
    for word in ("spun (melt-blown)", "string-wound", "pleated", "Pressure drop (head lost", "rinse", "visibility"):
        assert word in done.stdout
    lines = done.stdout.splitlines()
    assert len(lines) <= MOST_LINES
    assert sum(line.split()[:1] == ["100"] for line in lines) == 3


def test_the_document_has_the_keys_of_the_contract(tub: str) -> None:
    document = json.loads(run("sweep", tub, "--option", "pleated-20", "--json").stdout, parse_constant=pytest.fail)
    assert document["over"] == {"key": "elements.rating", "unit": "um"}
    assert [each["kind"] for each in document["curves"]] == list(KINDS_SWEPT)
    for each in document["curves"]:
        assert each["size"] == "10 x 2.5 in"
        assert [row["value"] for row in each["rows"]] == list(RATINGS_UM)
        assert all(set(row) == set(Swept.__slots__) for row in each["rows"])
    assert all(abs(number) < 1e12 for number in numbers_in(document))


def test_its_csv_read_back_is_its_table(tub: str, tmp_path: Path) -> None:
    to = tmp_path / "curves.csv"
    done = run("sweep", tub, "--option", "pleated-20", "--to", str(to))
    assert (done.returncode, done.stdout, done.stderr) == (0, "", f"Wrote the curves to {to}.\n")
    table = sweep(study_of(demo_data("freezer")), option="pleated-20").table()
    assert_frame_equal(pd.read_csv(to), table, check_exact=True)


@pytest.mark.parametrize(("name", "begins"), [("a.png", b"\x89PNG"), ("a.SVG", b"<svg ")])
def test_a_picture_never_over_a_file_unless_told(tub: str, tmp_path: Path, name: str, begins: bytes) -> None:
    to = tmp_path / name
    words = ("sweep", tub, "--option", "pleated-20", "--kinds", "pleated", "--ratings", "5,20 um", "--to", str(to))
    assert run(*words).returncode == 0
    assert to.read_bytes().startswith(begins)
    to.write_text("mine", encoding="utf-8")
    done = run(*words)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == f"{to}: there is a file already; nothing was written\n"
    assert to.read_text(encoding="utf-8") == "mine"
    assert run(*words, "--force").returncode == 0
    assert to.read_bytes().startswith(begins)


def test_over_a_key_from_one_value_to_another(tmp_path: Path) -> None:
    study = str(write(tmp_path, SHORT))
    words = ("sweep", study, "--over", "plumbing.bore", "--values", "16:25 mm:4")
    text = run(*words).stdout
    assert "Pleated 20 on pump, against plumbing.bore, mm." in text
    document = json.loads(run(*words, "--json").stdout)
    assert [row["value"] for row in document["curves"][0]["rows"]] == [16.0, 19.0, 22.0, 25.0]
    assert (document["over"], document["option"]) == ({"key": "plumbing.bore", "unit": "mm"}, "pleated-20")
    hours = json.loads(run("sweep", study, "--over", "pump.hours_per_day", "--values", "8:24:3", "--json").stdout)
    assert [row["value"] for row in hours["curves"][0]["rows"]] == [8.0, 16.0, 24.0]
    feet = run("sweep", study, "--over", "tub.feet", "--values", "rinsed,indoors").stdout
    assert "Pleated 20 with tub.feet = rinsed, indoors." in " ".join(feet.split())


def test_keys_may_be_set_otherwise(tmp_path: Path) -> None:
    study = str(write(tmp_path, SHORT))
    wide = str(write(tmp_path / "..", toml(changed({"plumbing.bore": "25 mm"}))))
    words = ("--ratings", "1:100:5", "--option", "pleated-20", "--json")
    assert run("sweep", study, "--set", "plumbing.bore=25 mm", *words).stdout == run("sweep", wide, *words).stdout
    over = ("--over", "tub.depth", "--values", "0.5 m,0.7 m", "--json")
    assert run("sweep", study, "--set", "plumbing.bore=25 mm", *over).stdout == run("sweep", wide, *over).stdout


def test_what_the_curves_leave_out_is_said(tmp_path: Path) -> None:
    study = str(write(tmp_path, SHORT + 'beta = [["20 um", 9]]\n'))
    text = " ".join(run("sweep", study, "--kinds", "spun,pleated").stdout.split())
    assert "The year lacks the cartridge's price, as the study has none like it: spun (melt-blown)." in text
    assert "Makers' figures are left aside, rating and shape alone count: Pleated 20." in text


@pytest.mark.parametrize("columns", [60, 80, 98])
def test_it_keeps_to_the_terminals_width(tub: str, monkeypatch: pytest.MonkeyPatch, columns: int) -> None:
    monkeypatch.setattr(console, "width", lambda: columns)
    lines = run("sweep", tub, "--option", "pleated-20").stdout.splitlines()
    assert max(map(len, lines)) <= columns
    assert "…" not in "".join(lines)
    told = " ".join(" ".join(lines).split())
    assert ("- string-wound, 1 um: lacks flow" in told) is (columns < 80)
    assert "spun (melt-blown)" in told


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_it_survives_any_terminal(tmp_path: Path, encoding: str) -> None:
    study = str(write(tmp_path, SHORT.replace("North tub", "Tub n\u00b0 \U0001f9ca")))
    done = run("sweep", study, "--option", "pleated-20", encoding=encoding)
    assert (done.returncode, done.stderr) == (0, "")


EITHER = "sweep: give either --over and --values, or --kinds, --ratings and --sizes\n"
UNKNOWN = "study.toml with --set, [plumbing] boar: is unknown; the nearest known one is bore\n"
WRONG = [
    (("--over", "plumbing.bore"), EITHER),
    (("--values", "1"), EITHER),
    (("--over", "plumbing.bore", "--values", "19 mm", "--kinds", "spun"), EITHER),
    (("--to", "a.pdf"), "--to: must end in .csv, .png, .svg, got 'a.pdf'\n"),
    (("--ratings", "0:9:5"), "--ratings: needs from:to:count, such as 4:24:11 or '8 mm:32 mm:13', got '0:9:5'\n"),
    (("--ratings", "1:9"), "--ratings: needs from:to:count, such as 4:24:11 or '8 mm:32 mm:13', got '1:9'\n"),
    (
        ("--over", "plumbing.bore", "--values", "1 in:9 mm:5"),
        "--values: needs from:to:count, such as 4:24:11 or '8 mm:32 mm:13', got '1 in:9 mm:5'\n",
    ),
    (("--kinds", "sand"), "kinds: must be spun, wound or pleated, got 'sand'\n"),
    (
        ("--set", "plumbing.boar=1 m"),
        UNKNOWN,
    ),
]


@pytest.mark.parametrize(("words", "told"), WRONG)
def test_wrong_questions(tmp_path: Path, words: tuple[str, ...], told: str) -> None:
    done = run("sweep", str(write(tmp_path, SHORT)), "--option", "pleated-20", *words)
    assert (done.returncode, done.stdout, done.stderr) == (2, "", told)
