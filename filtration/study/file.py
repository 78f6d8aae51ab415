"""A study file to the frozen values of a study: the edge at which everything is checked, once."""

import os
import re
import stat
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import Any, get_args

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from filtration.base.errors import InputError, nearest, shown
from filtration.study.build import study_of
from filtration.study.not_toml import why_not_toml
from filtration.study.rules import Fault, Given, Place, broken_rules
from filtration.study.tables import LISTS, TABLES, StudyFile, StudyTable
from filtration.study.values import Kind, Study

_MOST_BYTES = 1_000_000
_LONGEST_LINE = 2000
_MOST_FAULTS = 100
_LONGEST_LINE_PART = 100
_TOLD_ONCE = {
    re.compile(" one of the common sizes .*(?=, got )"): " one of those sizes",
    re.compile("; (?:known here|there) are .*"): "",
}
_NOT_READ: Mapping[type[OSError], str] = {
    FileNotFoundError: "there is no such file",
    PermissionError: "may not be read; see the permissions of the file and its folder",
}


def load_study(path: str | os.PathLike[str]) -> Study:
    """Read a study from a file.

    Parameters
    ----------
    path : str or path
        A TOML file of at most 1 MB in UTF-8.

    Returns
    -------
    Study
        Its frozen values.

    Raises
    ------
    InputError
        With every fault found, one line each.

    Examples
    --------
    >>> load_study("no such file.toml")
    Traceback (most recent call last):
    filtration.base.errors.InputError: no such file.toml: there is no such file
    """
    return study_from_dict(load_tables(path), where=_where(path))


def load_tables(path: str | os.PathLike[str]) -> dict[str, Any]:
    """Read the tables and keys of a study file, unchecked.

    Parameters
    ----------
    path : str or path
        A TOML file of at most 1 MB in UTF-8.

    Returns
    -------
    dict
        What stands in it.

    Raises
    ------
    InputError
        If it cannot be read or is no TOML.
    """
    return tables_of_text(text_of_file(Path(path), _where(path)), where=_where(path))


def _where(path: str | os.PathLike[str]) -> str:
    """Return what messages call a file."""
    return _plain(Path(path).name or str(path))


def study_from_text(text: str, *, where: str = "study.toml") -> Study:
    """Read a study from the text of a file.

    Parameters
    ----------
    text : str
        TOML.
    where : str, optional
        What messages call it.

    Returns
    -------
    Study
        Its frozen values.

    Raises
    ------
    InputError
        With every fault found, one line each; one line alone if the text is no TOML.

    Examples
    --------
    >>> study_from_text("volume = 420 L")
    Traceback (most recent call last):
    filtration.base.errors.InputError: study.toml: is not TOML at line 1, column 14: expected newline or end of \
document after a statement; text stands in quotes: volume = "420 L"
    """
    return study_from_dict(tables_of_text(text, where=where), where=where)


def study_from_dict(data: Mapping[str, Any], *, where: str = "study.toml") -> Study:
    """Read a study from the tables and keys of a file.

    Parameters
    ----------
    data : mapping
        What stands in the file, quantities as text; a key that is None counts as left out.
    where : str, optional
        What messages call it.

    Returns
    -------
    Study
        Its frozen values.

    Raises
    ------
    InputError
        With every fault found, one line each.

    Examples
    --------
    >>> try:
    ...     study_from_dict({"name": "Tub", "tub": {"volume": "3 m"}})
    ... except InputError as error:
    ...     print(error.faults[0])
    study.toml, [tub] volume: needs a volume such as '420 L', got '3 m'
    """
    if not isinstance(data, Mapping):
        raise InputError(f"{where}: needs tables and keys, got {shown(data)}")
    given, file, faults = _read(data)
    if file is not None:
        us = "gal" in str(given["tub"]["volume"]).lower()
        return replace(study_of(file, us=us), tables=given)
    lines = list(dict.fromkeys(_line(where, given, fault) for fault in _lists_once(faults)))
    more = [f"{where}: has more faults than these {_MOST_FAULTS}"] if len(lines) > _MOST_FAULTS else []
    raise InputError(*lines[:_MOST_FAULTS], *more)


def placed_faults(data: Mapping[str, Any]) -> tuple[Fault, ...]:
    """Return what is wrong with the tables and keys of a study: of each fault the place, and what is wrong there.

    Examples
    --------
    >>> placed_faults({"name": "Tub", "tub": {"volume": "3 m"}})[0]
    (('tub', 'volume'), "needs a volume such as '420 L', got '3 m'")
    """
    return tuple(_read(data)[2])


