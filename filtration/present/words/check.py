"""What a good study leans on, in words; and the words that a JSON Schema of study files carries."""

import re
from collections.abc import Mapping
from functools import cache
from typing import Any

from filtration.answers.assumptions import Assumption, Assumptions
from filtration.base.places import template_text
from filtration.present.words.phrases import capital, due, money, on_pump
from filtration.present.words.sentences import single
from filtration.study.tables import LISTS, TABLES

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_TELLING = 0.01  # a smaller move is not worth a line of its own
_SECTION = re.compile(r"(?:# )?\[{1,2}([a-z_]+)\]{1,2}(?::.*)?")
_COMMENTED = re.compile(r"(?:# *)?([a-z_0-9]+) = .+? {2,}# (.+)")

METHOD = single("asides")["assumptions tried"]
_HINTS = single("hints")


@cache
def _template_hints() -> Mapping[str, str]:
    """Return how to find out each key, from the comments of the file a new study starts from."""
    hints: dict[str, str] = {}
    table = ""
    for line in template_text().splitlines():
        if heading := _SECTION.fullmatch(line.strip()):
            table = heading[1]
        elif found := _COMMENTED.fullmatch(line):
            key = f"{table}.{found[1]}" if table else found[1]
            choices, _, told = found[2].rpartition(": ") if " | " in found[2] else ("", "", found[2])
            hints.setdefault(key, told.strip(" .") if choices or " | " not in told else "")
    return hints


def hint(key: str) -> str:
    """Return how to find out a key of the study file, with its table's in front, or an unknown of the model.

    Examples
    --------
    >>> hint("tub.volume")
    'time how long a hose fills a bucket, then how long it fills the tub'
    """
    key = key.replace("pumps.", "pump.")
    return _HINTS.get(key) or _template_hints().get(key, "")


def headline(found: Assumptions) -> str:
    """Return in plain words that a study is good, and what its assumptions are ranked by."""
    option = found.option
    which = "the option to take" if option.meets_needs else "the option nearest to your needs"
    said = sum(not each.of_model for each in found.assumptions)
    return (
        f"No faults. It leans on {said} values that the study does not give, and on {len(found.assumptions) - said} "
        "that nobody knows exactly. How far each moves the first service and the "
        f"yearly cost of {which}, {on_pump(option.name, option.pump, found.study)}, now "
        f"{_figures(found.days, found.cost, found)}; the most telling first:"
    )


def lines(found: Assumptions) -> list[str]:
    """Return the assumptions that move the answer, the most telling first, with how to find each out."""
    return [_line(each, found) for each in found.assumptions if each.influence >= _TELLING]


def quiet(found: Assumptions) -> str:
    """Return the assumptions that hardly move the answer; nothing where all of them do."""
    few = [each.line for each in found.assumptions if each.influence < _TELLING]
    return f"None of these moves either figure by {100.0 * _TELLING:g} %: {'; '.join(few)}." if few else ""


def _line(assumption: Assumption, found: Assumptions) -> str:
    there = zip(assumption.tried, assumption.days, assumption.cost, strict=True)
    moved = "; ".join(f"{_tried(assumption, tried)}: {_figures(first, cost, found)}" for tried, first, cost in there)
    told = hint(assumption.key).partition("; left out:")[0]
    return f"{assumption.line}. {capital(moved)}." + (f" To find out: {told}." if told else "")


def _tried(assumption: Assumption, text: str) -> str:
    if not assumption.of_model:
        return f"with {text}"
    return f"{'shifted by' if assumption.key == 'onset' else 'times'} {text}"


def _figures(first_days: float | None, cost: float | None, found: Assumptions) -> str:
    if first_days is None or cost is None:
        return "too little flow even when new"
    service = due(first_days) if first_days > 0.0 else "cloudy water even when new"
    return f"{service}, {money(cost, found.study.currency)}"


def described(schema: Mapping[str, Any]) -> dict[str, Any]:
    """Return the JSON Schema of study files with what an editor shows: what each key needs, and how to find it out.

    Parameters
    ----------
    schema : mapping
        As the tables of the study file give it.

    Returns
    -------
    dict
        Draft 2020-12. TOML has no null: a key that may be left out has no such default and no such type.
    """
    tables = {TABLES[name].__name__: name for name in reversed(list(TABLES))}
    told = {
        name: {**table, "properties": _properties(table["properties"], tables[name])}
        for name, table in schema["$defs"].items()
    }
    top = _properties(schema["properties"], "")
    for name in TABLES:
        top[name]["description"] = f"Tables, each under [[{name}]]" if name in LISTS else f"The table [{name}]"
    return {"$schema": _DIALECT, **schema, "title": "A study of a tub's filter", "$defs": told, "properties": top}


def _properties(properties: Mapping[str, dict[str, Any]], table: str) -> dict[str, dict[str, Any]]:
    return {name: _property(given, table, name) for name, given in properties.items()}


def _property(given: dict[str, Any], table: str, name: str) -> dict[str, Any]:
    kept = [kind for kind in given.get("anyOf", ()) if kind != {"type": "null"}]
    told = {key: value for key, value in given.items() if key not in ("title", "anyOf")} | (kept[0] if kept else {})
    if "default" in given and given["default"] in (None, [], ()):
        del told["default"]
    key = TABLES[table].key(name) if table else None
    need = told.get("description") or (key.need if key else "")
    text = "; ".join(part for part in (need, hint(f"{table}.{name}" if table else name)) if part)
    return {**told, "description": text} if text else told
