"""The one door from the pages to the library: answers are kept, and a fault becomes a readable line."""

import copy
import json
import secrets
import tomllib
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import lru_cache, partial
from math import ceil
from typing import Any, Self, TypeVar

import numpy as np
from altair import LayerChart
from altair.utils.schemapi import disable_debug_mode
from page_kept import MOST_FITTED, MOST_KEPT, kept, progress_of_now

from filtration import AreaSize, InputError, NoAnswerError, PumpSize, Study, savings, study_from_text
from filtration.answers import clearness as clear
from filtration.answers import series
from filtration.answers.decision import DRAWS
from filtration.answers.ranking import central_of, ranked
from filtration.answers.sizing import area_for_interval, smallest_pump
from filtration.base.defaults import STUDY_DEFAULTS
from filtration.base.draws import Belief
from filtration.base.places import demo_file, demo_names
from filtration.base.units import read_quantity
from filtration.present.charts import catalogue as charts
from filtration.present.charts import pictures
from filtration.present.charts.drops import drops_chart, most_held_g
from filtration.present.charts.rating_map import map_chart
from filtration.present.charts.tube import tube_chart
from filtration.present.charts.year import days_chart
from filtration.present.words import fields as field_words
from filtration.present.words import size as size_words
from filtration.study.believed import with_belief
from filtration.study.file import placed_faults, study_from_dict, tables_of_text
from filtration.study.keys import Key
from filtration.study.tables import LISTS, TABLES, StudyFile, StudyTable
from filtration.study.text import text_with
from filtration.validation.published import verify

T = TypeVar("T")

"""How often what is not known exactly is drawn: enough for whole cases of twenty, and quick enough to play."""

_AS_SEEN = f"\0{secrets.token_hex(8)}\0"  # which nobody can write into a link or a file
_DIRT_STEPS = 40
_LARGEST_SHOWN = 1e15  # a browser counts no further by ones
_NUMBER = (int, float)
_KINDS = {  # a number that is none stands as it was typed
    "array": list, "string": (str, date), "boolean": bool, "number": (*_NUMBER, str), "integer": (*_NUMBER, str),
}  # fmt: skip

disable_debug_mode()  # else a chart is held against Vega-Lite's rules part by part as it is drawn, which takes longest


@lru_cache
def demos() -> dict[str, str]:
    """Return the demo studies, their name by that of their file, the smallest household first."""
    names = sorted(demo_names(), key=lambda name: name != "freezer")
    return {name: str(tomllib.loads(demo_text(name))["name"]) for name in names}


@lru_cache
def demo_text(name: str) -> str:
    """Return the text of a demo study."""
    return demo_file(name).read_text(encoding="utf-8")


@lru_cache
def empty_tables() -> Mapping[str, Any]:
    """Return a study with nothing but the usual cartridges and example prices."""
    demo = tomllib.loads(demo_text("freezer"))
    elements = [{k: v for k, v in row.items() if k not in {"lead_time", "suppliers"}} for row in demo["elements"]]
    return {"name": "My tub", "tub": {}, "pump": {}, "plumbing": {}, "elements": elements}


def text_of(data: bytes) -> str:
    """Return the text of a file somebody brings; raises InputError where it is no UTF-8."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("is not UTF-8 text; save it as UTF-8") from None


@lru_cache(maxsize=MOST_KEPT)
def study(text: str) -> Study:
    """Return the study a text holds; raises InputError with every fault, or where it is too much for a page."""
    written, _, told = text.partition(_AS_SEEN)
    found = study_from_text(written)
    if found.elements_driven > MOST_FITTED:
        raise InputError(
            f"options: have {found.elements_driven} cartridges in all, counted on every pump; a page works out at most "
            f"{MOST_FITTED}, the command more"
        )
    if not told:
        return found
    mean, covariance = map(np.array, json.loads(told))
    return with_belief(found, Belief(mean=mean, covariance=covariance))


def as_seen(text: str, belief: Belief) -> str:
    """Return a text that stands for its study as readings see it, wherever a text is asked for."""
    return f"{text}{_AS_SEEN}{json.dumps([belief.mean.tolist(), belief.covariance.tolist()])}"


def as_written(text: str) -> str:
    """Return the text of the study alone."""
    return text.partition(_AS_SEEN)[0]


@lru_cache(maxsize=MOST_KEPT)
def _tables(text: str) -> dict[str, Any]:
    return tables_of_text(as_written(text))


def tables(text: str) -> dict[str, Any]:
    """Return the tables and keys of a study's text, to read or to change; raises InputError where it is no TOML."""
    return copy.deepcopy(_tables(text))


def is_shaped(text: str) -> bool:
    """Return whether every known table and key of a text is of its kind, right or wrong: what fields can show."""
    return all(
        _fits_rows(value, TABLES[name], listed=name in LISTS) if name in TABLES else _fits(value, StudyFile.key(name))
        for name, value in _tables(text).items()
    )


