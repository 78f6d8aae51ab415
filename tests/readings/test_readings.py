"""Readings: one row from text to SI, and tables of them as CSV files, hostile text included."""

import csv
import errno
import io
import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from logbooks import HOSTILE, READINGS, TEXTS, rows_of

from filtration.base.errors import InputError
from filtration.readings.csv_file import csv_of, load_readings, readings_from_csv, readings_to_csv
from filtration.readings.reading import KINDS, Reading, cells, reading_of

# NIST Special Publication 811 (2008), appendix B.
GALLON, QUART, PSI = 3.785411784e-3, 0.946352946e-3, 0.45359237 * 9.80665 / 0.0254**2
# IAPWS-95 at 0.1 MPa: 999.97 kg/m3 at 4 degC.
COLD_WATER_KG_M3 = 999.97
WHEN = "2026-03-03T18:30+01:00"


def one(kind: str, value: str = "", note: str = "") -> Reading:
    return reading_of(WHEN, kind, value, note, where="row")


def faults_of(when: str | datetime, kind: str, value: str = "", note: str = "") -> tuple[str, ...]:
    with pytest.raises(InputError) as told:
        reading_of(when, kind, value, note, where="row")
    return told.value.faults


# ---- one row ----------------------------------------------------------------------------------------------------

NUMBERS: list[tuple[str, str, dict[str, Any]]] = [
    ("flow", "22 L/min", {"flow_m3_s": 0.022 / 60}),
    ("flow", "350 gph", {"flow_m3_s": 350 * GALLON / 3600}),
    ("flow", " 22   L/min  without element ", {"flow_m3_s": 0.022 / 60, "without_element": True}),
    ("bucket", "10 L in 27.4 s", {"bucket_m3": 0.010, "seconds": 27.4, "flow_m3_s": 0.010 / 27.4}),
    ("bucket", "5 gal in 1 min", {"bucket_m3": 5 * GALLON, "seconds": 60.0, "flow_m3_s": 5 * GALLON / 60}),
    ("bucket", "5 qt in 12 s", {"bucket_m3": 5 * QUART, "seconds": 12.0, "flow_m3_s": 5 * QUART / 12}),
    ("bucket", "1 1/2 gal in 20 s", {"bucket_m3": 1.5 * GALLON, "seconds": 20.0, "flow_m3_s": 0.075 * GALLON}),
    ("bucket", "64 FL OZ in 5 s", {"bucket_m3": 2 * QUART, "seconds": 5.0, "flow_m3_s": 0.4 * QUART}),
    ("bucket", "600 cu in in 30 s", {"bucket_m3": 600 * 0.0254**3, "seconds": 30.0, "flow_m3_s": 20 * 0.0254**3}),
    (
        "bucket",
        "10 L in 20 s without element",
        {"bucket_m3": 0.010, "seconds": 20.0, "flow_m3_s": 0.0005, "without_element": True},
    ),
    ("column", "82 cm", {"pressure_pa": 0.82 * 1000 * 9.80665}),
    ("column", "32 1/2 in", {"pressure_pa": 0.8255 * 1000 * 9.80665}),
    ("column", "32 in", {"pressure_pa": 32 * 0.0254 * 1000 * 9.80665}),
    ("column", "30 cm  without element", {"pressure_pa": 0.3 * 1000 * 9.80665, "without_element": True}),
    ("pressure", "11 kPa", {"pressure_pa": 11000.0}),
    ("pressure", "3 kPa without element", {"pressure_pa": 3000.0, "without_element": True}),
    ("pressure", "1.6 psi", {"pressure_pa": 1.6 * PSI}),
    ("see-through", "3 m", {"see_through_m": 3.0}),
    ("see-through", "10 ft", {"see_through_m": 3.048}),
    ("rinse", "", {}),
    ("soak", "", {}),
    ("replace", "pleated-20", {"option": "pleated-20"}),
    ("replace", "", {}),
    ("replace", "Pleated 20 \u00b5m", {"option": "pleated-20-m"}),
    ("fitted", "Foam, then pleated@Pond Pump", {"option": "foam-then-pleated@Pond Pump"}),
    ("bought", "2", {"count": 2}),
    ("bought", "3 x Pleated 20", {"count": 3, "item": "pleated-20"}),
    ("water", "", {}),
    ("uses", "9", {"uses": 9.0}),
    ("uses", "0", {"uses": 0.0}),
    ("uses", "2.5", {"uses": 2.5}),
    ("note", "", {}),
]


