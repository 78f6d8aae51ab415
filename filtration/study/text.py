"""Tables and keys of a study, written as the text of a file, anew or into one that is there."""

import json
import re
import secrets
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import date, datetime, time
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_HEADING = re.compile(r"\s*\[\[?\s*([A-Za-z0-9_-]+)\s*\]\]?\s*(?:#.*)?")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=")
_Rows = list[Mapping[str, Any]]
_Block = tuple[str, list[str]]  # a heading's name, and the lines under it


def text_of_tables(data: Mapping[str, Any]) -> str:
    """Write tables and keys as TOML.

    Parameters
    ----------
    data : mapping
        What a TOML parser gives: text, numbers, flags, days, lists and tables. A key that is None is left out.

    Returns
    -------
    str
        A text that parses to the same; comments and layout of a file it came from are not in it.

    Examples
    --------
    >>> print(text_of_tables({"name": "Tub", "tub": {"volume": "420 L"}}).strip())
    name = "Tub"
    <BLANKLINE>
    [tub]
    volume = "420 L"
    """
    return "\n".join(_lines(data, ())).strip() + "\n"


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else _text(name)


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: object) -> str:
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, date | datetime | time):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(key)} = {_value(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(inner) for inner in value) + "]"
    return repr(value)


def _lines(table: Mapping[str, Any], at: tuple[str, ...]) -> list[str]:
    lines, below = [], list[str]()
    for key, value in table.items():
        place = (*at, key)
        heading = ".".join(map(_key, place))
        if value is None:
            continue
        if isinstance(value, Mapping):
            below += ["", f"[{heading}]", *_lines(value, place)]
        elif isinstance(value, list) and value and all(isinstance(row, Mapping) for row in value):
            for row in value:
                below += ["", f"[[{heading}]]", *_lines(row, place)]
        else:
            lines.append(f"{_key(key)} = {_value(value)}")
    return lines + below


def new_id() -> str:
    """Return an id for a study, which no other one has."""
    return f"tub-{secrets.token_hex(4)}"


def text_with(text: str, data: Mapping[str, Any]) -> str:
    r"""Write tables and keys into the text of a study file.

    Parameters
    ----------
    text : str
        TOML.
    data : mapping
        What the text is to hold; a key that is None is left out.

    Returns
    -------
    str
        A text that parses to that, with the line ends of the one given, and where its layout is a plain one with its
        comments and order.

    Examples
    --------
    >>> print(text_with('[tub]\nvolume = "420 L"  # timed', {"tub": {"volume": "400 L", "uses_per_day": 6}}).strip())
    [tub]
    volume = "400 L"  # timed
    uses_per_day = 6
    """
    new = text_of_tables(data)
    wanted = tomllib.loads(new)
    with suppress(tomllib.TOMLDecodeError):
        kept = "\n".join(_rewritten(_blocks(text.splitlines()), wanted)).strip("\n") + "\n"
        if tomllib.loads(kept) == wanted:
            new = kept
    return new.replace("\n", "\r\n") if "\r\n" in text else new


def _rewritten(blocks: list[_Block], data: Mapping[str, Any]) -> Iterator[str]:
    """Yield the lines of a text's blocks with what differs written anew."""
    inline = _held(blocks[0][1])
    wanted: dict[str, _Rows] = {"": [{key: value for key, value in data.items() if key in inline or not _rows(value)}]}
    wanted |= {name: rows for name, value in data.items() if name not in inline and (rows := _rows(value))}
    for place, (heading, lines) in enumerate(blocks):
        rows = wanted.get(heading, [])
        behind = [each for name, each in blocks[place + 1 :] if name == heading]
        row = _row_for(lines, rows, behind)
        if row is None:  # remarks at its end may belong to what follows
            yield from lines[max((end for _, _, end in _spans(lines)), default=1) :]
        else:
            rows.remove(row)
            yield from _block_with(lines, row)
        if not behind:
            yield from _headed(data, heading, rows)
            wanted.pop(heading, None)
    for heading, rows in wanted.items():
        yield from _headed(data, heading, rows)


def _rows(value: object) -> _Rows:
    """Return the tables under a heading; none of what is no table."""
    rows: list[Any] = value if isinstance(value, list) else [value]
    return rows[:] if all(isinstance(row, Mapping) for row in rows) else []


def _row_for(lines: list[str], rows: _Rows, behind: list[list[str]]) -> Mapping[str, Any] | None:
    """Return the row a block stands for: of as many as there are blocks the next one, else the one of its name."""
    if len(rows) == 1 + len(behind):
        return rows[0]
    name = _held(lines).get("name")
    return next((row for row in rows if row.get("name") == name), None)


def _headed(data: Mapping[str, Any], heading: str, rows: _Rows) -> Iterator[str]:
    for row in rows if heading else ():
        yield from _lines({heading: [row] if isinstance(data[heading], list) else row}, ())


def _blocks(lines: list[str]) -> list[_Block]:
    """Return the lines under each heading, it first; those before any are under none, below an empty line."""
    blocks: list[_Block] = [("", [""])]
    for line in lines:
        if heading := _HEADING.fullmatch(line):
            blocks.append((heading[1], []))
        blocks[-1][1].append(line)
    return blocks


def _spans(lines: list[str]) -> Iterator[tuple[str, int, int]]:
    """Yield each key of a block with its first line and the one after its last."""
    start = 1
    while start < len(lines):
        end = start + 1
        if key := _KEY.match(lines[start]):
            while end < len(lines) and not _held(["", *lines[start:end]]):
                end += 1
            yield key[1], start, end
        start = end


def _held(lines: list[str]) -> dict[str, Any]:
    """Return what a block holds; nothing where it is not whole."""
    try:
        return tomllib.loads("\n".join(lines[1:]))
    except tomllib.TOMLDecodeError:
        return {}


def _block_with(lines: list[str], row: Mapping[str, Any]) -> Iterator[str]:
    """Yield the lines of a block with what differs in a row written anew, what is new behind its last key."""
    held, done = _held(lines), 1
    yield lines[0]
    for key, start, end in _spans(lines):
        yield from lines[done:start]
        if key in row and held.get(key) == row[key]:
            yield from lines[start:end]
        elif key in row:
            yield f"{key} = {_listed(row[key])}{_remark(lines[start]) if end == start + 1 else ''}"
        done = end
    yield from (f"{key} = {_value(value)}" for key, value in row.items() if key not in held)
    yield from lines[done:]


def _listed(value: object) -> str:
    """Return a value as a file has it, a list of tables with a line for each."""
    if isinstance(value, list) and value and _rows(value):
        return "\n".join(("[", *(f"  {_value(row)}," for row in value), "]"))
    return _value(value)


def _remark(line: str) -> str:
    """Return the remark at the end of a line, with the blanks before it."""
    marks = (at for at, letter in enumerate(line) if letter == "#" and _held(["", line[:at]]))
    at = next(marks, len(line))
    return line[len(line[:at].rstrip()) :]
