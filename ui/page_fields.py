"""Fields on a page: each starts from a study's tables, writes into them, and has what is wrong with it below."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from functools import partial
from itertools import chain
from typing import Any

import page_cache
import page_rows
import page_state
import streamlit as st
from page_cache import Fault
from page_keys import Cell, Field
from page_text import plain

from filtration.base.defaults import STUDY_DEFAULTS
from filtration.present.words import fields as field_words

Tables = dict[str, Any]
Place = tuple[str, int | None, str]
"""Table, entry of a list, and key."""
Change = Callable[[Callable[[Tables], object]], object]

WIDTH_PX = 150
_LONGEST_TYPED = 80


def fields_of(table: str, *keys: str) -> tuple[Field, ...]:
    """Return the fields of some keys of a table."""
    return tuple(Field(f"{table}.{key}" if table else key) for key in keys)


(NAME,) = fields_of("", "name")
VOLUME, TEMPERATURE, USES, CHANGE = fields_of(
    "tub", "volume", "water_temperature", "uses_per_day", "water_change_every"
)
LIFT, FLOW, POWER = fields_of("pump", "shutoff_head", "max_flow", "power")
BORE, HOSE = fields_of("plumbing", "bore", "length")
TURNOVERS, LEAST_FLOW, SHARE = fields_of("needs", "turnovers_per_hour", "flow", "share_of_clean_flow")
(SEE_THROUGH,) = fields_of("needs", "see_through")

EIGHT = (VOLUME, USES, TEMPERATURE, LIFT, FLOW, POWER, BORE, HOSE)
"""What an answer cannot do without."""

FOLDED: Mapping[str, tuple[Field, ...]] = {
    "tub": fields_of(
        *("tub", "depth", "open_surface", "sessions_per_day", "showered_share", "feet", "surroundings"),
        *("uncovered_hours_per_day", "disinfectant", "dye_even_after", "still_share", "air_temperature"),
        *("air_humidity", "fill_temperature", "shared_with_public"),
    ),
    "year": fields_of("tub", "uses_by_month", "uses_by_weekday"),
    "pump_more": fields_of("pump", "name", "share_of_box_flow", "placed", "hours_per_day", "price", "life", "curve"),
    "hose_more": (
        *fields_of("plumbing", "elbows_90", "hose_barbs", "other_k", "roughness", "static_lift", "length_outside"),
        *fields_of("plumbing", "insulation"),
        *fields_of("measured", "lift_test"),
    ),
    "limits": (
        *(TURNOVERS, LEAST_FLOW, SHARE),
        *fields_of("needs", "rinse_at_least_every", "replace_at_least_every", "discard_after", "shortest_run"),
        *fields_of("needs", "max_pressure_rise"),
    ),
    "prices": (
        *fields_of("", "currency"),
        *fields_of("prices", "electricity_per_kwh", "water_per_m3", "water_per_1000_gal", "own_time_per_hour"),
        *fields_of("prices", "disposal_each", "disinfectant_per_month", "discount_rate", "horizon"),
        *fields_of("cooling", "cop", "share_of_year"),
    ),
    "uncertainty": tuple(map(Field, (place for place in field_words.FIELDS if place.startswith("uncertainty.")))),
    "readings": fields_of("readings", "watch", "bucket_level", "bucket_mark"),
    "in_use": fields_of("in_use", "option", "since"),
}
PUMP = (*fields_of("pump", "name"), LIFT, FLOW, POWER, *FOLDED["pump_more"][1:])
"""One of several pumps."""
ELEMENT: Mapping[str, tuple[Field, ...]] = {
    "": fields_of("elements", "name", "kind", "size", "pores_per_inch", "area", "thickness", "rating", "price"),
    "maker": fields_of(
        *("elements", "rating_means", "clean_loss_at", "dirt_capacity", "dirt_capacity_at", "dirt_capacity_dust"),
        *("clean_loss", "beta"),
    ),
    "shape": fields_of(
        "elements", "length", "outer_diameter", "inner_diameter", "area", "thickness", "pleats", "pleat_depth"
    ),
    "care": fields_of(
        *("elements", "rinse_minutes", "rinse_water", "rinse_recovery"),
        *("soak_every_rinses", "soak_recovery", "soak_price", "soak_minutes"),
    ),
    "delivery": fields_of("elements", "lead_time", "suppliers"),
}
"""A filter by what a card shows first and what it folds away."""
HOUSING = fields_of("options", "housings_in_parallel", "housing_price", "housing_life")
COMBINATION = (*fields_of("options", "name", "stages"), *HOUSING)

_FEW = (NAME, *EIGHT, CHANGE, SEE_THROUGH)
BY_PLACE = {field.place: field for field in chain(_FEW, PUMP, COMBINATION, *FOLDED.values(), *ELEMENT.values())}
"""Every field by its table and key."""


def short(tables: Mapping[str, Any]) -> tuple[dict[str, list[Field]], list[str]]:
    """Return the few fields of a first study that fit a file, by group, and what to say of those that do not."""
    needs, lifted = page_state.table_in(tables, "needs"), _is_lifted(tables)
    given = page_state.table_in(tables, "pump")
    pump, notes = [LIFT, FLOW, POWER], list[str]()
    if tables.get("pumps"):
        names = ", ".join(str(row.get("name", "pump")) for row in tables["pumps"] if isinstance(row, Mapping))
        pump, notes = [], [f"Several pumps are compared: {names}."]
    elif lifted or "curve" in given:
        told = "The lift test stands for the pump's two numbers and the hose."
        pump = [*(field for field in (LIFT, FLOW) if field.key in given), POWER]
        notes = [told if lifted else "The pump is given by points of its curve."]
    wish = [field for field in (TURNOVERS, LEAST_FLOW, SHARE) if field.key in needs] or [TURNOVERS]
    hose = [field for field in (BORE, HOSE) if not lifted or field.key in page_state.table_in(tables, "plumbing")]
    groups = {"water": [VOLUME, TEMPERATURE, USES, CHANGE], "pump": pump, "hose": hose, "wish": [*wish, SEE_THROUGH]}
    return {group: fields for group, fields in groups.items() if fields}, notes


def folded(tables: Mapping[str, Any]) -> dict[str, tuple[Field, ...]]:
    """Return the other fields that fit a file, by group: what ``short`` has is not there a second time."""
    few = {field.place for group in short(tables)[0].values() for field in group}
    by_gallons = _price_by_gallons(tables)
    left_out = {"prices.water_per_m3" if by_gallons else "prices.water_per_1000_gal"}
    if tables.get("pumps"):
        few |= {field.place for field in FOLDED["pump_more"]}
    if page_state.table_in(tables, "prices").keys() >= {"water_per_m3", "water_per_1000_gal"}:
        left_out = set()
    groups = {
        group: tuple(field for field in fields if field.place not in few | left_out) for group, fields in FOLDED.items()
    }
    return {group: fields for group, fields in groups.items() if fields}


def _is_lifted(tables: Mapping[str, Any]) -> bool:
    return bool(page_state.table_in(tables, "measured").get("lift_test"))


def _price_by_gallons(tables: Mapping[str, Any]) -> bool:
    """Return whether water is paid by the 1,000 gallons: where the study says so, or US units are shown."""
    prices = page_state.table_in(tables, "prices")
    return "water_per_1000_gal" in prices or ("water_per_m3" not in prices and page_state.display().us)


_LEFT_OUT = {
    "elements.price": "",
    "tub.water_change_every": "by use",
    "needs.see_through": "4 × depth",
    "needs.shortest_run": "by price",
    "elements.rinse_recovery": "by kind",
    "elements.area": "by size",
}


def _assumed(field: Field, given: object, tables: Mapping[str, Any]) -> str:
    """Return what an empty field stands for."""
    if field == TURNOVERS and {LEAST_FLOW.key, SHARE.key} & page_state.table_in(tables, "needs").keys():
        return ""
    if isinstance(given, str) and given.strip().lower() == "never":
        return "never"
    default = STUDY_DEFAULTS.get(field.place)
    if default is None or field.place in _LEFT_OUT:
        return _LEFT_OUT.get(field.place, "")
    return f"{field.cell().shown(default) if field.look == 'number' else default} assumed"


class Form:
    """Fields on a page, which start from a study's tables and write into them."""

    def __init__(
        self,
        tables: Mapping[str, Any],
        faults: Sequence[Fault] | None = None,
        change: Change = page_state.change,
        width_px: int = WIDTH_PX,
    ) -> None:
        self.tables, self._change, self._width_px = tables, change, width_px
        self._faults = page_cache.faults(page_state.text()) if faults is None else faults
        self._told: set[Fault] = set()

    def show(self, fields: Iterable[Field], at: int | None = None, table: str = "") -> None:
        """Show fields beside each other: of an entry of a list where ``at`` is given, of another table if one is."""
        several = {"points": self._points, "list": self._list, "names": self._names}
        shown = list(fields)
        one = self._width_px
        with st.container(horizontal=True, gap="small"):
            for field in (each for each in shown if each.look not in several):
                with st.container(width=2 * one if field.look in {"text", "option"} else one, gap=None):
                    place = (table or field.table, at, field.key)
                    self._single(field, place)
                    self._tell(field, place)
        for field in (each for each in shown if each.look in several):
            place = (table or field.table, at, field.key)
            several[field.look](field, place)
            self._tell(field, place)

    def faults_at(self, *place: str | int | None) -> list[Fault]:
        """Return what is wrong at a place, or further in."""
        start = tuple(part for part in place if part not in (None, ""))
        return [fault for fault in self._faults if fault.place[: len(start)] == start]

    def rest(self) -> list[Fault]:
        """Return what is wrong and told beside no field or card; what is only missing aside."""
        left = (fault for fault in self._faults if fault not in self._told and not is_missing(fault))
        return [fault for fault in left if not any(isinstance(part, int) for part in fault.place)]

    def missing(self, fields: Iterable[Field]) -> list[str]:
        """Return what the fields still to fill in are called."""
        places = {(*filter(None, [field.table]), field.key): field.place for field in fields}
        empty = {places[fault.place] for fault in self._faults if fault.place in places and is_missing(fault)}
        return [field_words.FIELDS[place][0] for place in places.values() if place in empty]

    def _tell(self, field: Field, place: Place) -> None:
        """Show what is wrong with a field below it: first of all that what was typed is no number."""
        given = page_state.table_in(self.tables, place[0], place[1]).get(place[2])
        unread = field.cell().fault(given) if field.look == "number" else ""
        for fault in self.faults_at(*place):
            if not is_missing(fault):
                self._told.add(fault)
                st.markdown(f":red[▲ {plain(unread[:1].upper() + unread[1:] or fault.message)}]")

    def _write(self, place: Place, value: Callable[[], object]) -> None:
        table, at, key = place
        new = value()
        self._change(lambda tables: page_rows.write(tables, table, at, key, new))

    def _looks(self, field: Field, place: Place) -> tuple[str, Any, dict[str, Any]]:
        """Return the key of a widget, what the study says there, and what all widgets of it have alike."""
        given = page_state.table_in(self.tables, place[0], place[1]).get(place[2])
        key = page_state.key(f"{'.'.join(str(part) for part in place if part not in (None, ''))}.{field.unit() or ''}")
        return key, given, {"key": key, "help": field_words.FIELDS[field.place][1]}

    def _single(self, field: Field, place: Place) -> None:
        key, given, looks = self._looks(field, place)
        name, state = field_words.label(field.place, field.unit()), st.session_state
        empty = _assumed(field, given, self.tables)

        def kept(written: Callable[[Any], object] = lambda value: value or None) -> dict[str, Any]:
            return {"on_change": self._write, "args": (place, lambda: written(state[key]))}

        match field.look:
            case "flag":
                st.checkbox(name, value=given is True, **looks, **kept())
            case "word":
                word = given.strip().lower() if isinstance(given, str) else None
                words = ("", *dict.fromkeys((*field.words, *filter(None, [word]))))
                shown = {"format_func": lambda each: each or empty or "choose"}
                st.selectbox(name, words, words.index(word or ""), **shown, **looks, **kept())
            case "option":
                names = page_cache.option_names(self.tables)
                words = ("", *dict.fromkeys((*names, *filter(None, [given]))))
                shown = {"format_func": lambda each: names.get(each, each) or "nothing said"}
                st.selectbox(name, words, words.index(given or ""), **shown, **looks, **kept())
            case "day":
                day = day_of(given)
                written = kept(lambda value: value.isoformat() if value else None)
                st.date_input(name, day, format="YYYY-MM-DD", **looks, **written)
            case "text":
                shown = given if isinstance(given, str) else ""
                st.text_input(name, shown, max_chars=_LONGEST_TYPED, placeholder=empty, **looks, **kept())
            case _:
                cell = field.cell()
                shown = "" if empty == "never" else cell.shown(given)
                written = kept(partial(_written_or_never, cell))
                st.text_input(name, shown, max_chars=_LONGEST_TYPED, placeholder=empty, **looks, **written)

    def _list(self, field: Field, place: Place) -> None:
        """Show a number for each of some names."""
        key, given, _ = self._looks(field, place)
        parts, values = field.parts(), given if isinstance(given, list) else []
        self._heading(field)
        with st.container(horizontal=True, gap="small"):
            for at, (name, cell) in enumerate(parts.items()):
                one = {"key": f"{key}{at}.", "width": 95, "max_chars": _LONGEST_TYPED}
                shown = cell.shown(values[at]) if at < len(values) else ""
                st.text_input(name, shown, on_change=self._write, args=(place, partial(_typed_list, key, parts)), **one)

    def _points(self, field: Field, place: Place) -> None:
        """Show the points of a curve, and room for one more."""
        key, given, _ = self._looks(field, place)
        columns, points = field.columns(), [point for point in given or [] if isinstance(point, list)]
        names = field_words.COLUMNS[field.place]
        self._heading(field)
        rows = len(points) + 1
        for row in range(rows):
            with st.container(horizontal=True, gap="small"):
                for at, cell in enumerate(columns):
                    value = points[row][at] if row < len(points) and at < len(points[row]) else None
                    name = f"{field_words.with_unit(names[at], cell.unit)}, {row + 1}"
                    one = {"key": f"{key}{row}.{at}.", "width": self._width_px, "max_chars": _LONGEST_TYPED}
                    typed = partial(_typed_points, key, columns, rows)
                    st.text_input(name, cell.shown(value), on_change=self._write, args=(place, typed), **one)

    def _names(self, field: Field, place: Place) -> None:
        """Show filters in an order."""
        key, given, looks = self._looks(field, place)
        known = [row["name"] for row in self.tables.get("elements", []) if isinstance(row.get("name"), str)]
        chosen = [name for name in given or [] if name in known]
        looks |= {"on_change": self._write, "args": (place, lambda: st.session_state[key] or None)}
        st.multiselect(
            field_words.FIELDS[field.place][0], list(dict.fromkeys(known)), chosen, placeholder="choose", **looks
        )

    def _heading(self, field: Field) -> None:
        name, how = field_words.FIELDS[field.place]
        st.markdown(f"**{plain(name)}**")
        st.caption(plain(how))