def _read(data: Mapping[str, Any]) -> tuple[dict[str, Any], StudyFile | None, Iterable[Fault]]:
    """Return tables in present words, and either the file they make or their faults in the order of the file."""
    given = in_present_words({name: _told(value) for name, value in _told(dict(data)).items()})
    faults = list(islice(broken_rules(given), _MOST_FAULTS + 1))
    try:
        file = StudyFile.model_validate(given)
        if not faults:
            return given, file, ()
    except ValidationError as error:
        details = islice(error.errors(include_url=False), _MOST_FAULTS + 1)
        faults = [fault for detail in details for fault in _faults_of(detail)] + faults
    return given, None, dict.fromkeys(sorted(faults, key=_in_file_order))


def study_json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a study file; what keys must be together is not in it.

    Examples
    --------
    >>> study_json_schema()["title"]
    'StudyFile'
    """
    return StudyFile.model_json_schema()


def in_present_words(tables: dict[str, Any]) -> dict[str, Any]:
    """Return tables with every kind of element as it is said now: without capitals, spun for the depth of old files."""
    rows = tables.get("elements")
    return tables | {"elements": [_in_present_words(row) for row in rows]} if isinstance(rows, list) else tables


def _in_present_words(row: Any) -> Any:  # noqa: ANN401 - whatever stands in a file
    kind = row.get("kind") if isinstance(row, dict) else None
    word = kind.strip().lower() if isinstance(kind, str) else ""
    now = "spun" if word == "depth" else word
    return row | {"kind": now} if now in get_args(Kind) and now != kind else row


def _told(value: Any) -> Any:  # noqa: ANN401 - whatever stands in a file
    """Return a table, or a list of tables, without the keys that are None; anything else as it is."""
    if isinstance(value, dict):
        return {key: inner for key, inner in value.items() if inner is not None}
    if isinstance(value, list):
        return [_told(row) if isinstance(row, dict) else row for row in value]
    return value


def text_of_file(path: Path, where: str, most_bytes: int = _MOST_BYTES) -> str:
    """Return the text of an ordinary file, a byte order mark taken off.

    Parameters
    ----------
    path : Path
        The file.
    where : str
        What messages call it.
    most_bytes : int, optional
        A larger file is refused unread.

    Raises
    ------
    InputError
        If it cannot be read, is too large, or is no UTF-8.
    """
    try:
        return _bytes_of(path, most_bytes).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = error.object.count(b"\n", 0, error.start) + 1
        raise InputError(f"{where}: is not UTF-8 text, see line {line}; save it as UTF-8") from None
    except OSError as error:
        other = f"cannot be read: {error.strerror or 'the system gives no reason'}"
        raise InputError(f"{where}: {_NOT_READ.get(type(error), other)}") from None
    except InputError as error:
        raise InputError(f"{where}: {error}") from None
    except ValueError:
        raise InputError(f"{where}: is no name a file can have") from None


def _bytes_of(path: Path, most_bytes: int) -> bytes:
    found = path.stat()  # before opening: a pipe or a device would keep us waiting
    if not stat.S_ISREG(found.st_mode):
        raise InputError("is a folder, not a file" if stat.S_ISDIR(found.st_mode) else "is no ordinary file")
    if found.st_size > most_bytes:
        size, allowed = (f"{each / 1e6:.3g} MB" for each in (found.st_size, most_bytes))
        raise InputError(f"is {size}, more than the {allowed} allowed; it was not read")
    with path.open("rb") as file:
        return file.read(most_bytes + 1)


def tables_of_text(text: str, *, where: str = "study.toml") -> dict[str, Any]:
    r"""Read the tables and keys of a study's text, unchecked.

    Parameters
    ----------
    text : str
        TOML of at most a million characters, in lines of at most 2,000.
    where : str, optional
        What messages call it.

    Returns
    -------
    dict
        What stands in it.

    Raises
    ------
    InputError
        With the one fault for which it is no TOML.

    Examples
    --------
    >>> tables_of_text("[tub]\nvolume = '420 L'")
    {'tub': {'volume': '420 L'}}
    """
    if len(text) > _MOST_BYTES:
        raise InputError(f"{where}: is {len(text) / 1e6:.3g} MB, more than the 1 MB allowed")
    if "\n" not in text:
        text = text.replace("\r", "\n")  # as very old machines end a line
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > _LONGEST_LINE:  # a key of very many parts on one line would take hours to read
            raise InputError(f"{where}: line {number} is longer than {_LONGEST_LINE} characters")
    try:
        return in_present_words(tomllib.loads(text.removeprefix("\ufeff")))
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{where}: {why_not_toml(str(error), text.splitlines())}") from None
    except RecursionError:
        raise InputError(f"{where}: is nested too deeply; a study has tables and lists of pairs") from None
    except ValueError:
        raise InputError(f"{where}: has a number of too many digits") from None


def _faults_of(detail: ErrorDetails) -> Iterator[Fault]:
    """Say in our words what pydantic found."""
    place = detail["loc"]
    match detail["type"]:
        case "value_error":
            yield from ((place, fault) for fault in detail["ctx"]["error"].faults)
        case "missing":
            yield place, f"is missing; needs {_need(place)}"
        case "extra_forbidden" | "invalid_key":
            yield place, _unknown(place)
        case "too_short":
            yield place, "needs at least one, got an empty list"
        case "too_long":
            yield place, f"must be at most {detail['ctx']['max_length']}, got more"
        case "list_type":
            yield place, f"needs tables, each under [[{place[0]}]], got {shown(detail['input'])}"
        case _:
            yield place, f"needs a table, got {shown(detail['input'])}"


def _need(place: Place) -> str:
    """Say what a missing key or table needs."""
    name = str(place[-1])
    key = _table_at(place[:-1]).key(name)
    required = () if key else (name for name, field in TABLES[name].model_fields.items() if field.is_required())
    return key.need if key else f"at least {', '.join(required)}"


def _table_at(place: Place) -> type[StudyTable]:
    return TABLES.get(str(place[0]), StudyFile) if place else StudyFile


def _heading(table: str) -> str:
    return f"[[{table}]]" if table in LISTS else f"[{table}]"


def _unknown(place: Place) -> str:
    """Say which known key is nearest to an unknown one."""
    word, table = str(place[-1]), _table_at(place[:-1])
    homes = [_heading(name) for name, other in TABLES.items() if word in other.model_fields and other is not table]
    near = nearest(word, table.model_fields)
    if homes and near != word:
        return f"is no key here; it belongs under {' or '.join(homes)}"
    known = [_heading(name) if table is StudyFile and name in TABLES else name for name in table.model_fields]
    if near is None:
        return f"is unknown; known here are {', '.join(known)}"
    return f"is unknown; the nearest known one is {known[list(table.model_fields).index(near)]}"


def _plain(text: str) -> str:
    """Return a text on one line, cut short, as it is where that is harmless and else escaped."""
    return text if text and text.isprintable() and len(text) <= _LONGEST_LINE_PART else shown(text)


def _lists_once(faults: Iterable[Fault]) -> Iterator[Fault]:
    """Yield faults in which a list of what is allowed stands the first time only."""
    told: set[str] = set()
    for place, message in faults:
        short = message
        for allowed, instead in _TOLD_ONCE.items():
            found = allowed.search(message)
            if found and found[0] in told:
                short = allowed.sub(instead, message)
            told |= {found[0]} if found else set()
        yield place, short


def _line(where: str, given: Given, fault: Fault) -> str:
    """Return one line: file, table and key, then what is wrong."""
    place, message = fault
    return f"{where}, {_named(place, given)}: {message}" if place else f"{where}: {message}"


def _named(place: Place, given: Given) -> str:
    """Return a place in words: [[elements]] 2 (Foam 20 ppi) rating."""
    top, rest = str(place[0]), place[1:]
    is_table = not rest and isinstance(given.get(top), dict | list)
    words = [_heading(top) if top in TABLES else f"[{_plain(top)}]" if is_table else _plain(top)]
    if rest and isinstance(rest[0], int):
        row = given[top][rest[0]]
        name = row.get("name") if isinstance(row, dict) else None
        called = f" ({_plain(name)})" if isinstance(name, str) and name.strip() else ""
        words.append(f"{rest[0] + 1}{called}")
        rest = rest[1:]
    return " ".join(words + [_plain(str(word)) for word in rest])


def _in_file_order(fault: Fault) -> tuple[int, int, int]:
    """Return what sorts faults as the file's tables, entries and keys come."""
    place = fault[0] or ("",)
    top, rest = str(place[0]), place[1:]
    tops, keys = [*StudyFile.model_fields], [*TABLES[top].model_fields] if top in TABLES else []
    entry = next((part for part in rest[:1] if isinstance(part, int)), -1)
    key = rest[-1] if rest else ""
    return (_index(tops, top), entry, _index(keys, key))


def _index(words: Sequence[object], word: object) -> int:
    return words.index(word) if word in words else len(words)
