"""How figures are shown: in which units, and in which colours on a light or a dark ground."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from filtration.base.units import Values, in_unit

INK = "#6b7b85"
"""Of levels and rules, on either ground."""
COLOURS = {"pleated": "#2b80bd", "spun": "#d2601a", "wound": "#a8790b", "foam": "#0f9670", "train": "#b5649f"}
"""Kinds on a light ground, where each line stands out by 3 : 1 or more; below, on a dark one, and second lines."""
_ON_DARK = {"pleated": "#57aee6", "spun": "#f08c4c", "wound": "#d8ae45", "foam": "#3fc598", "train": "#dd93cb"}
_SECOND = {"pleated": "#123f66", "spun": "#7a3206", "wound": "#5a4006", "foam": "#06543a", "train": "#6b2f5a"}
_SECOND_ON_DARK = {"pleated": "#b9e0fb", "spun": "#ffcfae", "wound": "#f5e0a3", "foam": "#b4f0da", "train": "#f6cfec"}
_LETTERS, _LETTERS_ON_DARK = "#33434c", "#c3d0d6"


@dataclass(frozen=True, slots=True, kw_only=True)
class Display:
    """Units to show, as a study file takes them, and whether the ground is dark."""

    flow: str = "L/h"
    pressure: str = "cm of water"
    length: str = "m"
    mass: str = "g"
    volume: str = "L"
    dark: bool = False

    @property
    def us(self) -> bool:
        """Whether these are US units."""
        return self.flow == "gph"

    @property
    def letters(self) -> str:
        """The colour of letters."""
        return _LETTERS_ON_DARK if self.dark else _LETTERS

    @property
    def colours(self) -> Mapping[str, str]:
        """The colour of each kind of element."""
        return _ON_DARK if self.dark else COLOURS

    @property
    def second_colours(self) -> Mapping[str, str]:
        """The colour of a second line of a kind."""
        return _SECOND_ON_DARK if self.dark else _SECOND

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
