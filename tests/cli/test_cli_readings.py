"""Ranking with readings: the commands, run as a person runs them."""

import json
import re
from pathlib import Path

import pytest
from command import run
from studies import demo_with

from filtration.study.text import text_of_tables

HEAD = "when,kind,value,note\n"
FITTED = "2026-03-01T12:00+00:00,replace,pleated-20,\n"
SLOW = HEAD + FITTED + "2026-03-01T13:00+00:00,bucket,10 L in 27 s,\n2026-03-08T12:00+00:00,bucket,10 L in 31 s,\n"
NOTE = "Ranked with what readings say"


@pytest.fixture
def study(tmp_path: Path) -> str:
    """Return the demo freezer tub's file, with a few of its options."""
    path = tmp_path / "tub.toml"
    path.write_text(text_of_tables(demo_with("freezer", "Pleated 20", "Pleated 50")), encoding="utf-8")
    return str(path)


@pytest.fixture
def table(tmp_path: Path) -> str:
    """Return a table of two timed buckets, the second a week after the first and slower."""
    path = tmp_path / "readings.csv"
    path.write_text(SLOW, encoding="utf-8")
    return str(path)


def days(answer: str) -> dict[str, float]:
    """Return the days to the first service by option."""
    return {option["id"]: option["days_to_first_service"] for option in json.loads(answer)["options"]}


def test_a_tub_that_fills_faster_is_ranked_so(study: str, table: str) -> None:
    """The readings say 1,160 L/h after a week, below the 1,260 wanted: where 14 days were assumed, 7 are left."""
    plain, seen = (run("compare", study, "--draws", "0", "--full", *more) for more in ((), ("--readings", table)))
    assert seen.returncode == 0
    assert NOTE in seen.stdout
    assert NOTE not in plain.stdout
    with_json = run("compare", study, "--draws", "0", "--readings", table, "--json")
    before, after = days(run("compare", study, "--draws", "0", "--json").stdout), days(with_json.stdout)
    assert before["pleated-20"] > 10.0
    assert 0.0 < after["pleated-20"] < 7.0


def test_the_logbook_serves_as_well_as_a_table(study: str, table: str, tmp_path: Path) -> None:
    book = str(tmp_path / "book.sqlite")
    assert run("log", "import", study, table, "--logbook", book).returncode == 0
    words = ("compare", study, "--draws", "0", "--json", "--readings")
    assert run(*words, "logbook", "--logbook", book).stdout == run(*words, table).stdout


def test_nothing_says_what_is_fitted(study: str, tmp_path: Path) -> None:
    path = tmp_path / "bare.csv"
    path.write_text(HEAD + "2026-03-01T13:00+00:00,flow,22 L/min,\n", encoding="utf-8")
    done = run("compare", study, "--readings", str(path))
    assert (done.returncode, done.stdout) == (2, "")
    assert "[in_use]" in done.stderr
    assert "log add --fitted ID" in done.stderr


def test_readings_that_do_not_count_are_named(study: str, tmp_path: Path) -> None:
    path = tmp_path / "odd.csv"
    path.write_text(SLOW + "2026-03-08T13:00+00:00,flow,9000 L/h,\n", encoding="utf-8")
    done = run("compare", study, "--draws", "0", "--readings", str(path))
    assert done.returncode == 0
    assert "Sun 8 Mar 2026 13:00 (+00:00), flow 9000 L/h: 9,000 L/h is more than pump and pipes can give" in done.stderr


def test_a_clubs_tubs_move_the_prior(study: str, table: str, tmp_path: Path) -> None:
    """What one tub shares names no day and no place; dirt found there makes another tub's first runs shorter."""
    shared = tmp_path / "north.json"
    assert run("forecast", study, "--readings", table, "--today", "2026-03-09", "--share", str(shared)).returncode == 0
    text = shared.read_text(encoding="utf-8")
    assert not any(word in text for word in ("2026", "Harbour", "pleated", "Pleated"))
    before = days(run("compare", study, "--draws", "0", "--json").stdout)
    done = run("compare", study, "--draws", "0", "--json", "--prior", str(shared))
    after = days(done.stdout)
    assert done.returncode == 0
    assert after["pleated-20"] < before["pleated-20"]
    assert run("compare", study, "--prior", str(tmp_path / "none.json")).stderr.endswith("there is no such file\n")
    assert run("compare", study, "--prior", study).returncode == 2


def test_every_tub_of_a_folder_goes_by_its_own_readings_and_the_prior(study: str, table: str, tmp_path: Path) -> None:
    """What ``compare`` says of each file with its readings and the same prior; one without readings by that alone."""
    tubs, tables, text = tmp_path / "tubs", tmp_path / "tables", Path(study).read_text(encoding="utf-8")
    book, shared = str(tmp_path / "book.sqlite"), str(tmp_path / "north.json")
    tubs.mkdir()
    tables.mkdir()
    for name in ("east", "west"):
        (tubs / f"{name}.toml").write_text(re.sub('name = ".*"', f'name = "{name}"', text, count=1), encoding="utf-8")
    (tables / "east.csv").write_text(SLOW, encoding="utf-8")
    assert run("forecast", study, "--readings", table, "--today", "2026-03-09", "--share", shared).returncode == 0
    assert run("log", "import", str(tubs / "east.toml"), table, "--logbook", book).returncode == 0
    day = ("--draws", "0", "--json", "--prior", shared)
    words = ("fleet", str(tubs), *day, "--today", "2026-03-09", "--readings")
    done = run(*words, str(tables))
    assert done.returncode == 0, done.stderr
    assert run(*words, "logbook", "--logbook", book).stdout == done.stdout
    east, west = json.loads(done.stdout)["tubs"]
    assert (east["readings_used"], west["readings_used"]) == (2, 0)
    for tub, more in ((east, ("--readings", table)), (west, ())):
        answer = json.loads(run("compare", str(tubs / tub["where"]), *day, *more).stdout)
        option = next(each for each in answer["options"] if each["id"] == answer["advised"])
        assert tub["option"] == option["name"]
        assert tub["cost_per_year"]["central"] == pytest.approx(option["cost_per_year"]["total"], rel=1e-6)
        assert tub["days_to_first_service"]["central"] == pytest.approx(option["days_to_first_service"], rel=1e-6)
        assert tub["chance_of_meeting_needs"] == pytest.approx(option["chance_of_meeting_needs"], abs=0.01)
    wrong = run(*words, study)
    assert (wrong.returncode, json.loads(wrong.stdout)["tubs"]) == (2, [])
    assert "--readings: needs 'logbook' or a folder" in wrong.stderr
