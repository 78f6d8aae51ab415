"""Every default and assumption of the model, once.

The table feeds the study's defaults, the list of assumptions in an answer, and the documentation. Values of study keys
are written as in a study file; values of the model are plain numbers in the unit named. Marks: ``P`` published,
``T`` common practice in the trade, ``A`` our assumption; ``mem`` in a source means recalled from memory.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from filtration.base.units import US_GALLON_M3

Value = float | str | bool
_US_GPM = US_GALLON_M3 / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Default:
    """One row of the table; ``tried`` is how far it may plausibly lie, where a fifth either way makes no sense."""

    key: str
    value: Value
    unit: str
    mark: str
    source: str
    tried: tuple[Value, ...]


def _row(key: str, value: Value, mark: str, source: str, unit: str = "", *, tried: tuple[Value, ...] = ()) -> Default:
    return Default(key=key, value=value, unit=unit, mark=mark, source=source, tried=tried)


_STUDY = (
    _row("currency", "EUR", "A", "shown, never converted"),
    _row("tub.depth", "0.7 m", "A", "a converted chest freezer"),
    _row("tub.open_surface", "0.9 m^2", "A", "a converted chest freezer"),
    _row("tub.sessions_per_day", 1, "A", "all dips of a day close together", tried=(1, 3)),
    _row("tub.showered_share", 0.5, "A", "every second bather showers first", tried=(0, 1)),
    _row("tub.feet", "indoors", "A", "walked indoors before the dip"),
    _row("tub.surroundings", "outdoors", "A", "a tub in a garden or yard"),
    _row("tub.uncovered_hours_per_day", 4.0, "A", "lid on for the rest of the day", "h", tried=(1, 12)),
    _row("tub.disinfectant", "not stated", "A", "growth in the deposit is then counted"),
    _row("tub.shared_with_public", False, "A", "a household or closed club"),
    _row("tub.still_share", 0.3, "A", "share of the water that lags, where dye_even_after is stated", tried=(0.1, 0.6)),
    _row("tub.air_temperature", "20 degC", "A", "mean over the time the cooler runs", tried=("10 degC", "30 degC")),
    _row("tub.air_humidity", 0.6, "A", "relative humidity around the hoses"),
    _row("tub.fill_temperature", "12 degC", "A", "mains water", tried=("7 degC", "20 degC")),
    _row("pump.name", "pump", "A", "the only pump"),
    _row("pump.share_of_box_flow", 0.9, "A", "five small boat pumps gave 0.67 to 0.85 (BoatUS)", tried=(0.7, 1)),
    _row("pump.placed", "in the water", "T", "converted chest freezers usually carry a submersible pump"),
    _row("pump.hours_per_day", 24.0, "T", "small pumps run all day", "h", tried=(12, 24)),
    _row("pump.price", 0.0, "A", "already bought", tried=(0, 100)),
    _row("pump.life", "4 year", "A", "small pumps"),
    _row("plumbing.elbows_90", 2, "A", "one each way", tried=(0, 6)),
    _row("plumbing.hose_barbs", 2, "A", "one at each end", tried=(0, 6)),
    _row("plumbing.other_k", 4.0, "P", "entry 0.5, exit 1.0, one housing 2.5 (mem)", tried=(3, 6)),
    _row("plumbing.roughness", "0.0015 mm", "P", "smooth plastic", tried=("0.0015 mm", "0.05 mm")),
    _row("plumbing.static_lift", "0 m", "A", "outlet below the water", tried=("0 m", "0.3 m")),
    _row("plumbing.length_outside", "0 m", "A", "hoses inside the tub", tried=("0 m", "1 m")),
    _row("plumbing.insulation", "0 mm", "A", "bare hoses", tried=("0 mm", "10 mm")),
    _row("cooling.cop", 2.0, "A", "1.2 to 2.6 seen", tried=(1.2, 2.6)),
    _row("cooling.share_of_year", 1.0, "A", "the cooler runs all year", tried=(0.5, 1)),
    _row("needs.turnovers_per_hour", 3.0, "T", "the tub's volume three times an hour"),
    _row("needs.rinse_at_least_every", "14 day", "A", "hygiene, whatever the flow"),
    _row("needs.replace_at_least_every", "60 day", "A", "what cannot be rinsed"),
    _row("needs.discard_after", "365 day", "T", "a year of rinsing"),
    _row("prices.electricity_per_kwh", 0.30, "A", "household tariff"),
    _row("prices.water_per_m3", 4.0, "A", "water and drain"),
    _row("prices.own_time_per_hour", 0.0, "A", "own time is shown, not valued", tried=(0, 15)),
    _row("prices.disposal_each", 0.5, "A", "a share of a bin"),
    _row("prices.disinfectant_per_month", 0.0, "A", "not stated", tried=(0, 5)),
    _row("prices.discount_rate", 0.03, "A", "real rate", tried=(0, 0.06)),
    _row("prices.horizon", "5 year", "A", "of the dated plan"),
    _row("elements.rating_means", "nominal", "T", "a micron rating without a measured beta ratio"),
    _row("elements.price", 0.0, "A", "not stated", tried=(0, 20)),
    _row("elements.clean_loss_at", "20 degC", "T", "makers measure at room temperature", tried=("15 degC", "25 degC")),
    _row("elements.dirt_capacity_dust", "test dust", "T", "makers load with a mineral test dust (ISO 12103-1)"),
    _row("elements.rinse_minutes", 10.0, "A", "hose and bucket", "min"),
    _row("elements.rinse_water", "20 L", "A", "hose and bucket"),
    _row("elements.soak_every_rinses", 4, "A", "an overnight soak after every fourth rinse", tried=(2, 8)),
    _row("elements.soak_recovery", 0.70, "A", "share of what is left that a soak takes off"),
    _row("elements.soak_price", 1.0, "A", "degreaser for one soak"),
    _row("elements.soak_minutes", 10.0, "A", "own time only", "min"),
    _row("readings.watch", "0.3 s", "A", "a watch in the hand; 0.1 s on a measurement laboratory's bench (P)"),
    _row("readings.bucket_level", 0.02, "A", "of a bucket: the level at its mark, anew each time"),
    _row("readings.bucket_mark", 0.03, "A", "of a bucket's mark, shared by all its readings; 0 for a weighed bucket"),
    _row("options.housings_in_parallel", 1, "A", "one housing"),
    _row("options.housing_price", 35.0, "A", "a common housing with its fittings"),
    _row("options.housing_life", "10 year", "A", "a common housing"),
)

_MODEL = (
    _row("pump.exponent", 1.6, "P", "curves of three simple small pumps fit 1.45, 1.64, 1.75"),
    _row("pump.exponent_least", 1.0, "P", "electronically driven pumps at their power limit 0.97"),
    _row("pump.exponent_most", 2.7, "P", "electronically driven pumps at one speed 2.34 to 2.67"),
    _row("pump.box_flow_most", 1.05, "A", "of the flow on the box: none gives much more"),
    _row("plumbing.elbow_k", 0.75, "P", "90 degree elbow (mem)"),
    _row("plumbing.barb_k", 1.5, "P", "hose barb (mem)"),
    _row("plumbing.housing_k", 2.5, "P", "filter housing on the bore's velocity (mem)"),
    _row("plumbing.entry_k", 0.5, "P", "entry into the hose, a part of other_k (mem)"),
    _row("plumbing.after_tee", 0.5, "A", "share of hose, bends and barbs after a tee before the housing"),
    _row("media.core_k", 2.0, "A", "a cartridge's core"),
    _row("media.core_diameter", 0.025, "A", "a cartridge's core", "m"),
    _row("media.spun_fibre_per_root_micron", 6.5e-6, "P", "a printed 10 um, 10-inch: 0.73 psi at 6.6 US gal/min", "m"),
    _row("media.spun_solid_fraction", 0.20, "A", "melt-blown, pressed denser than the web's 0.05 to 0.15"),
    _row("media.wound_fibre", 21.5e-6, "P", "polypropylene yarn of 3.3 dtex", "m"),
    _row("media.wound_solid_fraction", 0.494, "P", "at 1 um; set on one printed series, 3 to 75 um, second hand"),
    _row("media.wound_solid_exponent", -0.183, "P", "of the rating in um; set on the same series"),
    _row("media.depth_shell", 0.018, "A", "rated medium of a thick depth body; inside it coarse support", "m"),
    _row("media.sheet_fine", 5e-6, "P", "rating below which a sheet's fibre is thicker than the rating", "m"),
    _row("media.sheet_fine_exponent", 0.65, "P", "sheets of 1, 2 and 5 um lose as 1 : 0.38 : 0.125"),
    _row("media.sheet_finest", 1e-6, "A", "below it, a membrane rather than a sheet", "m"),
    _row("media.sheet_solid_fraction", 0.18, "A", "pleated sheet"),
    _row("media.sheet_thickness", 0.5e-3, "A", "pleated sheet", "m"),
    _row("media.foam_solid_fraction", 0.045, "P", "Bhattacharya, Calmidi & Mahajan 2002 (mem)"),
    _row("media.foam_strut_times_ppi", 280e-6 * 20, "P", "Bhattacharya, Calmidi & Mahajan 2002 (mem)", "m"),
    _row("media.foam_inertia", 0.09, "P", "Bhattacharya, Calmidi & Mahajan 2002 (mem)"),
    _row("media.foam_rating_times_ppi", 7000e-6, "A", "350 um at 20 pores per inch", "m"),
    _row("media.depth_layers", 24, "A", "part of the loading law's definition"),
    _row("media.sheet_layers", 8, "A", "part of the loading law's definition"),
    _row("capture.nominal_at_rating", 0.85, "P", "the usual meaning of nominal; NSF/ANSI 42 uses 85 %"),
    _row("capture.foam_at_rating", 0.60, "A", "50 mm of foam"),
    _row("capture.foam_thickness", 0.050, "A", "the thickness that share belongs to", "m"),
    _row("capture.bypass", 0.11, "A", "end seals and wide pores"),
    _row("capture.slope", 3.0, "A", "wound, spun, pad, pleated"),
    _row("capture.foam_slope", 2.0, "A", "foam"),
    _row("capture.straining_cake", 0.200, "A", "cake on a pleated sheet strains finer dirt", "kg/m2"),
    _row("capture.straining_diameter", 5e-6, "A", "dirt of this size and more is strained in full", "m"),
    _row("loading.deposit_density", 100.0, "A", "dry mass over the space it takes; 40 to 250", "kg/m3"),
    _row(
        "loading.cake_resistance",
        5e11,
        "A",
        "at 10 kPa; CaCO3 5.9e10, talc 7.4e11; organic flocs 1e12-1e13 (mem)",
        "m/kg",
    ),
    _row("loading.cake_exponent", 0.6, "A", "compressible cake"),
    _row("loading.cake_least_pressure", 500.0, "A", "floor of the cake's power law", "Pa"),
    _row("loading.onset_void_filled", 0.375, "A", "of the outermost layer's void, where all dirt stays on the face"),
    _row("loading.full_solid_fraction", 0.97, "A", "a layer that takes no more"),
    _row("loading.full_gap_share", 0.95, "A", "cake over the free half-gap of pleats"),
    _row("loading.growth_per_day", 0.02, "A", "growth in the deposit at 4 degC, doubling every 10 degC", "1/day"),
    _row("capacity.temperature", 20.0, "T", "makers test at room temperature", "degC"),
    _row("capacity.dust_median", 10e-6, "P", "test dust, ISO 12103-1 (mem)", "m"),
    _row("capacity.dust_spread", 3.0, "P", "test dust, ISO 12103-1, geometric (mem)"),
    _row("capacity.flow_10_slim", 3 * _US_GPM, "P", "trade chart, 10 x 2.5 in, middle of 2-4 US gal/min", "m3/s"),
    _row("capacity.flow_20_slim", 6.5 * _US_GPM, "P", "trade chart, 20 x 2.5 in, middle of 5-8 US gal/min", "m3/s"),
    _row("capacity.flow_10_wide", 7.5 * _US_GPM, "P", "trade chart, 10 x 4.5 in, middle of 5-10 US gal/min", "m3/s"),
    _row("capacity.flow_20_wide", 12.5 * _US_GPM, "P", "trade chart, 20 x 4.5 in, middle of 10-15 US gal/min", "m3/s"),
    _row("capacity.least_density", 10.0, "A", "thinnest deposit that a capacity may ask for", "kg/m3"),
    _row("soil.skin_per_dip", 60e-6, "A", "20 to 300 mg; Keuten 2014 counts 1.3e9 particles in 30 min (mem)", "kg"),
    _row("soil.hair_per_dip", 20e-6, "A", "hair and lint", "kg"),
    _row("soil.fines_per_dip", 20e-6, "A", "fine and oily matter", "kg"),
    _row("soil.feet_rinsed", 5e-6, "A", "a dip", "kg"),
    _row("soil.feet_indoors", 50e-6, "A", "a dip", "kg"),
    _row("soil.feet_garden", 500e-6, "A", "a dip", "kg"),
    _row("soil.dust_outdoors", 0.15e-3, "P", "dust fall on open water (mem)", "kg/m2/day"),
    _row("soil.dust_indoors", 0.005e-3, "P", "dust fall on open water (mem)", "kg/m2/day"),
    _row("soil.skin_median", 30e-6, "A", "skin flakes and clumps, by mass", "m"),
    _row("soil.skin_spread", 2.2, "A", "geometric, of their sizes"),
    _row("soil.hair_median", 500e-6, "A", "hair and lint, by mass", "m"),
    _row("soil.hair_spread", 1.6, "A", "geometric, of their sizes"),
    _row("soil.fines_median", 3e-6, "A", "fine and oily matter, by mass", "m"),
    _row("soil.fines_spread", 2.0, "A", "geometric, of its sizes"),
    _row("soil.feet_median", 80e-6, "A", "grit that feet bring, by mass", "m"),
    _row("soil.feet_spread", 2.5, "A", "geometric, of its sizes"),
    _row("soil.dust_median", 20e-6, "A", "dust that falls in, by mass", "m"),
    _row("soil.dust_spread", 3.0, "A", "geometric, of its sizes"),
    _row("soil.shower_takes_off", 0.40, "A", "of skin, hair and fine matter"),
    _row("soil.mineral_counts_as", 0.10, "A", "a gram of grit in a deposit, as organic dirt"),
    _row("soil.organic_density", 1200.0, "A", "dry", "kg/m3"),
    _row("soil.mineral_density", 2650.0, "P", "quartz", "kg/m3"),
    _row("optics.water", 0.06, "P", "clearest natural water, Davies-Colley", "1/m"),
    _row("optics.haze", 0.3, "A", "dissolved and colloidal, fresh water", "1/m"),
    _row("optics.haze_per_dip", 0.01, "A", "for each dip since the change per 100 L", "1/m"),
    _row("optics.black_disc", 4.8, "P", "Davies-Colley 1988"),
    _row("optics.organic_index", 1.05, "A", "refractive index in water"),
    _row("optics.mineral_index", 1.16, "A", "refractive index in water"),
    _row("optics.most_said", 10.0, "A", "a longer see-through distance is said as more than this", "m"),
    _row("needs.depths_seen", 4.0, "A", "see-through target, times the depth"),
    _row("water.life_most", 60.0, "A", "water is changed at least this often unless the owner says", "day"),
    _row("water.spa_rule", 3.0, "P", "Maine 10-144 CMR 202 App. B: US gallons / 3 / bathers a day"),
    _row("service.pleated_rinse", 0.90, "A", "0.75 to 0.97"),
    _row("service.foam_rinse", 0.95, "A", "squeezed out"),
    _row("service.most_left", 0.90, "A", "the most a bad rinse leaves behind"),
    _row("service.replace_share", 0.20, "A", "of the loop's extra loss, from which a spent stage is replaced"),
    _row("service.shortest_share", 0.5, "A", "of the first run"),
    _row("service.shortest_days", 3.0, "A", "least run an owner puts up with, unless stated", "day"),
    _row("service.shortest_most_share", 0.8, "A", "of the first run: so much of it those days are at most"),
    _row("service.least_days", 1.0, "A", "but not less than this: nobody rinses more often", "day"),
    _row("advice.dearer_share", 0.1, "A", "of the cheapest's cartridges, rinsing, disposal, own time: little dearer"),
    _row("advice.chance_less", 0.05, "A", "chance below the surest's at which an option is about as sure"),
    _row("advice.equal_share", 0.5, "A", "of what is little dearer: as good"),
    _row("advice.least_hours", 8.0, "A", "fewest pump hours a day proposed", "h"),
    _row("advice.least_volumes_a_day", 4.0, "A", "of the tub, through the filter: nor hours with less"),
    _row("advice.fewer_turnovers", 0.5, "A", "an hour: a need eased a little"),
    _row("advice.longer_water", 2.0, "A", "times the present life of the water: the longest proposed"),
    _row("advice.longer_limit", 1.5, "A", "times a time limit: a need eased a little"),
    _row("advice.due_chance", 0.5, "A", "chance that a service is due, from which it is told to be"),
    _row("advice.soon_chance", 0.1, "A", "chance that it is due within a week, from which a reading comes first"),
    _row("readings.flow", 0.03, "A", "of a flow read off a meter or worked out by the owner"),
    _row("readings.column_height", 0.005, "A", "of the water in a clear tube", "m"),
    _row("readings.column", 0.02, "A", "of a clear tube: the tub's water it is counted from"),
    _row("readings.dips_day_to_day", 0.5, "A", "of a day's counted dips: how far days differ from their mean"),
    _row("readings.dips_of_a_year", 0.15, "A", "of counted dips: how well counted days stand for the whole year"),
    _row("readings.gauge_least", 500.0, "A", "of a dial gauge, the larger of this and the next", "Pa"),
    _row("readings.gauge", 0.02, "A", "of a dial gauge"),
    _row("readings.return_spread", 1.3, "A", "geometric, of what lies after a tee; shared by columns and pressures"),
    _row("readings.model", 0.01, "A", "what the model itself is off, from reading to reading"),
    _row("stock.service_level", 0.95, "T", "chance that spares last until the next delivery"),
    _row("energy.motor_heat_share", 0.3, "A", "of a dry pump's losses, carried into the water"),
    _row("energy.hose_bare", 0.73, "P", "25 mm bore, derived", "W/m/K"),
    _row("energy.hose_10mm", 0.35, "P", "25 mm bore in 10 mm foam, derived", "W/m/K"),
)


@dataclass(frozen=True, slots=True)
class Unknown:
    """Something not known exactly.

    Parameters
    ----------
    key : str
        Its name, also under ``[uncertainty]``.
    spread : float
        Geometric standard deviation of a lognormal factor of median 1 [-]; 0 where bounds say it.
    words : str
        What it is, for a reader.
    low, high : float
        Bounds of a value between which all are as likely.
    """

    key: str
    spread: float
    words: str
    low: float = 0.0
    high: float = 0.0

    @property
    def law(self) -> str:
        """A "lognormal" factor, or a value that is "uniform" between two bounds."""
        return "lognormal" if self.spread else "uniform"


UNKNOWNS: tuple[Unknown, ...] = (
    Unknown("load_per_dip", 1.8, "the dirt a bather brings"),
    Unknown("uses", 1.3, "how many dips there are"),
    Unknown("dust", 2.0, "the dust that falls in"),
    Unknown("deposit_density", 1.5, "how densely the dirt packs"),
    Unknown("cake_resistance", 3.0, "resistance of the cake"),
    Unknown("permeability", 1.3, "clean pressure drop of the cartridge"),
    Unknown("wound_permeability", 1.8, "clean pressure drop of a string-wound cartridge"),
    Unknown("capture_size", 1.3, "what its micron rating means"),
    Unknown("haze", 3.0, "haze that no cartridge catches"),
    Unknown("growth", 2.0, "growth in the deposit"),
    Unknown("rinse_loss", 1.5, "what a rinse leaves behind"),
    Unknown("sum_k", 1.4, "pressure drop in bends and fittings"),
    Unknown("prices", 1.1, "prices"),
    Unknown("slope", 1.25, "how sharply the cartridge separates sizes"),
    Unknown("straining_cake", 2.0, "how well a cake strains"),
    Unknown("onset", 0.0, "when dirt stays on the face", low=-0.08, high=0.08),
    Unknown("pump_exponent", 1.3, "the pump's curve between its two numbers"),
    Unknown("box_flow", 1.15, "how much of the flow on its box the pump gives"),
)
PLACES: Mapping[str, int] = {unknown.key: place for place, unknown in enumerate(UNKNOWNS)}
"""Where each unknown stands among all of them, by its key."""

STUDY_DEFAULTS: Mapping[str, Value] = {row.key: row.value for row in _STUDY}
TABLE: tuple[Default, ...] = _STUDY + _MODEL
_BY_KEY = {row.key: row for row in _MODEL}


def shortest_run_words() -> str:
    """Return the rule for the shortest run an owner puts up with who does not say, see ``service.care``.

    Examples
    --------
    >>> shortest_run_words()
    'half the first run, at least 3 days; of a short run four fifths, at least 1 day'
    """
    share, most = model("service.shortest_share"), model("service.shortest_most_share")
    days, least = model("service.shortest_days"), model("service.least_days")
    return (
        f"{_SHARES[share]} the first run, at least {days:g} days; of a short run {_SHARES[most]}, at least "
        f"{least:g} day{'' if least == 1.0 else 's'}"
    )


_SHARES = {0.5: "half", 0.8: "four fifths"}


def model(key: str) -> float:
    """Return one constant of the model, in the unit its row names.

    Examples
    --------
    >>> model("optics.black_disc")
    4.8
    """
    return float(_BY_KEY[key].value)
