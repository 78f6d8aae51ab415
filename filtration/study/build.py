"""The tables of a study file to the frozen values of a study, with the list of the defaults it leans on."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from inspect import signature
from math import inf, isinf
from typing import Any, TypeVar

import numpy as np

from filtration.base.defaults import STUDY_DEFAULTS, model, shortest_run_words
from filtration.base.errors import option_of
from filtration.base.units import SECONDS_PER_DAY, in_unit, read_quantity, written
from filtration.physics import cost, energy, plumbing, pump, soil
from filtration.physics.media import foam_rating_m
from filtration.physics.tub import Tub, spa_rule_days
from filtration.physics.water import water_at
from filtration.study.rules import fitted_names, slug
from filtration.study.tables import (
    ElementTable,
    InUseTable,
    NeedsTable,
    OptionTable,
    PricesTable,
    PumpTable,
    StudyFile,
    StudyTable,
    TubTable,
)
from filtration.study.values import RINSED, Assumed, Element, Fitted, Hand, Needs, Option, Study

T = TypeVar("T")
MONTH_DAYS = (31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0)
_REPLACED_BY_LIFT_TEST = {"share_of_box_flow", "elbows_90", "hose_barbs", "other_k", "roughness", "static_lift"}


def study_of(file: StudyFile, *, us: bool = False) -> Study:
    """Build a study, in the program's units, from a file without faults, written in US units or not."""
    tub, stated_days = file.tub, file.tub.water_change_every
    never = stated_days is not None and isinf(stated_days)
    rule_days = spa_rule_days(tub.volume, tub.uses_per_day)
    usual_days = min(model("water.life_most"), rule_days)
    water_life_days = file.prices.horizon if never else usual_days if stated_days is None else stated_days
    elements = {table.name: element_of(table) for table in file.elements}
    options = tuple(_option(table, place, elements) for place, table in enumerate(_option_tables(file), start=1))
    return _value(
        Study,
        tub,
        name=file.name,
        id=file.id or "",
        currency=file.currency,
        tub=_tub(tub, water_life_days),
        water_rule_days=rule_days,
        water_never_changed=never,
        pumps=tuple(map(_pump, _pump_tables(file))),
        plumbing=_plumbing(file),
        lift_test=file.measured.lift_test,
        needs=_needs(file.needs, tub),
        cooling=_value(energy.Cooling, file.cooling),
        prices=_value(cost.Prices, file.prices, water_per_m3=_water_per_m3(file.prices)),
        options=options,
        in_use=_fitted(file.in_use, options, _pump_tables(file)) if file.in_use else None,
        hand=_value(Hand, file.readings, watch_s=file.readings.watch * SECONDS_PER_DAY),
        us=us,
        spreads=file.uncertainty.model_dump(exclude_none=True),  # type: ignore[attr-defined]  # its class is made of the unknowns
        assumed=tuple(_assumed(file, usual_days)),
    )


def _value(kind: Callable[..., T], table: StudyTable, **worked_out: Any) -> T:  # noqa: ANN401 - fields of any type
    """Return what a table says, by the names of fields or parameters, together with what is worked out."""
    said = table.in_si()
    return kind(**{name: said[name] for name in _parameters(kind) if name in said} | worked_out)


@cache
def _parameters(kind: Callable[..., object]) -> tuple[str, ...]:
    return tuple(signature(kind).parameters)


def _tub(table: TubTable, water_life_days: float) -> Tub:
    return _value(
        Tub,
        table,
        water=water_at(table.water_temperature),
        uses_by_month=over_mean(table.uses_by_month, MONTH_DAYS),
        uses_by_weekday=over_mean(table.uses_by_weekday),
        water_life_days=water_life_days,
        sources=_value(soil.sources, table),
        disinfectant_kept=table.disinfectant == "kept",
        dye_even_after_days=table.dye_even_after or 0.0,
    )


def over_mean(numbers: Sequence[float], weights: Sequence[float] = ()) -> tuple[float, ...]:
    """Return numbers of at least 0 over their mean, each counting by its weight; none of none.

    Examples
    --------
    >>> over_mean((1.0, 1.0, 4.0)), over_mean(())
    ((0.5, 0.5, 2.0), ())
    """
    if not numbers:
        return ()
    largest = max(numbers)  # or the mean of very small ones is none
    shares = [number / largest for number in numbers]
    mean = float(np.average(shares, weights=weights or None))
    return tuple(share / mean for share in shares)


