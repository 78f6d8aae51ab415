"""Readings as a CSV file: the same rows out as in, whatever stands in them."""

import csv
import io
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from filtration.base.errors import InputError, known_ones, shown
from filtration.base.formula_safe import hidden, unhidden
from filtration.base.whole_file import write_whole
from filtration.readings.reading import Reading, cells, reading_of
from filtration.study.file import text_of_file

if TYPE_CHECKING:
    import _csv

COLUMNS = ("when", "kind", "value", "note")
MOST_ROWS = 100_000
_NEEDED = {"when", "kind"}
_MOST_BYTES = 20_000_000
_MOST_FAULTS = 100


def load_readings(path: str | os.PathLike[str]) -> tuple[Reading, ...]:
    """Read a table of readings from a file.

    Parameters
    ----------
    path : str or path
        A CSV file of at most 20 MB and 100,000 rows in UTF-8.

    Returns
    -------
    tuple of Reading
        Rows in the order of the file.

    Raises
    ------
    InputError
        With every fault found, one line each.
    """
    file = Path(path)
    return readings_from_csv(text_of_file(file, file.name, _MOST_BYTES), where=file.name)


def readings_from_csv(text: str, *, where: str) -> tuple[Reading, ...]:
    r"""Read a table of readings from its text.

    Parameters
    ----------
    text : str
        A first line with the columns when and kind, and value and note if wanted, in any order; then a reading a line.
        Cells stand between commas, or semicolons where the first line has those; blank lines are left out. A cell
        that ``readings_to_csv`` kept from being a formula is read as it was. Of rows of one time, and of those of a day
        that give none, what was read counts before what was done.
    where : str
        What messages call the table.

    Returns
    -------
    tuple of Reading
        Rows in order.

    Raises
    ------
    InputError
        With every fault found, one line each, at most a hundred.

    Examples
    --------
    >>> [row.value for row in readings_from_csv("kind;when;value\nflow;2026-03-03;22 L/min", where="tub.csv")]
    ['22 L/min']
    """
    header = text.lstrip().split("\n", 1)[0]
    delimiter = ";" if ";" in header and "," not in header else ","
    readings: list[Reading] = []
    faults: list[str] = []
    rows = _rows(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True), where, faults)
    columns = next((_columns(row, where) for _, row in rows), None)
    for line, row in rows:
        if len(readings) == MOST_ROWS:
            faults.append(f"{where}: has more than the {MOST_ROWS} rows allowed")
            break
        try:
            readings.append(_reading(row, columns or (), f"{where}, line {line}"))
        except InputError as error:
            faults += error.faults
        if len(faults) > _MOST_FAULTS:
            faults[_MOST_FAULTS:] = [f"{where}: has more faults than these {_MOST_FAULTS}"]
            break
    if columns is None and not faults:
        faults.append(f"{where}: is empty; its first line names the columns {', '.join(COLUMNS)}")
    if faults:
        raise InputError(*faults)
    return tuple(readings)


def readings_to_csv(readings: Sequence[Reading], path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Write readings to a CSV file, whole or not at all.

    Parameters
    ----------
    readings : sequence of Reading
        Rows in order.
    path : str or path
        Where to.
    force : bool, optional
        Whether to replace a file that is there.

    Raises
    ------
    InputError
        If there is a file already, if it cannot be written, or if ``load_readings`` would not take it back.

    Notes
    -----
    Values and notes stand as ``formula_safe.hidden`` writes them, so that every text comes back and none is worked out.
    """
    file = Path(path)
    data = csv_of(readings).encode()
    if len(readings) > MOST_ROWS or len(data) > _MOST_BYTES:
        allowed = f"{MOST_ROWS} rows and {_MOST_BYTES / 1e6:.3g} MB that are read back"
        raise InputError(f"{file}: would be more than the {allowed}; nothing was written")
    write_whole(file, data, force=force)


def csv_of(readings: Sequence[Reading]) -> str:
    r"""Return readings as the text of a CSV file: between commas, lines ending as RFC 4180 has it.

    Examples
    --------
    >>> csv_of([reading_of("2026-03-03T18:30Z", "note", note="=1+1", where="row")])
    "when,kind,value,note\r\n2026-03-03T18:30:00+00:00,note,,'=1+1\r\n"
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for reading in readings:
        when, kind, *texts = cells(reading)
        writer.writerow((when, kind, *map(hidden, texts)))
    return out.getvalue()


def _rows(reader: "_csv.Reader", where: str, faults: list[str]) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows that are not blank, each with the line it begins on; what ends them early goes to the faults."""
    line = 1
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                yield line, row
            line = reader.line_num + 1
    except csv.Error:
        faults.append(f"{where}, line {line}: cannot be split into cells; see its quotation marks")


def _columns(row: Sequence[str], where: str) -> list[str]:
    """Return the names of the columns; spreadsheets leave nameless ones behind at the end."""
    columns = [cell.strip() for cell in row]
    last = max(at for at, name in enumerate(columns) if name)
    unknown = [name for name in columns[: last + 1] if name not in COLUMNS]
    faults = [f"{where}: column {shown(name)} is unknown; {known_ones(name, COLUMNS)}" for name in unknown]
    faults += [f"{where}: names the column {name} twice" for name in COLUMNS if columns.count(name) > 1]
    faults += [f"{where}: has no column {name}" for name in COLUMNS if name in _NEEDED and name not in columns]
    if faults:
        raise InputError(*faults)
    return columns


def _reading(row: Sequence[str], columns: Sequence[str], where: str) -> Reading:
    if len(row) > len(columns):
        raise InputError(f"{where}: has {len(row)} cells, the first line has {len(columns)}")
    named = dict(zip(columns, row, strict=False))  # a spreadsheet may leave out the last ones of a line
    if named.get("", "").strip():
        raise InputError(f"{where}: has {shown(named[''])} in a column without a name")
    texts = {name: unhidden(named.get(name, "")) for name in ("value", "note")}
    return reading_of(named.get("when", ""), named.get("kind", "").strip().lower(), **texts, where=where)
