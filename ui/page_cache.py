"""The one door from the pages to the library: answers are kept, and a fault becomes a readable line."""

import copy
import tomllib
from collections.abc import Callable, Mapping
from contextvars import ContextVar
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from filtration import Comparison, InputError, NoAnswerError, Study, compare, study_from_text
from filtration.places import demo_file, demo_names
from filtration.present import charts
from filtration.study_file import study_from_dict

Progress = Callable[[float, str], None]
Edits = tuple[tuple[str, str, str | float], ...]
"""What the page changes in a file: table, key, and what stands there instead."""

DRAWS = 256
"""How often what is not known exactly is drawn: enough for whole cases of twenty, and quick enough to play."""

_KEPT = 64
_teller: ContextVar[Progress | None] = ContextVar("teller", default=None)


@lru_cache
def demos() -> dict[str, str]:
    """Return the demo studies, their name by that of their file."""
    return {name: str(tomllib.loads(demo_text(name))["name"]) for name in demo_names()}


@lru_cache
def demo_text(name: str) -> str:
    """Return the text of a demo study."""
    return demo_file(name).read_text(encoding="utf-8")


def text_of(data: bytes) -> str:
    """Return the text of a file somebody brings.

    Raises
    ------
    InputError
        If it is no UTF-8 text.
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("is not UTF-8 text; save it as UTF-8") from None


@lru_cache(maxsize=_KEPT)
def as_written(text: str) -> Study:
    """Return the study a text holds; raises InputError with every fault."""
    return study_from_text(text)


@lru_cache(maxsize=_KEPT)
def _tables(text: str) -> dict[str, Any]:
    return tomllib.loads(text)


def tables(text: str) -> dict[str, Any]:
    """Return the tables and keys of a study's text, to read or to change."""
    return copy.deepcopy(_tables(text))


@lru_cache(maxsize=_KEPT)
def edited(text: str, edits: Edits) -> Study:
    """Return the study with the page's changes; raises InputError with every fault."""
    data = tables(text)
    for table, key, value in edits:
        data.setdefault(table, {})[key] = value
    return study_from_dict(data)


@lru_cache(maxsize=_KEPT)
def _compared(text: str, edits: Edits) -> Comparison:
    return compare(edited(text, edits), draws=DRAWS, progress=_teller.get())


def answer(text: str, edits: Edits, progress: Progress) -> Comparison:
    """Return the ranked answer, told of its progress only where it is not known yet."""
    token = _teller.set(progress)
    try:
        return _compared(text, edits)
    finally:
        _teller.reset(token)


@lru_cache(maxsize=_KEPT)
def pictures(text: str, edits: Edits, ink: str | None) -> tuple[Mapping[str, str], tuple[str, ...]]:
    """Return the charts of an answer, each as JSON or as the words why there is none, and the options they lack."""
    comparison, display = _compared(text, edits), replace(charts.METRIC, ink=ink)
    drawn, missing = dict[str, str](), dict[str, None]()
    for name, picture in charts.PICTURES.items():
        missing.update(dict.fromkeys(picture.left_out(comparison)))
        try:
            drawn[name] = picture.draw(comparison, display).to_json(indent=None)
        except NoAnswerError as nothing:
            drawn[name] = f"No picture: {nothing}."
    return MappingProxyType(drawn), tuple(missing)


def told(error: InputError) -> list[str]:
    """Return an error's faults, one readable line each, without a file name that says nothing here."""
    return [fault.removeprefix("study.toml, ").removeprefix("study.toml: ") for fault in error.faults]