@pytest.mark.parametrize(("kind", "value", "numbers"), NUMBERS, ids=[f"{kind} {value}" for kind, value, _ in NUMBERS])
def test_what_a_row_means(kind: str, value: str, numbers: dict[str, Any]) -> None:
    """Every number by definition of its unit, and no other one."""
    found = one(kind, value, "x")
    fields = ("flow_m3_s", "seconds", "bucket_m3", "pressure_pa", "see_through_m", "option", "count", "item", "uses")
    got = {name: getattr(found, name) for name in fields if getattr(found, name) is not None}
    assert found.without_element is numbers.pop("without_element", False)
    assert got == pytest.approx(numbers, rel=1e-12) if not {"option", "item"} & set(numbers) else got == numbers
    assert (found.kind, found.value, found.note) == (kind, " ".join(value.split()), "x")


def test_every_kind_is_tried() -> None:
    assert {kind for kind, *_ in NUMBERS} == set(KINDS)


def test_a_column_weighs_what_cold_water_weighs() -> None:
    assert one("column", "1 m").pressure_pa == pytest.approx(COLD_WATER_KG_M3 * 9.80665, rel=1e-4)


BAD_VALUES = [
    ("flow", "22", "row, flow: needs a flow such as '22 L/min', got '22' without a unit"),
    ("flow", "", "row, flow: needs a flow such as '22 L/min' (one plain number, a point before decimals, then the"),
    ("flow", "2,2 L/min", "row, flow: needs a flow such as '22 L/min' (one plain number, a point before decimals"),
    (
        "flow",
        "1.320 L/h",
        "row, flow: needs a flow such as '22 L/min', got '1.320 L/h', which may be read in two ways; "
        "write '1320 L/h' or '1.32 L/h'",
    ),
    ("flow", "3 m", "row, flow: needs a flow such as '22 L/min', got '3 m'"),
    ("flow", "-22 L/min", "row, flow: must be 1 L/h to 1000 m^3/h, got '-22 L/min'"),
    ("flow", "0 L/min", "row, flow: must be 1 L/h to 1000 m^3/h, got '0 L/min'"),
    ("flow", "nan L/min", "row, flow: needs a flow such as '22 L/min'"),
    ("flow", "1e300 L/min", "row, flow: must be 1 L/h to 1000 m^3/h, got '1e300 L/min'"),
    ("flow", "22 L/min without", "row, flow: needs a flow such as '22 L/min', got '22 L/min without'; units of flow"),
    ("flow", "without element", "row, flow: needs a flow such as '22 L/min' (one plain number"),
    ("flow", "2\0 L/min", "row, flow: needs a flow such as '22 L/min'"),
    ("flow", "\ud800", "row, flow: needs a flow such as '22 L/min' (one plain number, a point before decimals"),
    ("flow", "9" * 5000 + " L/min", "row, flow: needs a flow such as '22 L/min'"),
    ("bucket", "10 L", "row, bucket: needs a volume and a time such as '10 L in 27.4 s', got '10 L'"),
    ("bucket", "10 L in", "row, bucket: needs a volume and a time such as '10 L in 27.4 s', got '10 L in'"),
    ("bucket", "10 m in 9 s", "row, bucket: needs a volume such as '10 L', got '10 m'"),
    ("bucket", "10 L in 9", "row, bucket: needs a time such as '27.4 s', got '9' without a unit"),
    ("bucket", "0 L in 9 s", "row, bucket: must be 10 mL to 10 m^3, got '0 L'"),
    ("bucket", "10 L in 0 s", "row, bucket: must be 0.1 s to 1 day, got '0 s'"),
    ("bucket", "10 mL in 1 day", "row, bucket: must be a flow of 1 L/h to 1000 m^3/h, got '10 mL in 1 day'"),
    ("bucket", "10 m^3 in 0.1 s", "row, bucket: must be a flow of 1 L/h to 1000 m^3/h, got '10 m^3 in 0.1 s'"),
    ("column", "0 cm", "row, column: must be 1 mm to 100 m, got '0 cm'"),
    ("column", "8 kPa", "row, column: needs a length such as '82 cm', got '8 kPa'"),
    ("column", "without element", "row, column: needs a length such as '82 cm' (one plain number"),
    ("pressure", "8 cm without element", "row, pressure: needs a pressure such as '11 kPa', got '8 cm'"),
    ("see-through", "3 m without element", "row, see-through: needs a length such as '3 m', got '3 m without element'"),
    ("pressure", "11 bar", "row, pressure: must be 1 Pa to 10 bar, got '11 bar'"),
    ("see-through", "81 m", "row, see-through: must be 1 cm to 80 m, got '81 m'"),
    ("rinse", "x", "row, rinse: takes no value, got 'x'"),
    ("water", "x", "row, water: takes no value, got 'x'"),
    ("note", "x", "row, note: takes no value, got 'x'"),
    ("replace", "=", "row, replace: needs the id or name of an option such as 'pleated-20', or nothing, got '='"),
    ("replace", "a" * 201, "row, replace: needs the id or name of an option such as 'pleated-20', or nothing, got"),
    ("fitted", "", "row, fitted: needs the id or name of the option that was fitted, such as 'pleated-20', got ''"),
    ("bought", "some", "row, bought: needs how many, 1 to 1000, and of which element, such as '2 Pleated 20', got 'so"),
    ("bought", "0", "row, bought: needs how many, 1 to 1000, and of which element, such as '2 Pleated 20', got '0'"),
    ("bought", "1001 x Pleated 20", "row, bought: needs how many, 1 to 1000, and of which element, such as '2 Pleat"),
    ("bought", "2 =", "row, bought: needs the id or name of an element such as 'Pleated 20', got '='"),
    ("uses", "nine", "row, uses: needs a plain number of dips such as '9', got 'nine'"),
    ("uses", "-1", "row, uses: needs a plain number of dips such as '9', got '-1'"),
    ("uses", "nan", "row, uses: needs a plain number of dips such as '9', got 'nan'"),
    ("uses", "\u0663", "row, uses: needs a plain number of dips such as '9', got '\u0663'"),
    ("uses", "5001", "row, uses: must be 0 to 5000 dips on that day, got '5001'"),
    ("flwo", "22 L/min", "row, kind: must be flow, bucket, column, pressure, see-through, rinse, soak, fitted, "
     "replace, water, bought, uses or note, got 'flwo'"),
    ("", "", "row, kind: must be flow, bucket, column, pressure, see-through, rinse, soak, fitted, replace, water, "),
]  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "value", "told"), BAD_VALUES, ids=[f"{at} {kind}" for at, (kind, *_) in enumerate(BAD_VALUES)]
)
def test_bad_values(kind: str, value: str, told: str) -> None:
    (fault,) = faults_of(WHEN, kind, value, "x")
    assert fault.startswith(told)
    assert len(fault) < 300


