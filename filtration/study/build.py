"""The tables of a study file to the frozen values of a study, with the list of the defaults it leans on."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from math import isinf
from typing import Any

from filtration.base.defaults import STUDY_DEFAULTS, model
from filtration.base.units import in_unit, written
from filtration.physics.cost import Prices
from filtration.physics.energy import Cooling
from filtration.physics.media import foam_rating_m
from filtration.physics.plumbing import Plumbing
from filtration.physics.pump import Pump
from filtration.physics.soil import sources
from filtration.physics.tub import Tub, spa_rule_days
from filtration.physics.water import water_at
from filtration.study.ratios import MONTH_DAYS, over_mean
from filtration.study.rules import slug
from filtration.study.tables import (
    ElementTable,
    NeedsTable,
    OptionTable,
    PlumbingTable,
    PumpTable,
    StudyFile,
    TubTable,
)
from filtration.study.values import Assumed, Element, InUse, Needs, Option, Study

_REPLACED_BY_LIFT_TEST = {"elbows_90", "hose_barbs", "other_k", "roughness", "static_lift"}


def study_of(file: StudyFile) -> Study:
    """Build a study from a file without faults.

    Parameters
    ----------
    file : StudyFile
        Its tables.

    Returns
    -------
    Study
        Frozen values in the program's units.
    """
    tub, prices = file.tub, file.prices
    rule_days = spa_rule_days(tub.volume, tub.uses_per_day)
    stated_days = tub.water_change_every
    never = stated_days is not None and isinf(stated_days)
    usual_days = min(model("water.life_most"), rule_days)
    elements = {table.name: _element(table) for table in file.elements}
    return Study(
        name=file.name,
        currency=file.currency,
        tub=_tub(tub, prices.horizon if never else usual_days if stated_days is None else stated_days),
        water_rule_days=rule_days,
        water_never_changed=never,
        disinfectant=tub.disinfectant,
        shared_with_public=tub.shared_with_public,
        surroundings=tub.surroundings,
        air_temperature_c=tub.air_temperature,
        air_humidity=tub.air_humidity,
        fill_temperature_c=tub.fill_temperature,
        pumps=tuple(map(_pump, _pump_tables(file))),
        plumbing=_plumbing(file.plumbing),
        lift_test=file.measured.lift_test,
        needs=_needs(file.needs, tub),
        cooling=Cooling(cop=file.cooling.cop, share_of_year=file.cooling.share_of_year),
        prices=Prices(**prices.model_dump(exclude={"horizon"}), horizon_days=prices.horizon),
        options=tuple(_options(file, elements)),
        in_use=InUse(option=file.in_use.option, since=file.in_use.since) if file.in_use else None,
        spreads=file.uncertainty.model_dump(exclude_none=True),
        assumed=tuple(_assumed(file, usual_days)),
    )


def _tub(table: TubTable, water_life_days: float) -> Tub:
    return Tub(
        volume_m3=table.volume,
        depth_m=table.depth,
        water=water_at(table.water_temperature),
        uses_per_day=table.uses_per_day,
        uses_by_month=over_mean(table.uses_by_month, MONTH_DAYS),
        uses_by_weekday=over_mean(table.uses_by_weekday),
        sessions_per_day=table.sessions_per_day,
        water_life_days=water_life_days,
        sources=sources(
            uses_per_day=table.uses_per_day,
            showered_share=table.showered_share,
            feet=table.feet,
            surroundings=table.surroundings,
            open_surface_m2=table.open_surface,
            uncovered_hours_per_day=table.uncovered_hours_per_day,
        ),
        disinfectant_kept=table.disinfectant == "kept",
    )


def _pump_tables(file: StudyFile) -> list[PumpTable]:
    return [file.pump] if file.pump else file.pumps or []


def _pump(table: PumpTable) -> Pump:
    return Pump(
        name=table.name,
        shutoff_head_m=table.shutoff_head,
        max_flow_m3_s=table.max_flow,
        points=table.curve,
        power_w=table.power,
        in_water=table.placed == "in the water",
        hours_per_day=table.hours_per_day,
        price=table.price,
        life_years=in_unit(table.life, "year"),
    )


def _plumbing(table: PlumbingTable | None) -> Plumbing | None:
    """Return the loop; under a lift test, which holds the hose's friction, its length may be left out."""
    if table is None or table.bore is None:
        return None
    return Plumbing(
        bore_m=table.bore,
        length_m=table.length or 0.0,
        elbows_90=table.elbows_90,
        hose_barbs=table.hose_barbs,
        other_k=table.other_k,
        roughness_m=table.roughness,
        static_lift_m=table.static_lift,
        length_outside_m=table.length_outside,
        insulation_m=table.insulation,
    )


