"""The tables of a study file: one model a table, one line a key, in the order of the file."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, create_model

from filtration.base.defaults import STUDY_DEFAULTS, UNKNOWNS
from filtration.base.units import MOST_USES, USUAL_FLOW
from filtration.physics.soil import Feet, Surroundings
from filtration.study import keys
from filtration.study.key_lists import points, ratios
from filtration.study.keys import Key, Size, choice, number, quantity, whole
from filtration.study.values import Disinfectant, Dust, Kind, Points

_PRICE = number(0, 1e9)
_COUNT = whole(0, 100)
_SHARE = number(0, 1)
_RATING = quantity("length", "0.1 um", "2000 um", like="20 um")
_USUAL_HEAD = ("0.2 m", "30 m")
_HEAD = quantity("length", "0 m", "200 m", usual=_USUAL_HEAD)
_HOSE = quantity("length", "0 m", "1000 m", like="3 m", usual=("0.2 m", "50 m"))
_DEPTH = quantity("length", "5 cm", "10 m", like="0.7 m", usual=("0.3 m", "2 m"))
_SURFACE = quantity("area", "0.01 m^2", "1000 m^2", usual=("0.1 m^2", "20 m^2"))
_WARMTH = quantity("temperature", "0.5 degC", "90 degC", like="20 degC")
_LOSS = quantity("pressure", "1 Pa", "10 bar", usual=("100 Pa", "5 bar"))
_FLOW = quantity("flow", "10 L/h", "1000 m^3/h", usual=USUAL_FLOW)
_ANY_FLOW = quantity("flow", "0 L/h", "1000 m^3/h", usual=USUAL_FLOW)
_TIME = quantity("time", "0.1 day", "100 year")
_TIME_OR_NEVER = quantity("time", "0.1 day", "100 year", never=True)
_LABEL = choice("nominal", "absolute")
_CURVE = points("[['0 L/h', '2.4 m'], ['2400 L/h', '0 m']]", least=2, falls="head", flow=_ANY_FLOW, head=_HEAD)
_LIFT_TEST = points("[['0 m', '24 L/min'], ['1.2 m', '9 L/min']]", least=2, falls="flow", lift=_HEAD, flow=_ANY_FLOW)
_TEST_FLOW = quantity("flow", "1 L/h", "1000 m^3/h", usual=USUAL_FLOW)
_CLEAN_LOSS = points("[['8 L/min', '1.2 kPa']]", least=1, flow=_TEST_FLOW, loss=_LOSS)
_BETA = points("[['10 um', 5], ['20 um', 75]]", least=1, size=_RATING, beta_ratio=number(1, 1e7, above=True))


def _default(key: str) -> Any:  # noqa: ANN401 - a field's default stands in for a value of any type
    return Field(default=STUDY_DEFAULTS[key], validate_default=True)


class StudyTable(BaseModel):
    """A table of the file: its keys and no others."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @classmethod
    def key(cls, name: str) -> Key[Any] | None:
        """Return how a key is read; None for a table and for what is no key."""
        field = cls.model_fields.get(name)
        return next((part for part in field.metadata if isinstance(part, Key)), None) if field else None

    def in_si(self) -> dict[str, Any]:
        """Return what it holds by the names that fields of the program have: a key, then its unit, as in depth_m."""
        return {f"{name}{key.suffix if (key := self.key(name)) else ''}": value for name, value in self}


