"""The frozen values of a study, in SI units."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from inspect import signature
from math import hypot
from typing import Any, Literal

from filtration.base.defaults import model
from filtration.base.draws import Belief
from filtration.physics import media
from filtration.physics.capture import curve_through_betas
from filtration.physics.cost import Prices
from filtration.physics.energy import Cooling
from filtration.physics.media import Medium
from filtration.physics.plumbing import Plumbing
from filtration.physics.pump import Pump
from filtration.physics.soil import Surroundings
from filtration.physics.tub import Tub
from filtration.physics.water import water_at

Kind = Literal["foam", "spun", "wound", "pleated"]
RINSED: frozenset[Kind] = frozenset({"foam", "pleated"})
"""Kinds that are rinsed and used again; the others are disposable."""
DEPTH: frozenset[Kind] = frozenset({"spun", "wound"})
"""Kinds that catch throughout a thick body."""
Limit = Literal["flow", "pressure", "full", "time limit", "clarity"]
Dust = Literal["test dust", "like the tub's"]
Disinfectant = Literal["kept", "none", "not stated"]
Points = tuple[tuple[float, float], ...]
_LONGEST_NAME_SHOWN, _MOST_NAMES_SHOWN = 40, 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One element as its owner describes it.

    Parameters
    ----------
    name, kind, rating_m : str, {"foam", "spun", "wound", "pleated"}, float
        Name, kind and micron rating [m].
    absolute : bool
        The maker calls the rating absolute.
    outer_radius_m, inner_radius_m, length_m : float or None
        Depth cylinder or pleats [m].
    area_m2, thickness_m : float or None
        Flat pad or foam [m2], [m]; pleated: area of the sheet.
    pores_per_inch : float or None
        Foam.
    clean_loss : tuple of (float, float)
        Maker's flow [m3/s] and loss [Pa].
    clean_loss_at_c : float
        Temperature those were measured at [degC].
    beta : tuple of (float, float)
        Maker's particle diameter [m] and beta ratio [-].
    capacity_kg, capacity_at_pa : float or None
        Maker's dirt capacity [kg] and the terminal loss it belongs to [Pa].
    capacity_dust : {"test dust", "like the tub's"}
        What that was measured with.
    price : float
        To buy one.
    rinse_minutes, rinse_water_m3, rinse_recovery : float
        Own time [min], water [m3] and share of the deposit taken off by one rinse [-].
    soak_every_rinses, soak_recovery, soak_price, soak_minutes : int, float, float, float
        Rinses from one soak to the next (0: never), share of what is left taken off [-], price, own time [min].
    lead_time_days, suppliers : float or None, int or None
        Days from order to delivery, number of suppliers.
    """

    name: str
    kind: Kind
    rating_m: float
    absolute: bool
    outer_radius_m: float | None
    inner_radius_m: float | None
    length_m: float | None
    area_m2: float | None
    thickness_m: float | None
    pores_per_inch: float | None
    clean_loss: Points
    clean_loss_at_c: float
    beta: Points
    capacity_kg: float | None
    capacity_at_pa: float | None
    capacity_dust: Dust
    price: float
    rinse_minutes: float
    rinse_water_m3: float
    rinse_recovery: float
    soak_every_rinses: int
    soak_recovery: float
    soak_price: float
    soak_minutes: float
    lead_time_days: float | None
    suppliers: int | None

    @property
    def rinseable(self) -> bool:
        """Whether the element can be rinsed and used again."""
        return self.kind in RINSED

    @property
    def capacity_counts_as(self) -> float:
        """What a gram of the stated capacity counts in a deposit [-]: a mineral test dust as grit does."""
        return model("soil.mineral_counts_as") if self.capacity_dust == "test dust" else 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """What could be fitted: elements in the order the water meets them.

    Parameters
    ----------
    id, name : str
        Identifier and name.
    stages : tuple of Element
        The elements in series.
    housings_in_parallel : int
        Equal trains side by side.
    housing_price, housing_life_years : float
        Price of a housing and years it lasts.
    """

    id: str
    name: str
    stages: tuple[Element, ...]
    housings_in_parallel: int
    housing_price: float
    housing_life_years: float

    @property
    def housings_in_series(self) -> int:
        """Housings the water passes one after the other; a foam block ahead of one sits on the pump's intake."""
        return max(1, sum(stage.kind != "foam" for stage in self.stages))

    @property
    def housed(self) -> tuple[bool, ...]:
        """Which stages sit in housings rather than on the pump's intake."""
        foam = [stage.kind == "foam" for stage in self.stages]
        return tuple(all(foam) or not each for each in foam)

    @property
    def set_price(self) -> float:
        """Price of its elements, bought once."""
        return sum(element.price for element in self.stages) * self.housings_in_parallel

    @property
    def housings(self) -> int:
        """Housings in all."""
        return self.housings_in_series * self.housings_in_parallel