def _pump_tables(file: StudyFile) -> list[PumpTable]:
    return [file.pump] if file.pump else file.pumps or []


def _pump(table: PumpTable) -> pump.Pump:
    in_water, life_years = table.placed == "in the water", in_unit(table.life, "year")
    return _value(pump.Pump, table, points=table.curve, in_water=in_water, life_years=life_years)


def _fitted(table: InUseTable, options: Sequence[Option], pumps: Sequence[PumpTable]) -> Fitted:
    names = fitted_names({option.id: option.name for option in options}, [each.name for each in pumps])
    return _value(Fitted, table, option=option_of(names, table.option))


def _plumbing(file: StudyFile) -> plumbing.Plumbing | None:
    """Return the loop; under a lift test, which holds the hose's friction, its length may be left out."""
    table = file.plumbing
    return _value(plumbing.Plumbing, table, length_m=table.length or 0.0) if table and table.bore is not None else None


def _needs(table: NeedsTable, tub: TubTable) -> Needs:
    turned_over = table.turnovers_per_hour * (tub.volume * in_unit(1.0, "h") / in_unit(1.0, "s"))
    flow = turned_over if table.flow is None else table.flow
    return _value(
        Needs,
        table,
        flow_m3_s=flow if table.share_of_clean_flow is None else None,
        see_through_m=_see_through_m(tub) if table.see_through is None else table.see_through,
        max_pressure_rise_pa=inf if table.max_pressure_rise is None else table.max_pressure_rise,
        rinse_limit_days=table.rinse_at_least_every,
        replace_limit_days=table.replace_at_least_every,
        discard_days=table.discard_after,
    )


def _water_per_m3(table: PricesTable) -> float:
    per_1000_gal = table.water_per_1000_gal
    return table.water_per_m3 if per_1000_gal is None else per_1000_gal / read_quantity("1000 gal", "volume")


def _see_through_m(tub: TubTable) -> float:
    return model("needs.depths_seen") * tub.depth


def element_of(table: ElementTable) -> Element:
    """Return an element as its table describes it, the shape of a common size filled in."""
    size, outer, inner = table.size, table.outer_diameter, table.inner_diameter
    return _value(
        Element,
        table,
        rating_m=foam_rating_m(table.pores_per_inch or 0.0) if table.rating is None else table.rating,
        absolute=table.rating_means == "absolute",
        outer_radius_m=size.outer_radius_m if size else outer and outer / 2.0,
        inner_radius_m=size.inner_radius_m if size else inner and inner / 2.0,
        length_m=size.length_m if size else table.length,
        area_m2=_sheet_m2(table),
        capacity_kg=table.dirt_capacity,
        capacity_at_pa=table.dirt_capacity_at,
        capacity_dust=table.dirt_capacity_dust,
        rinse_recovery=_rinse_recovery(table),
    )


def _sheet_m2(table: ElementTable) -> float | None:
    """Return the area of a pleated sheet: given, of its pleats (two faces each), or usual for the size."""
    if table.area is not None or table.kind != "pleated":
        return table.area
    if table.pleats is None or table.pleat_depth is None:
        return table.size.pleated_m2 if table.size else None
    length = table.size.length_m if table.size else table.length
    return 2.0 * table.pleats * table.pleat_depth * length if length else None


def _rinse_recovery(table: ElementTable) -> float:
    if table.rinse_recovery is not None:
        return table.rinse_recovery
    return model(f"service.{table.kind}_rinse") if table.kind in RINSED else 0.0


def _option_tables(file: StudyFile) -> list[OptionTable]:
    return file.options or [OptionTable(name=each.name, stages=(each.name,)) for each in file.elements]


def _option(table: OptionTable, place: int, elements: Mapping[str, Element]) -> Option:
    stages, life_years = tuple(elements[name] for name in table.stages), in_unit(table.housing_life, "year")
    return _value(Option, table, id=slug(table.name, place), stages=stages, housing_life_years=life_years)