class TubTable(StudyTable):
    """The tub, its bathers and its water."""

    volume: Annotated[float, quantity("volume", "1 L", "100 m^3", usual=("100 L", "2000 L"))]
    water_temperature: Annotated[float, quantity("temperature", "0.5 degC", "45 degC")]
    uses_per_day: Annotated[float, number(0, MOST_USES, "dips a day")]
    uses_by_month: Annotated[tuple[float, ...], ratios(keys.MONTHS, MOST_USES)] = ()
    uses_by_weekday: Annotated[tuple[float, ...], ratios(keys.WEEKDAYS, MOST_USES)] = ()
    depth: Annotated[float, _DEPTH] = _default("tub.depth")
    open_surface: Annotated[float, _SURFACE] = _default("tub.open_surface")
    sessions_per_day: Annotated[float, number(0.01, 100, "sessions a day")] = _default("tub.sessions_per_day")
    showered_share: Annotated[float, _SHARE] = _default("tub.showered_share")
    feet: Annotated[Feet, choice("rinsed", "indoors", "from the garden")] = _default("tub.feet")
    surroundings: Annotated[Surroundings, choice("outdoors", "indoors")] = _default("tub.surroundings")
    uncovered_hours_per_day: Annotated[float, number(0, 24, "h")] = _default("tub.uncovered_hours_per_day")
    water_change_every: Annotated[float | None, _TIME_OR_NEVER] = None
    disinfectant: Annotated[Disinfectant, choice("kept", "none", "not stated")] = _default("tub.disinfectant")
    shared_with_public: Annotated[bool, keys.FLAG] = _default("tub.shared_with_public")
    dye_even_after: Annotated[float | None, quantity("time", "0 min", "30 day", like="10 min")] = None
    still_share: Annotated[float, number(0.02, 0.9)] = _default("tub.still_share")
    air_temperature: Annotated[float, quantity("temperature", "-40 degC", "60 degC")] = _default("tub.air_temperature")
    air_humidity: Annotated[float, number(0.01, 1)] = _default("tub.air_humidity")
    fill_temperature: Annotated[float, quantity("temperature", "0 degC", "60 degC")] = _default("tub.fill_temperature")


class PumpTable(StudyTable):
    """A pump as its box or its owner's readings describe it."""

    name: Annotated[str, keys.NAME] = _default("pump.name")
    shutoff_head: Annotated[float | None, quantity("length", "1 cm", "200 m", usual=_USUAL_HEAD)] = None
    max_flow: Annotated[float | None, _FLOW] = None
    curve: Annotated[Points, _CURVE] = ()
    share_of_box_flow: Annotated[float, number(0.1, 1.05)] = _default("pump.share_of_box_flow")
    power: Annotated[float, quantity("power", "0 W", "20 kW", usual=("2 W", "3 kW"))]
    placed: Annotated[Literal["in the water", "outside"], choice("in the water", "outside")] = _default("pump.placed")
    hours_per_day: Annotated[float, number(0, 24, "h", above=True)] = _default("pump.hours_per_day")
    price: Annotated[float, _PRICE] = _default("pump.price")
    life: Annotated[float, _TIME] = _default("pump.life")


class PlumbingTable(StudyTable):
    """Hoses, bends and fittings."""

    bore: Annotated[float | None, quantity("length", "1 mm", "500 mm", like="19 mm")] = None
    length: Annotated[float | None, _HOSE] = None
    elbows_90: Annotated[int, _COUNT] = _default("plumbing.elbows_90")
    hose_barbs: Annotated[int, _COUNT] = _default("plumbing.hose_barbs")
    other_k: Annotated[float, number(0, 1000)] = _default("plumbing.other_k")
    roughness: Annotated[float, quantity("length", "0 mm", "5 mm", like="0.0015 mm")] = _default("plumbing.roughness")
    static_lift: Annotated[float, quantity("length", "0 m", "50 m", like="0.3 m")] = _default("plumbing.static_lift")
    length_outside: Annotated[float, _HOSE] = _default("plumbing.length_outside")
    insulation: Annotated[float, quantity("length", "0 mm", "200 mm", like="10 mm")] = _default("plumbing.insulation")


class MeasuredTable(StudyTable):
    """What the owner measured."""

    lift_test: Annotated[Points, _LIFT_TEST] = ()


