"""The keys of a study as fields of a page: the units shown, and how what is typed becomes a file's value."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import page_state

from filtration import InputError
from filtration.base.units import MEASURES, Measure, as_typed, in_unit, read_quantity, typed_number
from filtration.study.keys import MONTHS, SIZES, WEEKDAYS, Key
from filtration.study.tables import TABLES, StudyFile

Look = Literal["number", "word", "flag", "text", "day", "list", "points", "names", "option"]
Units = tuple[str, str]
"""Metric and US; empty for a plain number."""

_USUAL: Mapping[Measure, Units] = {
    "length": ("m", "ft"),
    "area": ("m^2", "sq ft"),
    "volume": ("L", "gal"),
    "flow": ("L/h", "gph"),
    "pressure": ("cm of water", "in of water"),
    "power": ("W", "W"),
    "mass": ("g", "g"),
    "temperature": ("degC", "degF"),
    "time": ("day", "day"),
}
_SMALL = ("mm", "in")
_UNITS: Mapping[str, Units] = {
    **dict.fromkeys(("plumbing.bore", "plumbing.insulation"), _SMALL),
    **{f"elements.{key}": _SMALL for key in ("length", "outer_diameter", "inner_diameter", "thickness", "pleat_depth")},
    **dict.fromkeys(("pump.life", "prices.horizon", "options.housing_life"), ("year", "year")),
    "tub.dye_even_after": ("min", "min"),
    "plumbing.roughness": ("mm", "mm"),
    "readings.watch": ("s", "s"),
    "elements.rating": ("um", "um"),
    "elements.dirt_capacity_at": ("bar", "psi"),
}
_STEPS: Mapping[str, tuple[float, float]] = {
    "tub.volume": (10.0, 5.0),
    "tub.showered_share": (0.1, 0.1),
    "pump.shutoff_head": (0.1, 0.5),
    "pump.max_flow": (100.0, 25.0),
    "plumbing.bore": (1.0, 0.05),
    "plumbing.length": (0.5, 1.0),
    "needs.turnovers_per_hour": (0.5, 0.5),
}
_LISTS: Mapping[str, tuple[str, ...]] = {"tub.uses_by_month": MONTHS, "tub.uses_by_weekday": WEEKDAYS}
_POINTS: Mapping[str, tuple[tuple[Measure | None, Units], ...]] = {
    "pump.curve": (("flow", ("L/h", "gph")), ("length", ("m", "ft"))),
    "measured.lift_test": (("length", ("m", "ft")), ("flow", ("L/min", "gpm"))),
    "elements.clean_loss": (("flow", ("L/min", "gpm")), ("pressure", ("kPa", "psi"))),
    "elements.beta": (("length", ("um", "um")), (None, ("", ""))),
}
_OWN: Mapping[str, Look] = {"options.stages": "names", "in_use.option": "option"}
_LARGEST = 1e9  # of a price, and of a plain number without limits of its own


@dataclass(frozen=True)
class Cell:
    """A number on a page: of a measure in the unit shown, or a plain one between two limits."""

    measure: Measure | None = None
    unit: str = ""
    least: float = 0.0
    most: float = _LARGEST

    def shown(self, value: object) -> str:
        """Return a value of a file as a field shows it: what is no number as it was typed."""
        number = self.number(value)
        if number is None:
            return "" if value is None else str(value).removesuffix(f" {self.unit}")
        own = f"{number:.6g}" == f"{number:.9g}"  # not the outcome of a conversion
        return f"{float(f'{number:.{6 if own else 3}g}'):.10g}"

    def number(self, value: object) -> float | None:
        """Return a value of a file in the unit shown; None where it is no number."""
        if self.measure is None:
            return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
        try:
            return in_unit(read_quantity(value, self.measure), self.unit)
        except InputError:
            return None

    def written(self, text: str | None) -> object:
        """Return what is typed as a file has it, None where nothing is; what is no number stays as it is."""
        if not text or not text.strip():
            return None
        if self.measure is not None:
            return as_typed(text, self.unit)
        try:
            number = typed_number(text, self.least, self.most)
        except InputError:
            return text.strip()
        return int(number) if number.is_integer() else number

    def fault(self, value: object) -> str:
        """Return what is wrong with a plain number that is none; empty where it is one."""
        if self.measure is None and isinstance(value, str):
            try:
                typed_number(value, self.least, self.most)
            except InputError as error:
                return str(error)
        return ""


@dataclass(frozen=True)
class Field:
    """One key of a study's file, as a page shows it."""

    place: str
    """Table and key, as the wording has them."""

    @property
    def table(self) -> str:
        """The table of the file; empty for its top."""
        return self.place.rpartition(".")[0]

    @property
    def key(self) -> str:
        """The key in that table."""
        return self.place.rpartition(".")[2]

    @property
    def _schema(self) -> Mapping[str, Any]:
        return self._reader.schema

    @property
    def _reader(self) -> Key[Any]:
        found = (TABLES[self.table] if self.table else StudyFile).key(self.key)
        assert found is not None, self.place  # noqa: S101 - every place is one of the schema
        return found

    @property
    def look(self) -> Look:
        """What kind of widget it is."""
        if self.place in _OWN:
            return _OWN[self.place]
        if self.place in _LISTS or self.place in _POINTS:
            return "list" if self.place in _LISTS else "points"
        if self.words or self._schema.get("type") == "boolean":
            return "word" if self.words else "flag"
        if self._schema.get("type") == "string" and not self.measure:
            return "day" if self._schema.get("format") == "date" else "text"
        return "number"

    @property
    def words(self) -> tuple[str, ...]:
        """Of which words it is one; none where it is not."""
        return tuple(self._schema.get("enum", SIZES if self.key == "size" else ()))

    @property
    def measure(self) -> Measure | None:
        """The measure of its number; None of a plain number and of what is none."""
        suffix = self._reader.suffix
        return next((name for name, held in MEASURES.items() if held.suffix == suffix), None)

    def unit(self) -> str | None:
        """Return the unit shown now."""
        measure = self.measure
        return _UNITS.get(self.place, _USUAL[measure])[page_state.display().us] if measure else None

    def step(self) -> float:
        """Return the step of a slider in that unit."""
        return _STEPS.get(self.place, (1.0, 1.0))[page_state.display().us]

    def cell(self) -> Cell:
        """Return how its number is shown and read."""
        schema = self._schema
        least, most = (schema.get(end, schema.get(f"exclusive{end.title()}", 0.0)) for end in ("minimum", "maximum"))
        return Cell(self.measure, self.unit() or "", least, most or _LARGEST)

    def parts(self) -> dict[str, Cell]:
        """Return what the numbers of its list stand for, and how each is shown and read."""
        most = self._schema["items"]["maximum"]
        return {name: Cell(most=most) for name in _LISTS[self.place]}

    def columns(self) -> tuple[Cell, ...]:
        """Return how the columns of its points are shown and read."""
        us = page_state.display().us
        return tuple(Cell(measure, units[us]) for measure, units in _POINTS[self.place])

    def value(self, tables: Mapping[str, Any], at: int | None = None) -> Any:  # noqa: ANN401 - whatever stands in a file
        """Return what a file says, in one entry of a list where that is meant; None where it says nothing."""
        return page_state.table_in(tables, self.table, at).get(self.key)

    def read(self, value: object) -> float | None:
        """Return a value of a file in the unit shown; None where it is no number."""
        return self.cell().number(value)

    def written(self, value: float) -> object:
        """Return a number in the unit shown as a file has it."""
        return self.cell().written(f"{value:.10g}")