def _assumed(file: StudyFile, water_life_days: float) -> Iterator[Assumed]:
    """Yield the defaults a study leans on, in the order of the file, with names where not all of equal tables do."""
    if "currency" not in file.model_fields_set:
        yield _default("currency")
    alike: Mapping[str, Any] = {"pump": _pump_tables(file), "options": _option_tables(file)}
    for place in ("tub", "pump", "plumbing", "cooling", "needs", "prices", "elements", "options"):
        told = alike.get(place) or getattr(file, place) or []
        rows: list[StudyTable] = told if isinstance(told, list) else [told]
        if place == "options" and file.options is None:
            alone = "each cartridge alone, in one housing"
            yield Assumed(key=place, value=alone, told=alone)
        for key in type(rows[0]).model_fields if rows else ():
            leaning: dict[Assumed, list[str]] = {}
            for row in rows:
                found = None if key in row.model_fields_set else _taken(f"{place}.{key}", row, file, water_life_days)
                if found:
                    leaning.setdefault(found, []).append(getattr(row, "name", ""))
            for found, names in leaning.items():
                yield found if len(names) == len(rows) else replace(found, names=tuple(names))


@cache
def _default(key: str) -> Assumed:
    """Return what the table of defaults says of a key."""
    value = STUDY_DEFAULTS[key]
    text = as_text(value)
    return Assumed(key=key, value=text, told=f'"{text}"' if isinstance(value, str) else text)


def as_text(value: float | str | bool) -> str:  # noqa: FBT001 - what a key of a study file may hold
    """Return a value as a study file has it, without quotes."""
    if isinstance(value, bool):
        return str(value).lower()
    return value if isinstance(value, str) else f"{value:g}"


def _taken(key: str, row: Any, file: StudyFile, water_life_days: float) -> Assumed | None:  # noqa: ANN401 - any table
    """Return what is taken for a key that a table leaves out; None where nothing is."""
    match key:
        case "tub.water_change_every":
            value = written(water_life_days, "day", 2)
            told = f'"{value}" (shorter of {model("water.life_most"):g} days and the spa rule)'
        case "needs.see_through":
            value = written(_see_through_m(file.tub), "m")
            told = f'{model("needs.depths_seen"):g} x depth = "{value}"'
        case "needs.shortest_run":
            value = told = shortest_run_words()
        case "elements.rating" if row.pores_per_inch:
            value = written(foam_rating_m(row.pores_per_inch), "um")
            told = f'{in_unit(model("media.foam_rating_times_ppi"), "um"):g} um / pores_per_inch = "{value}"'
        case "elements.area" if row.size and row.kind == "pleated" and row.pleats is None:
            value = written(row.size.pleated_m2, "m^2")
            told = f'"{value}" for the size'
        case "elements.rinse_recovery" if row.kind in RINSED:
            value = told = f"{_rinse_recovery(row):g}"
        case _:
            return _default(key) if key in STUDY_DEFAULTS and not _unused(key, row, file) else None
    return Assumed(key=key, value=value, told=told)


def _unused(key: str, row: Any, file: StudyFile) -> bool:  # noqa: ANN401 - any table
    """Return whether the rest of a study makes no use of a default."""
    name = key.partition(".")[2]
    if key.startswith("elements."):
        return (
            (name.startswith(("rinse_", "soak_")) and row.kind not in RINSED)
            or (name in {"soak_recovery", "soak_price", "soak_minutes"} and row.soak_every_rinses == 0)
            or (name == "clean_loss_at" and not row.clean_loss)
            or (name == "dirt_capacity_dust" and row.dirt_capacity is None)
            or (name == "rating_means" and (row.kind == "foam" or bool(row.beta)))
        )
    return (
        key == "pump.name"
        or (key == "pump.share_of_box_flow" and row.max_flow is None)
        or (key == "tub.still_share" and row.dye_even_after is None)
        or (name in _REPLACED_BY_LIFT_TEST and bool(file.measured.lift_test))
        or (key == "needs.turnovers_per_hour" and bool(row.model_fields_set & {"flow", "share_of_clean_flow"}))
        or (key == "prices.water_per_m3" and row.water_per_1000_gal is not None)
        or (key == "options.housings_in_parallel" and file.options is None)
    )