BAD_NOTES = [
    ("", "row, note: needs a text, got none"),
    (" \n", "row, note: needs a text, got none"),
    ("x" * 2001, "row, note: must be at most 2000 characters long, got 2001"),
    ("a\0b", "row, note: must be text without control characters or broken ones, got 'a\\x00b'"),
    ("a\ud800b", "row, note: must be text without control characters or broken ones, got 'a\\ud800b'"),
    ("a\x85b", "row, note: must be text without control characters or broken ones, got 'a\\x85b'"),
    ("a\x1b[2Jb", "row, note: must be text without control characters or broken ones, got 'a\\x1b[2Jb'"),
]


@pytest.mark.parametrize(("note", "told"), BAD_NOTES, ids=range(len(BAD_NOTES)))
def test_bad_notes(note: str, told: str) -> None:
    assert faults_of(WHEN, "note", "", note) == (told,)


def test_all_faults_of_a_row_at_once() -> None:
    assert [fault.split(":")[0] for fault in faults_of("today", "flow", "22", "\0")] == [
        "row, when",
        "row, flow",
        "row, note",
    ]


# ---- when -------------------------------------------------------------------------------------------------------

HOUR = timedelta(hours=1)
TIMES: list[tuple[str | datetime, datetime]] = [
    ("2026-03-03T18:30+01:00", datetime(2026, 3, 3, 18, 30, tzinfo=timezone(HOUR))),
    (" 2026-03-03 18:30:05Z ", datetime(2026, 3, 3, 18, 30, 5, tzinfo=UTC)),
    ("2026-03-03T18:30:05.25-0930", datetime(2026, 3, 3, 18, 30, 5, 250000, tzinfo=timezone(-9.5 * HOUR))),
    ("2000-01-01T00:00+14:00", datetime(2000, 1, 1, tzinfo=timezone(14 * HOUR))),
    ("2100-12-31T23:59-12:00", datetime(2100, 12, 31, 23, 59, tzinfo=timezone(-12 * HOUR))),
    (datetime(2026, 3, 3, 18, 30, tzinfo=timezone(5.5 * HOUR)),) * 2,
]


