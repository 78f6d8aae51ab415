"""One visit: what was read counts before what was done; and what a forecast would refuse is refused when written."""

from datetime import timedelta
from pathlib import Path

import pytest
from command import Done, run
from owners import at, looked, record, study_in_use
from studies import demo_with

from filtration import InputError
from filtration.present.words import forecast as words
from filtration.present.words.readings import not_taken
from filtration.readings.entering import would_refuse
from filtration.readings.reading import KINDS, in_order, reading_of
from filtration.study.text import text_of_tables

NOON = timedelta(hours=12)


def on(day: int, kind: str, value: str = "") -> object:
    return reading_of(f"2026-01-{day:02d}T12:00Z", kind, value, where="row")


@pytest.mark.parametrize("written", [("bucket", "replace"), ("replace", "bucket")])
def test_what_was_read_at_a_replacement_is_of_the_old_element(written: tuple[str, str]) -> None:
    """118 seconds on a spent element, the new one fitted on that visit: it says nothing against the new one."""
    spent = {"bucket": "10 L in 118 s", "replace": ""}
    rows = [on(2, "bucket", "10 L in 24.4 s"), *(on(20, kind, spent[kind]) for kind in written)]
    lives = record(rows).lives
    assert [[len(stretch.seen) for stretch in life.stretches] for life in lives] == [[2], [0]]
    found = looked(rows, 21.0)
    assert "after service" not in [remark.kind for remark in found.diagnosis]
    assert not any("the element does not sit" in told or "soak it" in told for told in words.diagnosis(found))


def test_what_was_read_at_a_rinse_is_of_the_run_before() -> None:
    rows = [on(12, "rinse"), on(12, "bucket", "10 L in 28 s"), on(13, "bucket", "10 L in 24.5 s")]
    first, second = record(rows).lives[0].stretches
    assert ([row.reading.value for row in record(rows).observations], first.seen, second.seen) == (
        ["10 L in 28 s", "10 L in 24.5 s"],
        [0],
        [1],
    )


def test_what_was_read_on_the_day_of_the_first_is_of_the_first() -> None:
    """There is none before it: at its hour, before it or after it that day."""
    rows = [on(5, "fitted", "Pleated 20"), on(5, "bucket", "10 L in 24.4 s")]
    rows += [reading_of("2026-01-05T08:00Z", "bucket", "10 L in 24.3 s", where="row")]
    found = record(rows, study=study_in_use(None))
    assert (len(found.observations), found.refused) == (2, ())
    assert [each.day for each in found.observations] == [0.0, 0.0]
    early = record([*rows, on(4, "bucket", "10 L in 24.4 s")], study=study_in_use(None))
    assert [doubt.why.kind for doubt in early.refused] == ["before first"]


def test_the_order_of_one_time() -> None:
    values = {"flow": "22 L/min", "bucket": "10 L in 27 s", "column": "8 cm", "pressure": "1 kPa", "see-through": "3 m"}
    values |= {"fitted": "pleated-20", "bought": "2", "uses": "9"}
    rows = [reading_of("2026-03-03", kind, values.get(kind, ""), "x", where="row") for kind in KINDS]
    told = ["fitted", "flow", "bucket", "column", "pressure", "see-through", "uses", "note"]
    done = ["rinse", "soak", "replace", "water", "bought"]
    assert [each.kind for each in in_order(reversed(rows))] == ["fitted", *told[:0:-1], *done[::-1]]
    assert [each.kind for each in in_order(rows)] == [*told, *done]


# ---- what a forecast would refuse ----

SPUN = "spun-20"
REFUSED = [
    (
        "pleated-20",
        "bucket",
        "10 L in 2.3 s",
        "is more than pump and pipes can give without any cartridge, which is at m",
    ),
    ("pleated-20", "column", "9 m", "9.00 m is more than the pump can press with no flow at all, which is "),
    (SPUN, "rinse", "", "Spun 20 cannot be rinsed clean, so that it counts as it was; log a replacement instead"),
    (SPUN, "soak", "", "Spun 20 cannot be rinsed clean, so that it counts as it was; log a replacement instead"),
]


