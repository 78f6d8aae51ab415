"""A study as the slow solver takes it, and how far an answer lies from what it says."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import slow_solver
from random_studies import random_train
from studies import Given, study_of

from filtration import Comparison, OptionAnswer
from filtration.loading.assembly import entry_of
from filtration.loading.case import central_case, load_of
from filtration.loading.table import Fineness
from filtration.loading.tabulate import groups_of

CLOSE = 1e-2  # the promise; what is seen is about a hundredth of it, see tests/bench
TIE = 5e-3
# Relative error promised of the days of first runs that dirt ends, of the central case and of draws.
MIDDLE = {"single": (2e-3, 5e-3), "train": (5e-3, 5e-3)}
WORST = {"single": (1e-2, 2e-2), "train": (2e-2, 2e-2)}

_IN_SI = {
    "L": 1e-3, "L/h": 1e-3 / 3600.0, "m": 1.0, "mm": 1e-3, "um": 1e-6, "m^2": 1.0, "kPa": 1e3, "g": 1e-3,
    "degC": 1.0, "day": 1.0, "bar": 1e5,
}  # fmt: skip
# What a study file may leave out, as the contract of the file says (design/study.md).
_LEFT_OUT = {
    "tub": {
        "depth": "0.7 m", "open_surface": "0.9 m^2", "sessions_per_day": 1, "showered_share": 0.5,
        "feet": "indoors", "surroundings": "outdoors", "uncovered_hours_per_day": 4,
        "disinfectant": "not stated",
    },
    "pump": {"hours_per_day": 24},
    "plumbing": {
        "elbows_90": 2, "hose_barbs": 2, "other_k": 4.0, "roughness": "0.0015 mm", "static_lift": "0 m",
    },
    "needs": {
        "rinse_at_least_every": "14 day", "replace_at_least_every": "60 day", "discard_after": "365 day",
    },
}  # fmt: skip
# Length, outer and inner radius [m], area of a pleated sheet [m2]: model.md, section 3.
_SIZES = {
    "5 x 2.5 in": (0.125, 0.0318, 0.0138, 0.25),
    "10 x 2.5 in": (0.250, 0.0318, 0.0138, 0.5),
    "20 x 2.5 in": (0.508, 0.0318, 0.0138, 1.0),
    "10 x 4.5 in": (0.250, 0.057, 0.014, 1.8),
    "20 x 4.5 in": (0.508, 0.057, 0.014, 3.6),
}


def si(text: str) -> float:
    """Read a quantity of the studies drawn here; not with the program's own reader."""
    if text == "never":
        return math.inf
    number, unit = text.split(" ", 1)
    return float(number) * _IN_SI[unit]


def stage_of(element: Given) -> dict[str, Any]:
    """Say to the slow solver what an element is."""
    kind = element["kind"]
    if kind in ("spun", "wound"):
        kind = "pad" if "thickness" in element else "depth"
    stage: dict[str, Any] = {"kind": kind} | ({"make": element["kind"]} if kind == "depth" else {})
    if "rating" in element:
        stage["rating_m"] = si(element["rating"])
    if kind == "foam":
        stage["pores_per_inch"] = float(element["pores_per_inch"])
        stage.setdefault("rating_m", 7000e-6 / stage["pores_per_inch"])
    if kind in ("foam", "pad"):
        stage |= {"area_m2": si(element["area"]), "thickness_m": si(element["thickness"])}
    elif "size" in element:
        names = ("length_m", "outer_radius_m", "inner_radius_m", "area_m2")
        stage |= dict(zip(names, _SIZES[element["size"]], strict=True))
    else:
        stage |= {
            "length_m": si(element["length"]),
            "outer_radius_m": si(element["outer_diameter"]) / 2.0,
            "inner_radius_m": si(element["inner_diameter"]) / 2.0,
        }
    if kind == "pleated" and "area" in element:
        stage["area_m2"] = si(element["area"])
    if "dirt_capacity" in element:
        dust = element.get("dirt_capacity_dust", "test dust")
        stage |= {"dirt_capacity_kg": si(element["dirt_capacity"]), "capacity_dirt": dust}
    if "clean_loss" in element:
        ((flow, loss),) = element["clean_loss"]
        stage["k_factor"] = _permeability_factor(stage, si(flow), si(loss), si(element["clean_loss_at"]))
    return stage


def _permeability_factor(stage: dict[str, Any], flow: float, loss: float, celsius: float) -> float:
    """Return the factor at which layers and core lose what the maker says; not for foam."""
    density, viscosity = slow_solver.water(celsius)
    element = slow_solver.element_of(stage)
    resistance, inertia = slow_solver.layers_loss_factors(element, 0.0 * element.layer_volume_m3, density)
    return viscosity * resistance * flow / (loss - inertia * flow**2)