def _needs(table: NeedsTable, tub: TubTable) -> Needs:
    per_hour_m3_s = tub.volume * in_unit(1.0, "h") / in_unit(1.0, "s")
    flow = table.flow if table.flow is not None else table.turnovers_per_hour * per_hour_m3_s
    return Needs(
        flow_m3_s=flow if table.share_of_clean_flow is None else None,
        share_of_clean_flow=table.share_of_clean_flow,
        see_through_m=_see_through_m(tub) if table.see_through is None else table.see_through,
        max_pressure_rise_pa=float("inf") if table.max_pressure_rise is None else table.max_pressure_rise,
        rinse_limit_days=table.rinse_at_least_every,
        replace_limit_days=table.replace_at_least_every,
        discard_days=table.discard_after,
        shortest_run_days=table.shortest_run,
    )


def _see_through_m(tub: TubTable) -> float:
    return model("needs.depths_seen") * tub.depth


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
    return 0.0 if table.kind == "depth" else model(f"service.{table.kind}_rinse")


def _element(table: ElementTable) -> Element:
    size = table.size
    return Element(
        name=table.name,
        kind=table.kind,
        rating_m=foam_rating_m(table.pores_per_inch or 0.0) if table.rating is None else table.rating,
        absolute=table.rating_means == "absolute",
        outer_radius_m=size.outer_radius_m if size else _half(table.outer_diameter),
        inner_radius_m=size.inner_radius_m if size else _half(table.inner_diameter),
        length_m=size.length_m if size else table.length,
        area_m2=_sheet_m2(table),
        thickness_m=table.thickness,
        pores_per_inch=table.pores_per_inch,
        clean_loss=table.clean_loss,
        clean_loss_at_c=table.clean_loss_at,
        beta=table.beta,
        capacity_kg=table.dirt_capacity,
        capacity_at_pa=table.dirt_capacity_at,
        price=table.price,
        rinse_minutes=table.rinse_minutes,
        rinse_water_m3=table.rinse_water,
        rinse_recovery=_rinse_recovery(table),
        soak_every_rinses=table.soak_every_rinses,
        soak_recovery=table.soak_recovery,
        soak_price=table.soak_price,
        soak_minutes=table.soak_minutes,
        lead_time_days=table.lead_time,
        suppliers=table.suppliers,
    )


def _half(diameter_m: float | None) -> float | None:
    return None if diameter_m is None else diameter_m / 2.0


def _options(file: StudyFile, elements: Mapping[str, Element]) -> Iterator[Option]:
    tables = file.options or [OptionTable(name=name, stages=(name,)) for name in elements]
    for place, table in enumerate(tables, start=1):
        yield Option(
            id=slug(table.name, place),
            name=table.name,
            stages=tuple(elements[stage] for stage in table.stages),
            housings_in_parallel=table.housings_in_parallel,
            housing_price=table.housing_price,
            housing_life_years=in_unit(table.housing_life, "year"),
        )


