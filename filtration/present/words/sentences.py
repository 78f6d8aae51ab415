"""Fixed sentences, by table and key, from the file beside this module: wording is changed there."""

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

_TABLES: Mapping[str, Mapping[str, Any]] = tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))


def single(table: str) -> Mapping[str, str]:
    """Return the sentences of a table."""
    return _TABLES[table]


def listed(table: str) -> Mapping[str, tuple[str, ...]]:
    """Return the sentences of a table whose keys hold several each."""
    return {key: tuple(several) for key, several in _TABLES[table].items()}


def named(table: str) -> Mapping[str, tuple[str, str]]:
    """Return what the keys of a table are called, and the sentence that explains each."""
    return {key: (name, what) for key, (name, what) in _TABLES[table].items()}