class CoolingTable(StudyTable):
    """The cooler."""

    cop: Annotated[float, number(0.1, 20)] = _default("cooling.cop")
    share_of_year: Annotated[float, _SHARE] = _default("cooling.share_of_year")


class NeedsTable(StudyTable):
    """What the owner wants of the filter."""

    turnovers_per_hour: Annotated[float, number(0.01, 100, "an hour")] = _default("needs.turnovers_per_hour")
    flow: Annotated[float | None, _FLOW] = None
    share_of_clean_flow: Annotated[float | None, number(0, 1, above=True, below=True)] = None
    see_through: Annotated[float | None, quantity("length", "1 cm", "80 m", like="3 m", usual=("0.3 m", "20 m"))] = None
    max_pressure_rise: Annotated[float | None, _LOSS] = None
    rinse_at_least_every: Annotated[float, _TIME_OR_NEVER] = _default("needs.rinse_at_least_every")
    replace_at_least_every: Annotated[float, _TIME_OR_NEVER] = _default("needs.replace_at_least_every")
    discard_after: Annotated[float, quantity("time", "1 day", "10 year")] = _default("needs.discard_after")
    shortest_run: Annotated[float | None, quantity("time", "0 day", "100 year")] = None


class PricesTable(StudyTable):
    """What things cost, in the study's currency."""

    electricity_per_kwh: Annotated[float, _PRICE] = _default("prices.electricity_per_kwh")
    water_per_m3: Annotated[float, _PRICE] = _default("prices.water_per_m3")
    water_per_1000_gal: Annotated[float | None, _PRICE] = None
    own_time_per_hour: Annotated[float, _PRICE] = _default("prices.own_time_per_hour")
    disposal_each: Annotated[float, _PRICE] = _default("prices.disposal_each")
    disinfectant_per_month: Annotated[float, _PRICE] = _default("prices.disinfectant_per_month")
    discount_rate: Annotated[float, number(-0.5, 1)] = _default("prices.discount_rate")
    horizon: Annotated[float, quantity("time", "1 day", "50 year")] = _default("prices.horizon")


_SPREADS: Any = {unknown.key: (Annotated[float | None, number(1, 20)], None) for unknown in UNKNOWNS if unknown.spread}
_SPREADS_DOC = "Geometric spreads by name; 1 is known exactly."
UncertaintyTable = create_model("UncertaintyTable", __base__=StudyTable, __doc__=_SPREADS_DOC, **_SPREADS)


class ReadingsTable(StudyTable):
    """How far off the owner's own way of reading may be."""

    watch: Annotated[float, quantity("time", "0 s", "1 min", like="0.3 s")] = _default("readings.watch")
    bucket_level: Annotated[float, number(0, 0.5)] = _default("readings.bucket_level")
    bucket_mark: Annotated[float, number(0, 0.5)] = _default("readings.bucket_mark")