def _fits_rows(value: object, table: type[StudyTable], *, listed: bool) -> bool:
    rows = value if isinstance(value, list) else [value]
    return isinstance(value, list) == listed and all(
        isinstance(row, dict) and all(_fits(cell, table.key(key)) for key, cell in row.items()) for row in rows
    )


def _fits(value: object, key: Key | None) -> bool:
    return key is None or _is(value, key.schema)


def _is(value: object, schema: Mapping[str, Any]) -> bool:
    kind = _KINDS.get(schema.get("type"), object)
    if isinstance(value, list):
        return kind in (list, object) and all(_is(inner, schema.get("items", {})) for inner in value)
    return isinstance(value, kind) and (not isinstance(value, _NUMBER) or abs(value) <= _LARGEST_SHOWN)


class Fault(str):
    """What is wrong with a study, as a readable line that knows its place and what is said there."""

    __slots__ = ("message", "place")
    place: tuple[str | int, ...]
    message: str

    def __new__(cls, place: tuple[str | int, ...], message: str, called: str = "") -> Self:
        """Make one of a place, what is wrong there, and the name of the list's entry meant."""
        words = field_words.fault_words(place, message)
        fault = super().__new__(cls, ": ".join(filter(None, (field_words.place_words(place, called), words))))
        fault.place, fault.message = place, words
        return fault


@lru_cache(maxsize=MOST_KEPT)
def faults(text: str) -> tuple[Fault, ...]:
    """Return what is wrong with a text, in the words of the page."""
    try:
        study(text)
    except InputError as error:
        placed = faults_in(_tables(text)) if _is_toml(text) else ()
        return placed or tuple(Fault((), line) for line in told(error))
    return ()


def faults_in(known: Mapping[str, Any]) -> tuple[Fault, ...]:
    """Return what is wrong with the tables of a study, in the words of the page."""
    return tuple(Fault(place, message, _called(known, place)) for place, message in placed_faults(known))


def _called(known: Mapping[str, Any], place: tuple[str | int, ...]) -> str:
    """Return the name of the list's entry that a place is in; empty where it has none."""
    row = known[str(place[0])][place[1]] if len(place) > 1 and isinstance(place[1], int) else {}
    name = row.get("name") if isinstance(row, Mapping) else None
    return name if isinstance(name, str) and name.isprintable() else ""


def _is_toml(text: str) -> bool:
    try:
        _tables(text)
    except InputError:
        return False
    return True


def option_names(known: Mapping[str, Any]) -> dict[str, str]:
    """Return what may be fitted of a study's tables, on its pumps, by id; none where they hold no study."""
    try:
        found = study_from_dict(known)
    except InputError:
        return {}
    several = len(found.pumps) > 1
    return {
        each: f"{option.name}, {pump.name}" if several else option.name
        for each, (option, pump) in found.on_pumps.items()
    }


def told(error: InputError) -> list[str]:
    """Return an error's faults, one readable line each, without a file name that says nothing here."""
    return [fault.removeprefix("study.toml, ").removeprefix("study.toml: ") for fault in error.faults]


central = kept(lambda text: central_of(study(text), progress_of_now()))
"""The central case of all options of a study's text."""

advice = kept(lambda text: ranked(central(text), draws=0))
"""The ranked answer, as the cases that decide have it, without ranges."""

answer = kept(lambda text: ranked(central(text), draws=DRAWS, progress=progress_of_now()))
"""The ranked answer to it, and how sure that is."""

checks = kept(lambda: verify(progress=progress_of_now()))
"""The published cases recomputed."""

alone = kept(lambda text, option: series.answer_alone(study(text), option))
"""One option's figures in the central case, quickly."""

followed = kept(lambda text, option: series.follow_among(central(text), option))
"""One option followed from new; raises NoAnswerError where no water moves."""

drops_of = kept(lambda text, option: series.pressure_drops(study(text), central(text).followed, option))
"""Pressure drop of kinds and of a study's options at the least flow that one of them is to give."""

water_life = kept(
    lambda text, option: clear.longest_water_life_days(followed(text, option), study(text).needs.see_through_m)
)
"""How long the water may stay for the wanted view [day]."""

savings_of = kept(lambda text, option: savings(answer(text), option))
"""What would save most in a year with one option."""

_BY_KIND = {
    kind: kept(lambda text, option, work=work: work(study(text), partial(followed, text), option))
    for kind, work in pictures.SERIES.items()
}


def series_of(text: str, kind: str, option: str) -> Any:  # noqa: ANN401 - each kind is of its own
    """Return what charts of a single option are drawn from, of a kind of ``pictures.SERIES``."""
    return _BY_KIND[kind](text, option)