def cases_of(data: Given) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield each option's name and its case for the slow solver; one pump, options stated."""
    tub, pump, plumbing, needs = (_LEFT_OUT[key] | data.get(key, {}) for key in _LEFT_OUT)
    volume = si(tub["volume"])
    life = tub.get("water_change_every")
    flow = si(needs["flow"]) if "flow" in needs else needs.get("turnovers_per_hour", 3) * volume / 3600.0
    share = needs.get("share_of_clean_flow")
    lift_test = data.get("measured", {}).get("lift_test")
    elements = {element["name"]: element for element in data["elements"]}
    common: dict[str, Any] = {
        "tub": {
            "volume_m3": volume,
            "water_temperature_c": si(tub["water_temperature"]),
            "open_surface_m2": si(tub["open_surface"]),
            "water_life_days": None if life is None else si(life),
            "disinfectant_kept": tub["disinfectant"] == "kept",
        }
        | {
            key: tub[key]
            for key in (
                "uses_per_day", "sessions_per_day", "showered_share", "feet", "surroundings",
                "uncovered_hours_per_day",
            )
        },
        "pump": {"hours_per_day": pump["hours_per_day"]},
        "lift_test": lift_test and [(si(lift), si(at)) for lift, at in lift_test],
        "needs": {
            "flow_m3_s": None if share else flow,
            "share_of_clean_flow": share,
            "see_through_m": si(needs["see_through"]) if "see_through" in needs else 4.0 * si(tub["depth"]),
            "max_pressure_rise_pa": si(needs["max_pressure_rise"]) if "max_pressure_rise" in needs else None,
            "rinse_limit_days": si(needs["rinse_at_least_every"]),
            "replace_limit_days": si(needs["replace_at_least_every"]),
            "discard_days": si(needs["discard_after"]),
        },
    }  # fmt: skip
    if "curve" in pump:
        common["pump"]["curve"] = [(si(at), si(head)) for at, head in pump["curve"]]
    elif lift_test is None:
        common["pump"] |= {"shutoff_head_m": si(pump["shutoff_head"]), "max_flow_m3_s": si(pump["max_flow"])}
    if lift_test is None:
        common["plumbing"] = {
            "bore_m": si(plumbing["bore"]),
            "length_m": si(plumbing["length"]),
            "roughness_m": si(plumbing["roughness"]),
            "static_lift_m": si(plumbing["static_lift"]),
        } | {key: plumbing[key] for key in ("elbows_90", "hose_barbs", "other_k")}
    for option in data["options"]:
        stages = [stage_of(elements[name]) for name in option["stages"]]
        yield (
            option["name"],
            common
            | {
                "stages": stages,
                "housings_in_parallel": option.get("housings_in_parallel", 1),
            },
        )


def as_slow(factors: dict[str, float]) -> dict[str, float]:
    """Return the program's factors as the slow solver takes them: of the pump, values within their bounds."""
    exponent = min(max(1.6 * factors["pump_exponent"], 1.0), 2.7)
    return factors | {"pump_exponent": exponent, "box_flow": min(0.9 * factors["box_flow"], 1.05)}


def kind_of(case: dict[str, Any]) -> str:
    """Say whether an option is a single element or a train."""
    return "single" if len(case["stages"]) == 1 else "train"


@dataclass(frozen=True, kw_only=True)
class Difference:
    """How far one figure of an answer lies from the slow solver's."""

    option: str
    figure: str
    ours: float
    theirs: float

    @property
    def relative(self) -> float:
        """Difference over the slow solver's figure; 0 where both are 0."""
        return abs(self.ours - self.theirs) / max(abs(self.theirs), 1e-12) if self.ours != self.theirs else 0.0


def fits(case: dict[str, Any]) -> bool:
    """Whether every pleated sheet of a case finds room in its element."""
    return all(
        math.pi * (stage["outer_radius_m"] ** 2 - stage["inner_radius_m"] ** 2) * stage["length_m"]
        > stage["area_m2"] * slow_solver.SHEET_THICKNESS_M
        for stage in case["stages"]
        if stage["kind"] == "pleated"
    )


def _is_full(answer: OptionAnswer) -> float:
    return float(answer.governed_by == "full" and answer.days_to_first_service == 0.0 and not answer.meets_needs)