class ElementTable(StudyTable):
    """One element."""

    name: Annotated[str, keys.NAME]
    kind: Annotated[Kind, choice(*get_args(Kind))]
    size: Annotated[Size | None, keys.SIZE] = None
    rating: Annotated[float | None, _RATING] = None
    rating_means: Annotated[Literal["nominal", "absolute"], _LABEL] = _default("elements.rating_means")
    price: Annotated[float, _PRICE] = _default("elements.price")
    length: Annotated[float | None, quantity("length", "1 cm", "5 m", like="250 mm")] = None
    outer_diameter: Annotated[float | None, quantity("length", "1 cm", "1 m", like="63 mm")] = None
    inner_diameter: Annotated[float | None, quantity("length", "1 mm", "1 m", like="28 mm")] = None
    area: Annotated[float | None, quantity("area", "1 cm^2", "100 m^2", usual=("20 cm^2", "10 m^2"))] = None
    thickness: Annotated[float | None, quantity("length", "0.1 mm", "1 m", like="50 mm")] = None
    pleats: Annotated[int | None, whole(2, 2000)] = None
    pleat_depth: Annotated[float | None, quantity("length", "1 mm", "50 cm", like="15 mm")] = None
    pores_per_inch: Annotated[float | None, number(4, 200)] = None
    clean_loss: Annotated[Points, _CLEAN_LOSS] = ()
    clean_loss_at: Annotated[float, _WARMTH] = _default("elements.clean_loss_at")
    beta: Annotated[Points, _BETA] = ()
    dirt_capacity: Annotated[float | None, quantity("mass", "0.01 g", "100 kg")] = None
    dirt_capacity_at: Annotated[float | None, _LOSS] = None
    dirt_capacity_dust: Annotated[Dust, choice(*get_args(Dust))] = _default("elements.dirt_capacity_dust")
    rinse_minutes: Annotated[float, number(0, 1440, "min")] = _default("elements.rinse_minutes")
    rinse_water: Annotated[float, quantity("volume", "0 L", "10 m^3", like="20 L")] = _default("elements.rinse_water")
    rinse_recovery: Annotated[float | None, number(0, 1, below=True)] = None
    soak_every_rinses: Annotated[int, whole(0, 1000)] = _default("elements.soak_every_rinses")
    soak_recovery: Annotated[float, number(0, 1, below=True)] = _default("elements.soak_recovery")
    soak_price: Annotated[float, _PRICE] = _default("elements.soak_price")
    soak_minutes: Annotated[float, number(0, 1440, "min")] = _default("elements.soak_minutes")
    lead_time: Annotated[float | None, quantity("time", "0 day", "5 year")] = None
    suppliers: Annotated[int | None, whole(0, 1000)] = None


class OptionTable(StudyTable):
    """What could be fitted: elements in the order the water meets them."""

    name: Annotated[str, keys.NAME]
    stages: Annotated[tuple[str, ...], keys.NAMES]
    housings_in_parallel: Annotated[int, whole(1, 50)] = _default("options.housings_in_parallel")
    housing_price: Annotated[float, _PRICE] = _default("options.housing_price")
    housing_life: Annotated[float, _TIME] = _default("options.housing_life")


class InUseTable(StudyTable):
    """What is fitted now."""

    option: Annotated[str, keys.NAME]
    since: Annotated[str, keys.DAY]


class StudyFile(StudyTable):
    """The whole file."""

    format: Annotated[int, keys.FORMAT] = 1
    name: Annotated[str, keys.NAME]
    id: Annotated[str | None, keys.ID] = None
    currency: Annotated[str, keys.CURRENCY] = _default("currency")
    tub: TubTable
    pump: PumpTable | None = None
    pumps: Annotated[list[PumpTable], Field(min_length=1, max_length=50)] | None = None
    plumbing: PlumbingTable | None = None
    measured: MeasuredTable = Field(default_factory=MeasuredTable)
    cooling: CoolingTable = Field(default_factory=CoolingTable)
    needs: NeedsTable = Field(default_factory=NeedsTable)
    prices: PricesTable = Field(default_factory=PricesTable)
    uncertainty: UncertaintyTable = Field(default_factory=UncertaintyTable)  # type: ignore[valid-type]  # made above
    readings: ReadingsTable = Field(default_factory=ReadingsTable)
    elements: Annotated[list[ElementTable], Field(min_length=1, max_length=200)]
    options: Annotated[list[OptionTable], Field(min_length=1, max_length=500)] | None = None
    in_use: InUseTable | None = None


def _table_in(annotation: object) -> type[StudyTable] | None:
    """Return the table that an annotation such as ``list[PumpTable] | None`` speaks of."""
    if isinstance(annotation, type) and issubclass(annotation, StudyTable):
        return annotation
    return next(filter(None, map(_table_in, get_args(annotation))), None)


TABLES: Mapping[str, type[StudyTable]] = {
    name: table for name, field in StudyFile.model_fields.items() if (table := _table_in(field.annotation))
}
LISTS = frozenset({"pumps", "elements", "options"})