def _assumed(file: StudyFile, water_life_days: float) -> Iterator[Assumed]:
    """Yield the defaults a study leans on, in the order of the file."""
    lifted = bool(file.measured.lift_test)
    if "currency" not in file.model_fields_set:
        yield _default("currency")
    yield from _grouped("tub", [file.tub], lambda table, key: _tub_default(table, key, water_life_days))
    yield from _grouped("pump", _pump_tables(file), lambda _, key: _NONE if key == "name" else None)
    if file.plumbing or not lifted:
        without = _REPLACED_BY_LIFT_TEST if lifted else set[str]()
        yield from _grouped("plumbing", [file.plumbing], lambda _, key: _NONE if key in without else None)
    yield from _grouped("cooling", [file.cooling], lambda *_: None)
    yield from _grouped("needs", [file.needs], lambda table, key: _needs_default(table, key, file.tub))
    yield from _grouped("prices", [file.prices], lambda *_: None)
    yield from _grouped("elements", file.elements, _element_default)
    if file.options is None:
        alone = "each element alone, in one housing"
        yield Assumed(key="options", value=alone, told=alone)
        yield from (_default(f"options.{key}") for key in ("housing_price", "housing_life"))
    else:
        yield from _grouped("options", file.options, lambda *_: None)


def _default(key: str) -> Assumed:
    """Return what the table of defaults says of a key."""
    value = STUDY_DEFAULTS[key]
    if isinstance(value, str):
        return Assumed(key=key, value=value, told=f'"{value}"')
    text = str(value).lower() if isinstance(value, bool) else f"{value:g}"
    return Assumed(key=key, value=text, told=text)


Told = tuple[str, str]
_NONE = ("", "")


def _grouped(table: str, rows: Sequence[Any], special: Callable[[Any, str], Told | None]) -> Iterator[Assumed]:
    """Yield the defaults of equal tables, once a key, with names where not all of them lean on it.

    ``special`` returns for a key that was left out what is taken for it and how that is told, ``_NONE`` where nothing
    is, or None for what the table of defaults says.
    """
    for key in type(rows[0]).model_fields:
        place = f"{table}.{key}"
        leaning: dict[Assumed, list[str]] = {}
        for row in rows:
            if key in row.model_fields_set:
                continue
            told = special(row, key)
            if told is None:
                found = _default(place) if place in STUDY_DEFAULTS else None
            else:
                found = Assumed(key=place, value=told[0], told=told[1]) if told != _NONE else None
            if found:
                leaning.setdefault(found, []).append(getattr(row, "name", ""))
        for found, names in leaning.items():
            yield found if len(names) == len(rows) else replace(found, names=tuple(names))


def _tub_default(_: TubTable, key: str, water_life_days: float) -> Told | None:
    if key != "water_change_every":
        return None
    most, life = model("water.life_most"), written(water_life_days, "day", 2)
    return life, f'"{life}" (shorter of {most:g} days and the spa rule)'


def _needs_default(table: NeedsTable, key: str, tub: TubTable) -> Told | None:
    if key == "turnovers_per_hour" and table.model_fields_set & {"flow", "share_of_clean_flow"}:
        return _NONE
    if key == "see_through":
        view = written(_see_through_m(tub), "m")
        return view, f'{model("needs.depths_seen"):g} x depth = "{view}"'
    if key == "shortest_run":
        share, least = model("service.shortest_share"), model("service.shortest_days")
        told = f"{share:g} x the first run, at least {least:g} days"
        return told, told
    return None


def _element_default(table: ElementTable, key: str) -> Told | None:
    if key == "rating" and table.pores_per_inch:
        micron = in_unit(model("media.foam_rating_times_ppi"), "um")
        follows = written(foam_rating_m(table.pores_per_inch), "um")
        return follows, f'{micron:g} um / pores_per_inch = "{follows}"'
    if key == "area" and table.size and table.kind == "pleated" and table.pleats is None:
        area = written(table.size.pleated_m2, "m^2")
        return area, f'"{area}" for the size'
    if key == "rinse_recovery" and table.kind != "depth":
        share = f"{_rinse_recovery(table):g}"
        return share, share
    unused = (
        (key.startswith(("rinse_", "soak_")) and table.kind == "depth")
        or (key in {"soak_recovery", "soak_price", "soak_minutes"} and table.soak_every_rinses == 0)
        or (key == "clean_loss_at" and not table.clean_loss)
        or (key == "rating_means" and (table.kind == "foam" or bool(table.beta)))
    )
    return _NONE if unused else None