def differences(answer: OptionAnswer, case: dict[str, Any]) -> Iterator[Difference]:
    """Yield what an answer and the slow solver say, figure by figure.

    An option that is not clear enough when clean is scheduled by its other limits: its due figures are those
    of that run.
    """
    if not fits(case):
        yield Difference(option=answer.id, figure="full, as it does not fit", ours=_is_full(answer), theirs=1.0)
        return
    solved = slow_solver.solve(case)
    due = solved["scheduled"] or solved

    def pair(figure: str, ours: float | None, theirs: float) -> Difference:
        return Difference(option=answer.id, figure=figure, ours=math.nan if ours is None else ours, theirs=theirs)

    yield pair("clean flow", answer.clean_flow_l_per_h, 3.6e6 * solved["clean_flow_m3_s"])
    yield pair("clean loss", answer.clean_filter_loss_kpa, 1e-3 * solved["clean_loss_pa"])
    yield pair("see-through clean", answer.see_through_clean_m, solved["see_through_clean_m"])
    yield pair("days", answer.days_to_first_service, solved["days"])
    yield pair("due flow", answer.due_flow_l_per_h, 3.6e6 * due["due_flow_m3_s"])
    yield pair("due loss", answer.due_filter_loss_kpa, 1e-3 * due["due_loss_pa"])
    yield pair("see-through worst", answer.see_through_worst_m, due["see_through_worst_m"])
    total = case["housings_in_parallel"] * sum(due["deposit_kg"])
    yield pair("deposit", answer.deposit_when_due_g, 1e3 * total)
    for stage, deposit in zip(answer.stages, due["deposit_kg"], strict=True):
        yield pair(f"deposit of {stage.element}", stage.deposit_when_due_g, 1e3 * deposit)
    same = answer.governed_by == solved["governed_by"] or _is_tie(answer, case, solved)
    yield pair(f"{answer.governed_by} governs, not {solved['governed_by']}", float(same), 1.0)


def _is_tie(answer: OptionAnswer, case: dict[str, Any], solved: dict[str, Any]) -> bool:
    """Whether two limits fall so close together that either may be named.

    They do if the run without the limit that the slow solver names would be at most half a percent longer,
    and then ends by the one that the answer names.
    """
    off: dict[str, dict[str, Any]] = {
        "flow": {"flow_m3_s": None, "share_of_clean_flow": None},
        "pressure": {"max_pressure_rise_pa": None},
        "clarity": {"see_through_m": None},
        "time limit": {f"{key}_days": math.inf for key in ("rinse_limit", "replace_limit")},
    }
    named = solved["governed_by"]
    if named not in off or solved["days"] <= 0.0:
        return False
    longer = slow_solver.solve(case | {"needs": case["needs"] | off[named]})
    return longer["governed_by"] == answer.governed_by and longer["days"] <= (1.0 + TIE) * solved["days"]


def all_differences(data: Given, answered: Comparison) -> list[Difference]:
    """Hold each option of a study of one pump against the slow solver."""
    answers = {answer.name: answer for answer in answered.options}
    return [one for name, case in cases_of(data) for one in differences(answers[name], case)]


def too_far(found: list[Difference]) -> list[str]:
    """Say which figures lie farther off than promised."""
    return [
        f"{one.option}: {one.figure} {one.ours:.6g}, slow solver {one.theirs:.6g}"
        for one in found
        if not one.relative <= CLOSE
    ]


# ---- first runs alone --------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class FirstRun:
    """Days of an option's first run, by each fineness asked for and by the slow solver, and what ends it there.

    ``kind`` is single or train.
    """

    option: str
    kind: str
    ours: tuple[float, ...]
    theirs: float
    governed_by: str

    @property
    def relative(self) -> tuple[float, ...]:
        """Difference over the slow solver's days, by fineness; infinite where one of the two has no run."""
        return tuple(
            abs(days / self.theirs - 1.0) if self.theirs > 0.0 else 0.0 if days == 0.0 else math.inf
            for days in self.ours
        )


def first_days(data: Given, fineness: Fineness) -> dict[str, float]:
    """Return the days of every option's first run by name; 0 where the clean filter lacks the flow.

    An option that is not clear enough when clean runs until another limit ends its run.
    """
    study = study_of(data)
    entries = [entry_of(study, option, pump) for pump in study.pumps for option in study.options]
    driven = [entry for entry in entries if entry.loop is not None]
    days = {entry.option.name: 0.0 for entry in entries}
    for places, tables in groups_of([central_case(study, entry, load_of(study)) for entry in driven], fineness):
        for place, length in zip(places, tables.first_days(), strict=True):
            days[driven[place].option.name] = float(length)
    return days


def first_runs(data: Given, *fineness: Fineness) -> Iterator[FirstRun]:
    """Yield the first run of each option of a study of one pump that finds room in its housing.

    The slow solver knows no months: dips that differ from month to month must be left out.
    """
    ours = [first_days(data, each) for each in fineness]
    for name, case in cases_of(data):
        if fits(case):
            solved = slow_solver.solve(case)
            due = solved["scheduled"] or solved
            yield FirstRun(
                option=name,
                kind=kind_of(case),
                ours=tuple(days[name] for days in ours),
                theirs=due["days"],
                governed_by=due["governed_by"],
            )


def even_train(seed: int, options: int = 1) -> Given:
    """Draw trains of three elements whose tub is bathed in alike all year."""
    data = random_train(seed, options)
    del data["tub"]["uses_by_month"]
    return data


def without_time_limits(data: Given) -> Given:
    """Let dirt or age alone end the runs of a study."""
    never = {"rinse_at_least_every": "never", "replace_at_least_every": "never"}
    return data | {"needs": data["needs"] | never}