def _written_or_never(cell: Cell, text: str | None) -> object:
    """Return what is typed as a file has it; a word for never is one."""
    return "never" if text and text.strip().lower() == "never" else cell.written(text)


def _typed_list(key: str, parts: Mapping[str, Cell]) -> list[object] | None:
    """Return the numbers typed; none where every one is empty."""
    return _filled([cell.written(st.session_state[f"{key}{at}."]) for at, cell in enumerate(parts.values())])


def _typed_points(key: str, columns: Sequence[Cell], rows: int) -> list[list[object]] | None:
    """Return the points typed; those without anything are none."""
    points = (
        _filled([cell.written(st.session_state[f"{key}{row}.{at}."]) for at, cell in enumerate(columns)])
        for row in range(rows)
    )
    return [point for point in points if point] or None


def _filled(cells: Sequence[object]) -> list[object] | None:
    """Return cells with an empty text for each that is empty, if not all are."""
    return None if all(cell is None for cell in cells) else ["" if cell is None else cell for cell in cells]


def day_of(given: object) -> date | None:
    """Return a day of a file; None where it is none."""
    try:
        return given if isinstance(given, date) else date.fromisoformat(given) if isinstance(given, str) else None
    except ValueError:
        return None


def is_missing(fault: Fault) -> bool:
    """Return whether a fault says that something is not filled in yet."""
    return fault.message.startswith("Is missing")
