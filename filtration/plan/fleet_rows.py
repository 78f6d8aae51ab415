"""Many tubs read: a folder of studies, or a table whose rows override a template."""

import csv
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from filtration.base.errors import InputError
from filtration.readings.reading import Reading
from filtration.study.file import load_tables, text_of_file
from filtration.study.overrides import filled, value_of_text

if TYPE_CHECKING:
    import _csv

Templates = Callable[[str], Mapping[str, Any]]
_MOST_TABLE_BYTES = 50_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FleetRow:
    """One row: where it stands, its study and readings, or the faults that keep it from being one."""

    where: str
    tables: Mapping[str, Any] | None = None
    readings: tuple[Reading, ...] = ()
    faults: tuple[str, ...] = ()


def _table(text: str, where: str) -> tuple[list[str], Iterator[tuple[int, list[str]]]]:
    """Return the columns of a table of tubs, and its further lines with their numbers."""
    if "\0" in text:
        raise InputError(f"{where}: holds characters no table has")
    header = text.split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=";" if ";" in header and "," not in header else ",")
    columns = [column.strip() for column in _cells(reader, where) or []]
    if not any(columns):
        raise InputError(f"{where}: is empty; its first line names keys such as name, tub.volume, tub.uses_per_day")
    named = [column for column in columns if column]
    if len(set(named)) < len(named):
        raise InputError(f"{where}: names a column twice")
    lines = ((reader.line_num, cells) for cells in iter(lambda: _cells(reader, where), None))
    return columns, ((number, cells) for number, cells in lines if any(cell.strip() for cell in cells))


def _cells(reader: "_csv.Reader", where: str) -> list[str] | None:
    """Return the cells of the next line; None after the last."""
    try:
        return next(reader, None)
    except csv.Error:
        at = f"{where}, line {reader.line_num}"
        raise InputError(f"{at}: has a cell longer than any; see its quotation marks") from None


def _tub(
    columns: Sequence[str], cells: Sequence[str], template_of: Callable[[str], Mapping[str, Any]]
) -> dict[str, Any]:
    """Return the tables of one line: its template with the keys it overrides."""
    if len(cells) != len(columns):
        raise InputError(f"has {len(cells)} cells, the first line has {len(columns)}")
    row = dict(zip(columns, map(str.strip, cells), strict=True))
    template = without_id(template_of(row.pop("study", "")))
    return filled(template, {key: cell for key, cell in row.items() if key and cell}, value_of_text)


def without_id(template: Mapping[str, Any]) -> dict[str, Any]:
    """Return a template without its own id: each tub made of it is another."""
    return {key: value for key, value in template.items() if key != "id"}


def row_of(where: str, read: Callable[[], Mapping[str, Any]], before: str) -> FleetRow:
    """Return a row of a fleet with the tables that are read for it, or with its faults and what stands before each."""
    try:
        return FleetRow(where=where, tables=read())
    except InputError as error:
        return FleetRow(where=where, faults=tuple(before + fault for fault in error.faults))


def rows_of_text(text: str, where: str, template_of: Templates, *, named: bool = False) -> list[FleetRow]:
    """Return the tubs in the text of a table.

    Parameters
    ----------
    text, where : str
        The table (CSV), and what messages call it.
    template_of : callable
        Gives the tables and keys that a row overrides, by what its column ``study`` names: nothing where it has none.
    named : bool, optional
        There is no template but those that a column ``study`` names.

    Returns
    -------
    list of FleetRow
        Rows in order; a wrong one carries its faults.

    Raises
    ------
    InputError
        If it is no table, or holds no tub.
    """
    columns, lines = _table(text, where)
    if named and "study" not in columns:
        raise InputError(f"{where}: needs a template, by --template STUDY or a column 'study' of file names")
    places = ((f"{where}, line {number}", cells) for number, cells in lines)
    rows = [row_of(at, partial(_tub, columns, cells, template_of), f"{at}: ") for at, cells in places]
    if not rows:
        raise InputError(f"{where}: holds no tub; every line after the first is one")
    return rows


def read_fleet(path: Path, template: Path | None = None) -> list[FleetRow]:
    """Read a folder of studies or a table of tubs.

    Parameters
    ----------
    path : Path
        A folder of TOML files, or a CSV file: its first line names keys of a study (``name``, ``tub.volume``,
        ``elements.Pleated 20.price``), each further line is a tub; an empty cell leaves the template's value.
    template : Path, optional
        The study that the rows of a table override; a column ``study`` wins.

    Returns
    -------
    list of FleetRow
        Rows in order; a wrong one carries its faults.

    Raises
    ------
    InputError
        If there is nothing to read.
    """

    @cache
    def template_of(name: str) -> Mapping[str, Any]:
        base = path.parent / name if name else template
        if base is None:
            raise InputError("names no study and there is no template")
        return load_tables(base)

    if not path.is_dir():
        text = text_of_file(path, path.name, _MOST_TABLE_BYTES)
        return rows_of_text(text, path.name, template_of, named=template is None)
    try:
        files = sorted(file for file in path.iterdir() if file.suffix == ".toml")
    except OSError as error:
        raise InputError(f"{path.name}: cannot be read: {error.strerror}") from None
    if not files:
        raise InputError(f"{path.name}: holds no study; studies are files that end in .toml")
    return [row_of(file.name, partial(load_tables, file), "") for file in files]