@pytest.mark.parametrize(
    ("option", "kind", "value", "why"), REFUSED, ids=[f"{kind} {value}" for _, kind, value, _ in REFUSED]
)
def test_what_a_forecast_would_refuse(option: str, kind: str, value: str, why: str) -> None:
    """The same words at entry as in the forecast; what is right is taken."""
    study, new = study_in_use(option), on(9, kind, value)
    (told,) = not_taken(would_refuse(study, [], [new], at(20.0)))
    assert why in told
    assert [told] == [f"{which}: {reason}" for which, reason in words.refused(looked([new], 20.0, study))]
    assert would_refuse(study, [], [on(9, "bucket", "10 L in 25 s")], at(20.0)) == ()


def test_with_nothing_fitted_only_what_no_element_allows_is_refused() -> None:
    rows = [on(9, "bucket", "10 L in 25 s"), on(9, "rinse"), on(9, "bucket", "10 L in 2.3 s")]
    refused = would_refuse(study_in_use(None), [], rows, at(20.0))
    assert [doubt.reading.value for doubt in refused] == ["10 L in 2.3 s"]


def test_a_row_that_is_there_already_is_told_and_the_old_ones_are_not() -> None:
    there = [on(9, "rinse"), on(9, "bucket", "10 L in 2.3 s")]
    (doubt,) = would_refuse(study_in_use(), there, [on(9, "rinse"), on(10, "rinse")], at(20.0))
    assert (doubt.why.kind, doubt.reading.when) == ("twice", on(9, "rinse").when)


def test_an_option_the_study_lacks_is_a_fault() -> None:
    with pytest.raises(InputError, match="no option has the id or name 'pleated-21'; the nearest is 'pleated-20'"):
        would_refuse(study_in_use(), [], [on(9, "replace", "Pleated 21")], at(20.0))


@pytest.fixture
def log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> object:
    """Run a command of the logbook on a tub with a spun cartridge in it."""
    data = demo_with("freezer", "Spun 20") | {"in_use": {"option": "spun-20", "since": "2026-03-01"}}
    (tmp_path / "tub.toml").write_text(text_of_tables(data), encoding="utf-8")
    monkeypatch.setenv("FILTRATION_LOGBOOK", str(tmp_path / "book.sqlite"))
    return lambda command, *more: run("log", command, str(tmp_path / "tub.toml"), *more)


def test_the_command_refuses_with_the_range_and_keeps_it_anyway(log: object, tmp_path: Path) -> None:
    done: Done = log("add", "--rinsed", "--bucket", "10 L", "--seconds", "2.3", "--when", "2026-03-08")
    assert (done.returncode, done.stdout) == (2, "")
    bucket, rinse, hint = done.stderr.splitlines()
    assert ", bucket 10 L in 2.3 s: 15,700 L/h is more than pump and pipes can give" in bucket
    assert bucket.endswith(" L/h; see the unit and the bucket")
    assert rinse.endswith("Spun 20 cannot be rinsed clean, so that it counts as it was; log a replacement instead")
    assert hint == "A forecast would leave this out, so nothing was written; with --anyway it is kept all the same."
    assert not (tmp_path / "book.sqlite").exists()
    assert log("add", "--rinsed", "--when", "2026-03-08", "--anyway").returncode == 0
    table = tmp_path / "in.csv"
    table.write_text("when,kind,value\n2026-03-09,column,9 m\n2026-03-09,replace,Spun 20\n", encoding="utf-8")
    assert log("import", str(table)).stderr.count("is more than the pump can press") == 1
    done = log("import", str(table), "--anyway")
    assert done.stderr.startswith("Imported 2 readings.")
    assert log("list").stdout.splitlines()[1].endswith("column 9 m")