@pytest.mark.parametrize(("text", "when"), TIMES, ids=range(len(TIMES)))
def test_when_keeps_its_offset(text: str | datetime, when: datetime) -> None:
    found = reading_of(text, "rinse", where="row").when
    assert (found, found.utcoffset()) == (when, when.utcoffset())


def test_without_an_offset_local_time_is_meant_and_a_day_alone_is_noon() -> None:
    """By the time zone's own rules: Berlin is an hour ahead of UTC in winter and two in summer."""
    code = (
        "from datetime import datetime\nfrom filtration.readings.reading import cells, reading_of\n"
        "for when in ('2026-01-15', '2026-07-15 08:00', datetime(2026, 7, 15, 8)):\n"
        "    print(cells(reading_of(when, 'rinse', where='row'))[0])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "TZ": "CET-1CEST,M3.5.0,M10.5.0/3"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.split() == [
        "2026-01-15T12:00:00+01:00",
        "2026-07-15T08:00:00+02:00",
        "2026-07-15T08:00:00+02:00",
    ]


NO_TIMES = [
    "", "today", "3 March 2026", "03/03/2026", "20260303", "2026-W10-2", "2026-03", "2026-03-03T18", "2026-03-03T18:3",
    "2026-03-03T18:30:05,5", "2026-03-03T18:30 CET", "2026-03-03T18:30+1", "2026-03-03T18:30:00.1234567",
    "2026-03-03T18:30+01:00:30", "2026-03-03\0", "\uff12026-03-03", "2026-03-03T18:30\n+01:00", "12026-03-03",
]  # fmt: skip


@pytest.mark.parametrize("text", NO_TIMES)
def test_what_is_no_time(text: str) -> None:
    (fault,) = faults_of(text, "rinse")
    need = "row, when: needs a day or a time such as '2026-03-03' or '2026-03-03 18:30+01:00', got "
    assert fault == need + repr(text.strip())


@pytest.mark.parametrize(
    "text", ["2026-02-29", "2026-13-01", "2026-03-03 24:00", "2026-03-03 18:30+25:00", "0000-01-01"]
)
def test_what_is_no_time_of_the_calendar(text: str) -> None:
    (fault,) = faults_of(text, "rinse")
    assert fault.endswith(f"got '{text}', which is no time of the calendar")


@pytest.mark.parametrize("text", ["1999-12-31", "2101-01-01T00:00Z", "0001-01-01", "9999-12-31"])
def test_years_no_tub_is_read_in(text: str) -> None:
    assert faults_of(text, "rinse") == (f"row, when: must be in the years 2000 to 2100, got '{text}'",)


# ---- tables -----------------------------------------------------------------------------------------------------

TWO = (
    reading_of("2026-03-03T18:30+01:00", "flow", "22 L/min", "clear", where="row"),
    reading_of("2026-03-04T08:00Z", "rinse", where="row"),
)
FULL = "when,kind,value,note\n2026-03-03T18:30+01:00,flow,22 L/min,clear\n2026-03-04 08:00Z,rinse,,\n"
WAYS = {
    "plain": FULL,
    "CRLF": FULL.replace("\n", "\r\n"),
    "byte order mark": "\ufeff" + FULL,
    "semicolons": FULL.replace(",", ";"),
    "no last line end": FULL.rstrip("\n"),
    "blank lines": "\n" + FULL.replace("\n", "\n\n,,,\n"),
    "quotes": '"when","kind","value","note"\n"2026-03-03T18:30+01:00","flow","22 L/min","clear"\n'
    '"2026-03-04 08:00Z","rinse","",""\n',
    "any order": "note,value, kind ,when\nclear,22 L/min,flow,2026-03-03T18:30+01:00\n,,rinse,2026-03-04 08:00Z\n",
    "columns left behind": "when,kind,value,note,,\n2026-03-03T18:30+01:00,flow,22 L/min,clear,,\n"
    "2026-03-04 08:00Z,rinse,,,,\n",
    "last cells left out": FULL.replace("rinse,,", "rinse"),
    "capitals": FULL.replace("rinse", "Rinse").replace("flow", "FLOW"),
}


