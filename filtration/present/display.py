"""The units that figures are shown in."""

from dataclasses import dataclass
from functools import cache

from filtration.base.units import Values, in_unit

INK = "#6b7b85"


@dataclass(frozen=True, slots=True, kw_only=True)
class Display:
    """Units to show, as a study file takes them, and the colour of letters, None for that of the chart's place."""

    flow: str = "L/h"
    pressure: str = "cm of water"
    length: str = "m"
    mass: str = "g"
    volume: str = "L"
    ink: str | None = None

    @property
    def us(self) -> bool:
        """Whether these are US units."""
        return self.flow == "gph"

    @property
    def letters(self) -> str:
        """The colour of letters amid the marks, which have no place to take it from."""
        return self.ink or INK

    def flow_of(self, litres_per_hour: Values) -> Values:
        """Return a flow [L/h] in the unit shown."""
        return litres_per_hour * _factor("L/h", self.flow)

    def pressure_of(self, kpa: Values) -> Values:
        """Return a pressure [kPa] in the unit shown."""
        return kpa * _factor("kPa", self.pressure)

    def length_of(self, metres: float) -> float:
        """Return a length [m] in the unit shown."""
        return metres * _factor("m", self.length)

    def mass_of(self, grams: float) -> float:
        """Return a mass [g] in the unit shown."""
        return grams * _factor("g", self.mass)


@cache
def _factor(unit: str, other: str) -> float:
    return in_unit(1.0, other) / in_unit(1.0, unit)


METRIC = Display()
