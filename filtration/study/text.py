"""Tables and keys of a study, written as the text of a file."""

import json
import re
from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+")


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