def table(folder: Path, text: str | bytes) -> Path:
    path = folder / "tub.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


@pytest.mark.parametrize("text", WAYS.values(), ids=WAYS)
def test_ways_to_write_a_table(tmp_path: Path, text: str) -> None:
    assert load_readings(table(tmp_path, text)) == TWO


def test_value_and_note_may_be_missing(tmp_path: Path) -> None:
    """And a table without rows is a book without readings."""
    assert load_readings(table(tmp_path, "when,kind\n2026-03-04 08:00Z,rinse\n")) == TWO[1:]
    assert load_readings(table(tmp_path, "kind;when\r\n")) == ()


HEAD = "when,kind,value,note\n"
ROW = "2026-03-03,flow,22 L/min,\n"
TABLES: list[tuple[str | bytes, list[str]]] = [
    ("", ["tub.csv: is empty; its first line names the columns when, kind, value, note"]),
    ("\n,,\n", ["tub.csv: is empty; its first line names the columns when, kind, value, note"]),
    ("when,kind,valeu\n", ["tub.csv: column 'valeu' is unknown; the nearest is 'value'"]),
    ("when,kind,,note\n", ["tub.csv: column '' is unknown; there are 'when', 'kind', 'value', 'note'"]),
    ("when,kind,note,note\n", ["tub.csv: names the column note twice"]),
    ("value\n", ["tub.csv: has no column when", "tub.csv: has no column kind"]),
    (b"when,kind\nT\xfc,flow\n", ["tub.csv: is not UTF-8 text, see line 2; save it as UTF-8"]),
    (b"x" * 20_000_001, ["tub.csv: is 20 MB, more than the 20 MB allowed; it was not read"]),
    (HEAD + ROW + '2026-03-03,note,,"open\n' + ROW, ["tub.csv, line 3: cannot be split into cells; see its quotation"]),
    (HEAD + '2026-03-03,note,,"a"b\n', ["tub.csv, line 2: cannot be split into cells; see its quotation marks"]),
    (HEAD + f"2026-03-03,note,,{'x' * 200_000}\n", ["tub.csv, line 2: cannot be split into cells; see its quotation"]),
    (HEAD + f"2026-03-03,note,,{'x' * 3000}\n", ["tub.csv, line 2, note: must be at most 2000 characters long, got"]),
    (HEAD + ROW + "2026-03-03,flow,2,5 L/min,\n", ["tub.csv, line 3: has 5 cells, the first line has 4"]),
    ("when,kind,,\n2026-03-03,rinse,,x\n", ["tub.csv, line 2: has 'x' in a column without a name"]),
    (HEAD + "2026-03-03,uses,9,,\n", ["tub.csv, line 2: has 5 cells, the first line has 4"]),
    (HEAD.replace(",", ";") + "2026-03-03;flow;2,5 L/min;\n", ["tub.csv, line 2, flow: needs a flow such as '22 L"]),
    (HEAD + "2026-03-03\n", ["tub.csv, line 2, kind: must be flow, bucket"]),
    ("value,kind,when\n3 m\n", ["tub.csv, line 2, when: needs a day", "tub.csv, line 2, kind: must be flow, bucket"]),
    (HEAD + "2026-03-03,flow\0,,\n", ["tub.csv, line 2, kind: must be flow, bucket"]),
    (
        HEAD + '2026-03-03,note,,"two\nlines"\n\n2026-03-03,rinse,x,\n1999-01-01,flow,3,\n',
        [
            "tub.csv, line 5, rinse: takes no value, got 'x'",
            "tub.csv, line 6, when: must be in the years 2000 to 2100, got '1999-01-01'",
            "tub.csv, line 6, flow: needs a flow such as '22 L/min', got '3' without a unit",
        ],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "told"), TABLES, ids=range(len(TABLES)))
def test_tables_with_faults(tmp_path: Path, text: str | bytes, told: list[str]) -> None:
    """Every fault with its file and the line its row begins on."""
    with pytest.raises(InputError) as error:
        load_readings(table(tmp_path, text))
    faults = error.value.faults
    assert len(faults) == len(told)
    assert all(fault.startswith(start) for fault, start in zip(faults, told, strict=True))


def test_very_many_faults(tmp_path: Path) -> None:
    with pytest.raises(InputError) as error:
        load_readings(table(tmp_path, HEAD + "x,x,x,x\n" * 500))
    assert len(error.value.faults) == 101
    assert error.value.faults[-1] == "tub.csv: has more faults than these 100"


