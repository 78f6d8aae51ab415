"""The single things of a study that can be changed on a page: each reads its text and writes into it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any

import page_state
import streamlit as st
from page_text import plain

from filtration import InputError
from filtration.base.defaults import STUDY_DEFAULTS
from filtration.base.units import Measure, in_unit, read_quantity
from filtration.present.words import fields as field_words

WIDTH_PX = 150
_LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class Field:
    """One thing of a study file; an empty table stands for the top of the file.

    ``units`` and ``steps`` are what is shown and the step of its buttons, metric and US; without a measure it is a
    plain number, one of ``words``, a flag or free text (``name``).
    """

    table: str
    key: str
    measure: Measure | None = None
    units: tuple[str, str] | None = None
    steps: tuple[float, float] = (1.0, 1.0)
    words: tuple[str, ...] = ()
    flag: bool = False
    name: bool = False

    @property
    def place(self) -> str:
        """Table and key, as the wording has them."""
        return f"{self.table}.{self.key}" if self.table else self.key

    @property
    def fault(self) -> str:
        """What a fault of it begins with."""
        return f"[{self.table}] {self.key}: " if self.table else f"{self.key}: "

    def unit(self) -> str | None:
        """Return the unit shown now."""
        return None if self.units is None else self.units[page_state.display().us]

    def step(self) -> float:
        """Return the step of its buttons in that unit."""
        return self.steps[page_state.display().us]

    def value(self, tables: Mapping[str, Any]) -> object:
        """Return what a file says; None where it says nothing."""
        return (_table(tables, self.table) if self.table else tables).get(self.key)

    def read(self, value: object) -> float | str | None:
        """Return a value of a file in the unit shown; None where it is none that can be shown."""
        unit = self.unit()
        try:
            if self.measure and unit:
                shown = in_unit(read_quantity(value, self.measure), unit)
                own = f"{shown:.6g}" == f"{shown:.9g}"  # not the outcome of a conversion
                return float(f"{shown:.6g}" if own else f"{shown:.4g}")
        except InputError:
            return None
        if self.words or self.name:
            text = value if isinstance(value, str) else None
            return text.strip().lower() if text and self.words else text
        return float(value) if isinstance(value, int | float) else None

    def written(self, value: float | str | None) -> object:
        """Return a value of the page as a file has it."""
        unit = self.unit()
        if value is None or self.words or self.name or self.flag:
            return value or None
        if unit is not None:
            return f"{value:.10g} {unit}"
        return int(value) if float(value).is_integer() else value


VOLUME = Field("tub", "volume", "volume", ("L", "gal"), steps=(10.0, 5.0))
TEMPERATURE = Field("tub", "water_temperature", "temperature", ("degC", "degF"))
USES = Field("tub", "uses_per_day")
CHANGE = Field("tub", "water_change_every", "time", ("day", "day"))
LIFT = Field("pump", "shutoff_head", "length", ("m", "ft"), steps=(0.1, 0.5))
FLOW = Field("pump", "max_flow", "flow", ("L/h", "gph"), steps=(100.0, 25.0))
POWER = Field("pump", "power", "power", ("W", "W"))
BORE = Field("plumbing", "bore", "length", ("mm", "in"), steps=(1.0, 0.05))
HOSE = Field("plumbing", "length", "length", ("m", "ft"), steps=(0.5, 1.0))
TURNOVERS = Field("needs", "turnovers_per_hour", steps=(0.5, 0.5))
LEAST_FLOW = Field("needs", "flow", "flow", ("L/h", "gph"), steps=(100.0, 25.0))
SEE_THROUGH = Field("needs", "see_through", "length", ("m", "ft"), steps=(0.1, 0.5))
NAME = Field("", "name", name=True)

EIGHT = (VOLUME, USES, TEMPERATURE, LIFT, FLOW, POWER, BORE, HOSE)
"""What an answer cannot do without."""

FOLDED: Mapping[str, tuple[Field, ...]] = {
    "tub": (
        Field("tub", "depth", "length", ("m", "ft"), steps=(0.05, 0.1)),
        Field("tub", "open_surface", "area", ("m^2", "sq ft"), steps=(0.1, 1.0)),
        Field("tub", "sessions_per_day"),
        Field("tub", "showered_share", steps=(0.1, 0.1)),
        Field("tub", "feet", words=("rinsed", "indoors", "from the garden")),
        Field("tub", "surroundings", words=("outdoors", "indoors")),
        Field("tub", "uncovered_hours_per_day"),
        Field("tub", "disinfectant", words=("kept", "none", "not stated")),
        Field("tub", "dye_even_after", "time", ("min", "min"), steps=(5.0, 5.0)),
        Field("tub", "still_share", steps=(0.05, 0.05)),
        Field("tub", "air_temperature", "temperature", ("degC", "degF")),
        Field("tub", "air_humidity", steps=(0.05, 0.05)),
        Field("tub", "fill_temperature", "temperature", ("degC", "degF")),
        Field("tub", "shared_with_public", flag=True),
    ),
    "pump_more": (
        Field("pump", "share_of_box_flow", steps=(0.05, 0.05)),
        Field("pump", "placed", words=("in the water", "outside")),
        Field("pump", "hours_per_day"),
        Field("pump", "price"),
        Field("pump", "life", "time", ("year", "year")),
    ),
    "hose_more": (
        Field("plumbing", "elbows_90"),
        Field("plumbing", "hose_barbs"),
        Field("plumbing", "other_k", steps=(0.5, 0.5)),
        Field("plumbing", "static_lift", "length", ("m", "ft"), steps=(0.1, 0.5)),
        Field("plumbing", "length_outside", "length", ("m", "ft"), steps=(0.5, 1.0)),
        Field("plumbing", "insulation", "length", ("mm", "in"), steps=(1.0, 0.1)),
    ),
    "limits": (
        Field("needs", "rinse_at_least_every", "time", ("day", "day")),
        Field("needs", "replace_at_least_every", "time", ("day", "day")),
        Field("needs", "discard_after", "time", ("day", "day"), steps=(30.0, 30.0)),
        Field("needs", "shortest_run", "time", ("day", "day")),
        Field("needs", "max_pressure_rise", "pressure", ("cm of water", "in of water")),
    ),
    "prices": (
        Field("", "currency", name=True),
        Field("prices", "electricity_per_kwh", steps=(0.01, 0.01)),
        Field("prices", "water_per_m3", steps=(0.5, 0.5)),
        Field("prices", "own_time_per_hour"),
        Field("prices", "disposal_each", steps=(0.1, 0.1)),
        Field("prices", "disinfectant_per_month"),
        Field("prices", "discount_rate", steps=(0.01, 0.01)),
        Field("prices", "horizon", "time", ("year", "year")),
        Field("cooling", "cop", steps=(0.1, 0.1)),
        Field("cooling", "share_of_year", steps=(0.1, 0.1)),
    ),
}
_WATER_BY_GALLONS = Field("prices", "water_per_1000_gal")


_FEW = (VOLUME, TEMPERATURE, USES, CHANGE, LIFT, FLOW, POWER, BORE, HOSE, TURNOVERS, LEAST_FLOW, SEE_THROUGH)
BY_PLACE = {field.place: field for field in (NAME, *_FEW, *chain.from_iterable(FOLDED.values()))}
"""Every field by its table and key."""


def short(tables: Mapping[str, Any]) -> tuple[dict[str, list[Field]], list[str]]:
    """Return the few fields of a first study that fit a file, by group, and what to say of those that do not."""
    needs, lifted = _table(tables, "needs"), _table(tables, "measured").get("lift_test")
    pump, notes = [LIFT, FLOW, POWER], list[str]()
    if tables.get("pumps"):
        names = ", ".join(str(row.get("name", "pump")) for row in tables["pumps"] if isinstance(row, Mapping))
        pump, notes = [], [f"Several pumps are compared: {names}. They stand in the table below."]
    elif lifted:
        pump, notes = [POWER], ["The lift test stands for the pump's two numbers and the hose."]
    elif "curve" in _table(tables, "pump"):
        pump, notes = [POWER], ["The file gives the pump by points of its curve."]
    wish = [LEAST_FLOW] if "flow" in needs else [] if "share_of_clean_flow" in needs else [TURNOVERS]
    if not wish:
        notes.append("The file asks for a share of the clean flow.")
    water, hose = [VOLUME, TEMPERATURE, USES, CHANGE], [] if lifted else [BORE, HOSE]
    groups = {"water": water, "pump": pump, "hose": hose, "wish": [*wish, SEE_THROUGH]}
    return {group: fields for group, fields in groups.items() if fields}, notes


def folded(tables: Mapping[str, Any]) -> dict[str, tuple[Field, ...]]:
    """Return the other fields that fit a file, by group: water by the m³, or by 1,000 gallons where it says so."""
    by_gallons = _WATER_BY_GALLONS.value(tables) is not None
    swapped = {"prices.water_per_m3": _WATER_BY_GALLONS} if by_gallons else {}
    return {group: tuple(swapped.get(field.place, field) for field in fields) for group, fields in FOLDED.items()}


def _table(tables: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = tables.get(name)
    return found if isinstance(found, Mapping) else {}


_LEFT_OUT = {"tub.water_change_every": "by use", "needs.see_through": "4 × depth"}


def _without(field: Field, tables: Mapping[str, Any]) -> str:
    """Return what an empty field stands for."""
    if str(field.value(tables)).strip().lower() == "never":
        return "never"
    default = STUDY_DEFAULTS.get(field.place)
    if default is None:
        return _LEFT_OUT.get(field.place, "")
    shown = field.read(default)
    return str(default) if shown is None else f"{shown:g}" if isinstance(shown, float) else shown


class Form:
    """Fields on a page, which start from a study's tables, with room for a fault below each."""

    def __init__(self, tables: Mapping[str, Any]) -> None:
        self._tables = tables
        self._below: dict[str, Any] = {}

    def show(self, fields: Iterable[Field]) -> None:
        """Show fields beside each other, as many as there is room for."""
        with st.container(horizontal=True, gap="small"):
            for field in fields:
                with st.container(width=WIDTH_PX if not field.name else 2 * WIDTH_PX, gap=None):
                    self._widget(field)
                    self._below[field.fault] = st.empty()

    def _widget(self, field: Field) -> None:
        unit, given = field.unit(), field.value(self._tables)
        key = page_state.key(f"{field.place}.{unit or ''}")
        value, empty = field.read(given), _without(field, self._tables)
        label, how = field_words.label(field.place, unit), field_words.FIELDS[field.place][1]

        def keep() -> None:
            page_state.edit(field.table, field.key, field.written(st.session_state[key]))

        common = {"key": key, "help": how, "on_change": keep}
        if field.flag:
            st.checkbox(label, value=given is True, **common)
        elif field.words:
            default = next(word for word in (value, empty, field.words[0]) if word in field.words)
            st.selectbox(label, field.words, index=field.words.index(default), **common)
        elif field.name:
            st.text_input(label, value=value or "", max_chars=_LONGEST_NAME, placeholder=empty, **common)
        else:
            number = value if isinstance(value, float) else None
            st.number_input(label, value=number, step=field.step(), format="%.6g", placeholder=empty, **common)

    def tell(self, faults: Sequence[str]) -> list[str]:
        """Show each fault below its field, and return those that belong to none; what is only missing is not shown."""
        rest = []
        for fault in faults:
            start = next((start for start in self._below if fault.startswith(start)), None)
            if start is None:
                rest.append(fault)
            elif not is_missing(fault):
                text = fault.removeprefix(start)
                self._below[start].markdown(f":red[▲ {plain(text[:1].upper() + text[1:])}]")
        return rest


def is_missing(fault: str) -> bool:
    """Return whether a fault says that something is not filled in yet."""
    return ": is missing" in fault


def missing(faults: Iterable[str], fields: Iterable[Field]) -> list[str]:
    """Return what the fields still to fill in are called."""
    starts = {field.fault: field_words.FIELDS[field.place][0] for field in fields}
    return [name for start, name in starts.items() for fault in faults if is_missing(fault) and fault.startswith(start)]