@kept
def picture(text: str, name: str, display: charts.Display, at: str = "") -> str:
    """Return a picture as JSON, or the words why there is none; those of single options are of the one of an id."""
    comparison = answer(text)
    if name in pictures.OWN:
        option, few = comparison.option(at), pictures.a_few(comparison)
        own = pictures.Own(answer=comparison, option=option, few=few, series=partial(series_of, text), display=display)
        return as_json(partial(pictures.OWN[name], own))
    return as_json(partial(charts.PICTURES[name].draw, comparison, display))


@kept
def looked_at(text: str, name: str, *, display: charts.Display, at: str, sure: bool = True) -> str:
    """Return a picture of the front page as JSON: "tube", "map" or "days"; of the advice alone where it is not sure."""
    comparison = answer(text) if sure else advice(text)
    option = comparison.option(at)
    draws = {
        "tube": lambda: tube_chart(option, display),
        "map": lambda: map_chart(comparison, display, option),
        "days": lambda: days_chart(comparison, display, option),
    }
    return as_json(draws[name])


def reach_of_dirt(text: str, option: str, display: charts.Display) -> tuple[float, float]:
    """Return to how much dirt a slider goes, and in what steps, in the unit shown; no way where none runs."""
    most = display.mass_of(most_held_g(drops_of(text, option)))
    if most <= 0.0:
        return 0.0, 0.0
    step = float(f"{most / _DIRT_STEPS:.0e}")
    return step * ceil(most / step), step


@kept
def drops_picture(text: str, option: str, held_g: float, display: charts.Display) -> str:
    """Return the picture of pressure drops with some dirt held, as JSON."""
    return as_json(lambda: drops_chart(drops_of(text, option), advice(text), held_g, display))


def as_json(draw: Callable[[], LayerChart]) -> str:
    """Return what is drawn as JSON, or the words why there is nothing to draw."""
    try:
        return str(draw().to_json(indent=None, validate=False))
    except NoAnswerError as nothing:
        return f"No picture: {nothing}."


def is_drawn(picture: str) -> bool:
    """Return whether there is a picture, and not the words why there is none."""
    return picture.startswith("{")


def missing_in(text: str, names: Sequence[str]) -> list[str]:
    """Return the options some pictures lack."""
    comparison = answer(text)
    return list(dict.fromkeys(name for each in names for name in charts.PICTURES[each].left_out(comparison)))


def value_of(text: str, table: str, key: str) -> object:
    """Return what a study has under a key, or the default it leans on; None where neither says a number."""
    known = _tables(text)
    into = known.get(table, {})
    value = into.get(key) if isinstance(into, Mapping) else None
    if value is None and (table in known or table in {"needs", "prices"}):
        tub, needs = study(text).tub, study(text).needs
        life, view = f"{tub.water_life_days:.4g} day", f"{needs.see_through_m:.4g} m"
        left_out = {"tub.water_change_every": life, "needs.see_through": view, **STUDY_DEFAULTS}
        value = left_out.get(f"{table}.{key}")
    return None if value == "never" else value


def moved(text: str, table: str, key: str, value: object) -> str:
    """Return a study's text with one value changed; the text itself where nothing is."""
    if value_of(text, table, key) == value:
        return text
    data = tables(text)
    data.setdefault(table, {})[key] = value
    written = as_written(text)
    return text_with(written, data) + text.removeprefix(written)


def reach(place: str, now: float, step: float) -> tuple[float, float, float]:
    """Return from where to where, and in what steps, a slider goes: from a third to three times the value."""
    if place in _REACH:
        return _REACH[place]
    fine = step if now / step > 10.0 else step / 10.0
    least = max(fine, round(now / 3.0 / fine) * fine)
    return min(least, now), max(round(3.0 * now / fine) * fine, now), fine


_REACH = {"tub.showered_share": (0.0, 1.0, 0.05), "pump.hours_per_day": (1.0, 24.0, 1.0)}


@kept
def pump_for(text: str, option: str, flow: float, unit: str) -> tuple[str, ...]:
    """Return in words the smallest pump that keeps a flow when the element is due."""
    return _sized(lambda: smallest_pump(study(text), option, read_quantity(f"{flow:.10g} {unit}", "flow")))


@kept
def area_for(text: str, option: str, days: float) -> tuple[str, ...]:
    """Return in words the area that gives a wished first run."""
    return _sized(lambda: area_for_interval(study(text), option, days))


def _sized(search: Callable[[], PumpSize | AreaSize]) -> tuple[str, ...]:
    try:
        headline, parts = size_words.told(search())
    except (InputError, NoAnswerError) as error:
        return (str(error),)
    return headline, *(f"{heading}: {'; '.join(lines)}" for heading, lines in parts.items() if lines)