def test_more_rows_than_allowed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("filtration.readings.csv_file.MOST_ROWS", 2)
    assert len(load_readings(table(tmp_path, HEAD + ROW * 2))) == 2
    with pytest.raises(InputError, match=r"^tub.csv: has more than the 2 rows allowed$"):
        load_readings(table(tmp_path, HEAD + ROW * 3))
    with pytest.raises(
        InputError, match=r"would be more than the 2 rows and 20 MB that are read back; nothing was wri"
    ):
        readings_to_csv((*TWO, *TWO), tmp_path / "out.csv")
    assert not (tmp_path / "out.csv").exists()


@pytest.mark.parametrize("path", ["none.csv", ".", "/dev/zero"])
def test_what_is_no_file(tmp_path: Path, path: str) -> None:
    with pytest.raises(InputError, match=r": (there is no such file|is a folder, not a file|is no ordinary file)$"):
        load_readings(tmp_path / path)


# ---- writing ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("note", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_comes_back(tmp_path: Path, note: str) -> None:
    kept = one("rinse", "", note)
    path = tmp_path / "out.csv"
    readings_to_csv([kept], path)
    assert rows_of(load_readings(path)) == [cells(kept)]


@pytest.mark.parametrize("note", HOSTILE, ids=range(len(HOSTILE)))
def test_no_cell_is_a_formula(note: str) -> None:
    """Read by a plain reader of CSV, no cell begins as a spreadsheet's formula does (OWASP, CSV injection)."""
    readings = [one("rinse", "", note), one("flow", "+22 L/min")]
    rows = list(csv.reader(io.StringIO(csv_of(readings), newline="")))
    assert [len(row) for row in rows] == [4, 4, 4]
    assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d")) for row in rows for cell in row)


def test_ordinary_text_is_written_as_it_is(tmp_path: Path) -> None:
    """An apostrophe that hides nothing is neither added nor taken away."""
    assert "'twas dirty" in csv_of([one("note", "", "'twas dirty")]).split(",")[-1]
    (found,) = load_readings(table(tmp_path, HEAD + "2026-03-03,note,,'twas dirty\n"))
    assert found.note == "'twas dirty"


@given(st.lists(READINGS, max_size=8).map(tuple))
def test_out_and_in_again_is_the_same(readings: tuple[Reading, ...]) -> None:
    assert rows_of(readings_from_csv(csv_of(readings), where="tub.csv")) == rows_of(readings)


@given(READINGS)
def test_a_reading_is_made_of_its_cells(reading: Reading) -> None:
    again = reading_of(*cells(reading), where="row")
    assert (again, cells(again)) == (reading, cells(reading))


@given(st.text(max_size=200) | TEXTS)
def test_any_table_is_read_or_told(text: str) -> None:
    """Nothing but InputError, and every fault names the table."""
    for whole in (text, HEAD + text):
        faults: tuple[str, ...] = ()
        try:
            readings_from_csv(whole, where="tub.csv")
        except InputError as error:
            faults = error.faults
        assert all(fault.startswith("tub.csv") for fault in faults)


def test_a_file_that_is_there_is_kept_unless_forced(tmp_path: Path) -> None:
    path = table(tmp_path, "mine")
    with pytest.raises(InputError, match=r"tub.csv: there is a file already; nothing was written$"):
        readings_to_csv(TWO, path)
    assert path.read_text() == "mine"
    readings_to_csv(TWO, path, force=True)
    assert load_readings(path) == TWO
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("force", [False, True])
def test_never_over_what_is_no_file(tmp_path: Path, force: bool) -> None:  # noqa: FBT001 - a parameter of the test
    with pytest.raises(InputError, match=r"null: is no ordinary file; nothing was written$"):
        readings_to_csv(TWO, "/dev/null", force=force)
    with pytest.raises(InputError, match=r"is a folder, not a file; nothing was written$"):
        readings_to_csv(TWO, tmp_path, force=force)
    with pytest.raises(InputError, match=r"cannot be written \(there is no folder .*\); nothing was written$"):
        readings_to_csv(TWO, tmp_path / "none" / "out.csv", force=force)


def test_a_full_disk_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = table(tmp_path, "mine")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match=r"cannot be written \(No space left on device\); nothing was written$"):
        readings_to_csv(TWO, path, force=True)
    assert path.read_text() == "mine"
    assert list(tmp_path.iterdir()) == [path]
