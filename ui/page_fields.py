"""What can be changed on the page: the few things of a study that most people play with."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import streamlit as st
from page_text import plain

from filtration.units import Measure, in_unit, read_quantity

_WIDTH_PX = 150


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One number on the page.

    Parameters
    ----------
    table, key : str
        Where it stands in a study file.
    label : str
        What it is called, with its unit.
    measure, unit : str or None
        Its measure and the unit shown; None for a plain number.
    step : float
        Step of the buttons.
    without : str
        What an empty field stands for.
    help : str or None
        How to find it out.
    """

    table: str
    key: str
    label: str
    measure: Measure | None = None
    unit: str | None = None
    step: float = 1.0
    without: str = ""
    help: str | None = None

    def shown(self, tables: Mapping[str, Any]) -> float | None:
        """Return the file's value in the unit shown, None where it has none."""
        value = tables.get(self.table, {}).get(self.key)
        if value is None or self.measure is None or self.unit is None:
            return None if value is None else float(value)
        return float(in_unit(read_quantity(value, self.measure), self.unit))

    def written(self, value: float) -> str | float:
        """Return a value of the page as a file has it."""
        return value if self.unit is None else f"{value:.10g} {self.unit}"


_VOLUME = Field(
    table="tub",
    key="volume",
    label="Water, L",
    measure="volume",
    unit="L",
    step=10.0,
    help="Count the buckets when you fill it, or read the water meter.",
)
_TEMPERATURE = Field(table="tub", key="water_temperature", label="Temperature, °C", measure="temperature", unit="degC")
_USES = Field(table="tub", key="uses_per_day", label="Dips a day", help="All bathers together.")
_CHANGE = Field(
    table="tub",
    key="water_change_every",
    label="Water change, days",
    measure="time",
    unit="day",
    without="spa rule",
    help="Days from one change of all the water to the next.",
)
_LIFT = Field(
    table="pump",
    key="shutoff_head",
    label="Highest lift, m",
    measure="length",
    unit="m",
    step=0.1,
    help="On the pump's box: head, lift or H max.",
)
_FLOW = Field(
    table="pump",
    key="max_flow",
    label="Most flow, L/h",
    measure="flow",
    unit="L/h",
    step=100.0,
    help="On the pump's box: flow or Q max.",
)
_BORE = Field(
    table="plumbing",
    key="bore",
    label="Bore, mm",
    measure="length",
    unit="mm",
    help="Inside width of the narrowest fitting, not of the hose.",
)
_TURNOVERS = Field(
    table="needs",
    key="turnovers_per_hour",
    label="Turnovers an hour",
    step=0.5,
    without="3",
    help="How often an hour all the water should pass the filter.",
)
_SEE_THROUGH = Field(
    table="needs",
    key="see_through",
    label="See-through, m",
    measure="length",
    unit="m",
    step=0.1,
    without="4 × depth",
    help="How far one should still see under water at the worst moment.",
)


def offered(tables: Mapping[str, Any]) -> tuple[list[Field], list[str]]:
    """Return the fields that fit a file, and what to say of those that do not.

    Parameters
    ----------
    tables : mapping
        The file's tables and keys.

    Returns
    -------
    list of Field
        In the order of the page.
    list of str
        Sentences.
    """
    pump, needs = tables.get("pump", {}), tables.get("needs", {})
    lifted = bool(tables.get("measured", {}).get("lift_test"))
    fields, notes = [_VOLUME, _TEMPERATURE, _USES], list[str]()
    if tables["tub"].get("water_change_every") == "never":
        notes.append("The file says that the water is never changed.")
    else:
        fields.append(_CHANGE)
    if lifted:
        notes.append("The file's lift test stands for pump and hose.")
    elif "max_flow" in pump:
        fields += [_LIFT, _FLOW]
    elif "curve" in pump:
        notes.append("The file gives the pump by its curve.")
    else:
        names = ", ".join(str(each.get("name", "pump")) for each in tables.get("pumps", []))
        notes.append(f"The file compares pumps: {names}.")
    if not lifted:
        fields.append(_BORE)
    if {"flow", "share_of_clean_flow"} & needs.keys():
        notes.append("The file says which flow is wanted.")
    else:
        fields.append(_TURNOVERS)
    return [*fields, _SEE_THROUGH], notes


class Form:
    """The fields on the page, with what was changed and room for a fault below each.

    Parameters
    ----------
    tables : mapping
        The file's tables and keys.
    name : str
        Tells the values of one file from those of another.
    linked : bool
        Values also stand in the page's address, so that they outlast a reload.

    Attributes
    ----------
    edits : tuple of (str, str, str or float)
        What was changed: table, key, and what stands there instead.
    """

    def __init__(self, tables: Mapping[str, Any], name: str, *, linked: bool) -> None:
        fields, notes = offered(tables)
        changes: list[tuple[str, str, str | float]] = []
        self._below: dict[str, Any] = {}
        with st.container(horizontal=True, gap="small", border=True):
            for field in fields:
                before = field.shown(tables)
                with st.container(width=_WIDTH_PX, gap=None):
                    now = st.number_input(
                        field.label,
                        value=before,
                        step=field.step,
                        format="%.6g",
                        key=f"{name}-{field.key}",
                        placeholder=field.without,
                        help=field.help,
                        bind="query-params" if linked else None,
                        persist_state=None if linked else "session",
                    )
                    self._below[f"[{field.table}] {field.key}: "] = st.empty()
                if now is not None and now != before:
                    changes.append((field.table, field.key, field.written(now)))
        for note in notes:
            st.caption(plain(note))
        self.edits = tuple(changes)

    def show(self, faults: list[str]) -> None:
        """Show each fault below its field, or below all where it belongs to none."""
        for fault in faults:
            start = next((start for start in self._below if fault.startswith(start)), None)
            if start:
                text = fault.removeprefix(start)
                self._below[start].markdown(f":red[▲ {plain(text[:1].upper() + text[1:])}]")
            else:
                st.error(plain(fault))