@dataclass(frozen=True, slots=True)
class Hand:
    """How far off a bucket read by hand is: watch [s]; level at the mark, anew each time, and the mark itself [-]."""

    watch_s: float
    bucket_level: float
    bucket_mark: float

    @property
    def bucket(self) -> float:
        """Of one bucket that takes its time [-]."""
        return hypot(self.bucket_level, self.bucket_mark)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """What is fitted now: the option's id and the ISO 8601 day it was fitted new."""

    option: str
    since: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """A default that a study leans on; as text, one line "key = value".

    Parameters
    ----------
    key : str
        A key of the study file, its table in front.
    value : str
        What is taken for it, without quotes.
    told : str
        The same as a study file has it, and where it comes from.
    names : tuple of str
        Which of equal tables lean on it; empty where all do.
    """

    key: str
    value: str
    told: str
    names: tuple[str, ...] = ()

    def __str__(self) -> str:
        """Return it as "key = value", with the names of those that lean on it."""
        return f"{self.key} = {self.with_names}"

    @property
    def with_names(self) -> str:
        """What is told, with the names of those that lean on it, long ones cut and the last of many left out."""
        if not self.names:
            return self.told
        few = ", ".join(name[:_LONGEST_NAME_SHOWN] for name in self.names[:_MOST_NAMES_SHOWN])
        more = len(self.names) - _MOST_NAMES_SHOWN
        return f"{self.told} ({few}{f' and {more} more' if more > 0 else ''})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What the owner wants of the filter.

    Parameters
    ----------
    flow_m3_s : float or None
        Least flow [m3/s]; None where a share of the clean flow is asked instead.
    share_of_clean_flow : float or None
        Least flow over the clean one [-].
    see_through_m : float
        Least see-through distance [m].
    max_pressure_rise_pa : float
        Most pressure over the clean filter's [Pa]; infinite where none is stated.
    rinse_limit_days, replace_limit_days, discard_days : float
        Longest times between rinses, and between replacements of what cannot be rinsed, and the age at which any
        element is discarded [day]; infinite for never.
    shortest_run_days : float or None
        Shortest run the owner puts up with [day]; None: by the rule of ``shortest_run_words``.
    """

    flow_m3_s: float | None
    share_of_clean_flow: float | None
    see_through_m: float
    max_pressure_rise_pa: float
    rinse_limit_days: float
    replace_limit_days: float
    discard_days: float
    shortest_run_days: float | None

    def oldest_days(self, rinseable: Sequence[bool]) -> list[float]:
        """Age at which each of some elements is replaced in any case [day]."""
        unrinsed = min(self.replace_limit_days, self.discard_days)
        return [self.discard_days if each else unrinsed for each in rinseable]

    def between_days(self, rinseable: bool) -> float:  # noqa: FBT001 - what is asked of an option
        """Longest time between services where anything can be rinsed [day]."""
        return self.rinse_limit_days if rinseable else float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """Everything the program knows of one tub.

    Parameters
    ----------
    name, currency : str
        Name of the study and the currency shown.
    tub : Tub
        The tub, its bathers and its water.
    water_rule_days : float
        Water life by the public-spa rule [day], infinite where nobody bathes.
    water_never_changed : bool
        The owner says that the water is never changed.
    disinfectant : {"kept", "none", "not stated"}
        What the owner says of a residual.
    shared_with_public : bool
        Guests bathe in it.
    surroundings : {"outdoors", "indoors"}
        Where it stands.
    air_temperature_c, air_humidity, fill_temperature_c : float
        Air [degC], [-]; fresh water [degC].
    pumps : tuple of Pump
        The pumps to compare.
    plumbing : Plumbing or None
        The loop; None where a lift test replaces it and none is given.
    lift_test : tuple of (float, float)
        Lift [m] and flow [m3/s] without an element, lifts rising; empty where none was made.
    needs, cooling, prices : Needs, Cooling, Prices
        What is wanted, the cooler, what things cost.
    options : tuple of Option
        What could be fitted.
    in_use : Fitted or None
        What is fitted now.
    hand : Hand
        How far off its owner's readings are.
    us : bool
        It is written in gallons, so that its owner is answered in US units.
    spreads : mapping of str to float
        Geometric spreads by name, over the defaults.
    id : str
        What its readings hang on, whatever it is called; empty where the file has none.
    belief : Belief or None
        What readings say of the unknowns, see ``believed``.
    assumed : tuple of Assumed
        The defaults the study leans on.
    tables : mapping
        The tables and keys it was read from, for whoever would set some of them otherwise.
    """

    name: str
    currency: str
    tub: Tub
    water_rule_days: float
    water_never_changed: bool
    disinfectant: Disinfectant
    shared_with_public: bool
    surroundings: Surroundings
    air_temperature_c: float
    air_humidity: float
    fill_temperature_c: float
    pumps: tuple[Pump, ...]
    plumbing: Plumbing | None
    lift_test: Points
    needs: Needs
    cooling: Cooling
    prices: Prices
    options: tuple[Option, ...]
    in_use: Fitted | None
    hand: Hand
    us: bool
    spreads: Mapping[str, float]
    assumed: tuple[Assumed, ...]
    id: str = ""
    belief: Belief | None = None
    tables: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    def id_of(self, option: Option, pump: Pump) -> str:
        """Return the id of an option on a pump: with an @ and the pump's name where there are several."""
        return f"{option.id}@{pump.name}" if len(self.pumps) > 1 else option.id

    @property
    def on_pumps(self) -> dict[str, tuple[Option, Pump]]:
        """Every option on every pump, by its id; pump by pump."""
        return {self.id_of(option, pump): (option, pump) for pump in self.pumps for option in self.options}

    @property
    def elements_driven(self) -> int:
        """Elements of all options, counted on every pump: what an answer works out."""
        return len(self.pumps) * sum(len(option.stages) for option in self.options)

    @property
    def names(self) -> dict[str, str]:
        """The name of every option on every pump, by its id: Pleated 20, with several pumps Pleated 20 on Pond pump."""
        several = len(self.pumps) > 1
        return {
            each: f"{option.name} on {pump.name}" if several else option.name
            for each, (option, pump) in self.on_pumps.items()
        }

    @property
    def elements(self) -> dict[str, Element]:
        """Every element of its options, by name."""
        return {element.name: element for option in self.options for element in option.stages}


def _by_law(element: Element) -> Medium:
    """Return an element by its kind, rating and shape alone."""
    laws: Mapping[str, Callable[..., Medium]] = {
        "foam": media.foam,
        "pleated": media.pleated,
        "spun": media.spun if element.thickness_m is None else media.pad,
        "wound": media.wound,
    }
    law = laws[element.kind]
    return law(**{name: getattr(element, name) or 0.0 for name in signature(law).parameters})


def medium_of(element: Element) -> Medium:
    """Return the medium of an element; a maker's clean losses and beta ratios win over the law.

    Parameters
    ----------
    element : Element
        The element as its owner describes it.

    Returns
    -------
    Medium
        Its layers, face and capture curve. A dirt capacity is a ceiling, in grams as a deposit counts them; what it
        says of the deposit's density is left to ``capacity``.

    Raises
    ------
    ValueError
        If the clean losses given are impossible for such an element.
    """
    medium = _by_law(element)
    if element.clean_loss:
        medium = media.fitted_to_clean_loss(medium, element.clean_loss, water_at(element.clean_loss_at_c))
    if element.beta:
        slope, thickness = medium.capture.slope, medium.capture.thickness
        measured = curve_through_betas(element.rating_m, element.beta, slope=slope, thickness=thickness)
        medium = replace(medium, capture=measured)
    if element.capacity_kg is None:
        return medium
    return replace(medium, capacity_kg=element.capacity_kg * element.capacity_counts_as)


def rinse_price(element: Element, prices: Prices) -> float:
    """Return what one rinse of an element costs, own time included."""
    return element.rinse_water_m3 * prices.water_per_m3 + element.rinse_minutes / 60.0 * prices.own_time_per_hour


def soak_price(element: Element, prices: Prices) -> float:
    """Return what one soak of an element costs, own time included."""
    return element.soak_price + element.soak_minutes / 60.0 * prices.own_time_per_hour
