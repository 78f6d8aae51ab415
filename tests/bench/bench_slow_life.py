"""Hold the yearly cost of options against lives that the slow solver follows, run by run and service by service.

    python tests/bench/bench_slow_life.py --count 20 --first 0

Each random study is drawn with single elements and with trains of three, bathed in alike all year, over one year. The
slow solver is told after how many rinses the program replaces each stage, and what an element, a rinse and a soak cost;
when a run ends and what is done then it finds by itself, as the model's section on rinsing says. Compared is what lies
with the filter a year: elements, rinses, soaks. Prints to standard output alone; far-off lives are listed service by
service.
"""

import argparse
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import slow_solver
from random_studies import random_study
from slow_solver_cases import cases_of, even_train, fits
from studies import Given, study_of

from filtration.answers.figures import Followed, follow
from filtration.loading.assembly import entries_of
from filtration.service.care import Care

YEAR_DAYS, LEAST_SHARE, NEAR_DAYS = 365.25, 0.2, 1e-6
FAR = 0.01


@dataclass(frozen=True, kw_only=True)
class Rules:
    """How one option is looked after; s stages."""

    rinseable: list[bool]
    rinse_leaves: list[float]
    soak_leaves: list[float]
    soak_every: list[int]
    runs: list[int]
    oldest_days: list[float]
    between_days: float
    shortest_days: float | None


@dataclass(frozen=True, kw_only=True)
class Service:
    """One service: its day, the run before it, what ended that, and what is done to each stage."""

    day: float
    run_days: float
    ended_by: str
    done: tuple[str, ...]


def shortest_run_days(first_days: float, stated: float | None) -> float:
    """Half the first run, at least 3 days, but of these no more than four fifths of it or one day."""
    if stated is not None:
        return stated
    return max(0.5 * first_days, min(3.0, max(0.8 * first_days, 1.0)))


def life_of(case: dict[str, Any], rules: Rules, until_days: float, rtol: float) -> list[Service]:
    """Follow an option from new to the day on which all its stages are new again, or as long as is asked for."""
    plant = slow_solver.plant_of(case)
    new = slow_solver.new_filter(plant)
    limits = slow_solver.limits_of(case, slow_solver.moment(plant, new))
    ends = np.cumsum([element.layers + 1 for element in plant.elements])
    parts = [slice(end - element.layers - 1, end) for end, element in zip(ends, plant.elements, strict=True)]
    number = len(parts)
    state, day, ages, rinses, unsoaked = new.copy(), 0.0, [0.0] * number, [0] * number, [0] * number
    shortest, services = None, []
    while day < until_days:
        left = min(oldest - age for oldest, age in zip(rules.oldest_days, ages, strict=True))
        now = replace(limits, days=min(rules.between_days, left))
        run_days, ended_by, state = slow_solver.run(plant, now, rtol, start=state)
        day += run_days
        ages = [age + run_days for age in ages]
        if shortest is None:
            shortest = shortest_run_days(run_days, rules.shortest_days)
        too_old = [age >= oldest - NEAR_DAYS for oldest, age in zip(rules.oldest_days, ages, strict=True)]
        cut = bool(services) and any(old and not rinsed for old, rinsed in zip(too_old, rules.rinseable, strict=True))
        short = run_days < shortest and not cut
        spent = carries_much(plant, state) if number > 1 else [True]
        done = []
        for at, part in enumerate(parts):
            if too_old[at] or ((rinses[at] + 1 >= rules.runs[at] or short) if rules.rinseable[at] else spent[at]):
                state[part] = 0.0
                ages[at], rinses[at], unsoaked[at] = 0.0, 0, 0
                done.append("replace")
            elif rules.rinseable[at]:
                soaked = rules.soak_every[at] > 0 and unsoaked[at] + 1 >= rules.soak_every[at]
                state[part] *= rules.rinse_leaves[at] * (rules.soak_leaves[at] if soaked else 1.0)
                rinses[at] += 1
                unsoaked[at] = 0 if soaked else unsoaked[at] + 1
                done.append("soak" if soaked else "rinse")
            else:
                done.append("")
        services.append(Service(day=day, run_days=run_days, ended_by=ended_by, done=tuple(done)))
        if all(each == "replace" for each in done):
            break
    return services


def carries_much(plant: slow_solver.Plant, state: np.ndarray) -> list[bool]:
    """Say which stages carry a fifth of the extra loss at the flow there is, or are full."""
    flow, losses = slow_solver.flow_and_losses(plant, state)
    extra, full = [], []
    for element, (layer_kg, cake_kg), loss in zip(plant.elements, slow_solver.split(plant, state), losses, strict=True):
        clean = slow_solver.layers_loss_factors(element, 0.0 * layer_kg, plant.rho)
        extra.append(loss - slow_solver.stage_loss_pa(flow / plant.in_parallel, *clean, 0.0, plant.mu))
        layers_full = float(np.sum(layer_kg)) / float(np.sum(element.layer_capacity_kg))
        full.append(max(slow_solver.fullness(element, layer_kg, cake_kg), layers_full) >= 1.0 - 1e-4)
    return [(each > 0.0 and each >= LEAST_SHARE * sum(extra)) or so for each, so in zip(extra, full, strict=True)]


def cost_per_year(services: list[Service], care: Care) -> float:
    """Elements over the time of their whole lives, rinses and soaks over all the time; every service in it."""
    total, days = 0.0, services[-1].day
    for at in range(len(services[0].done)):
        done = [each.done[at] for each in services]
        replaced = [each.day for each in services if each.done[at] == "replace"]
        rinsed, soaked = sum(each in ("rinse", "soak") for each in done), done.count("soak")
        total += float(care.replace_cost[at, 0]) * (len(replaced) / replaced[-1] if replaced else 0.0)
        total += (float(care.rinse_cost[at, 0]) * rinsed + float(care.soak_cost[at, 0]) * soaked) / days
    return YEAR_DAYS * total


def services_of(followed: Followed) -> list[Service]:
    """Return what the program does, to list it beside."""
    assert followed.life is not None
    found, words = followed.life.services, ("rinse", "soak", "replace")
    listed = []
    for day, length, done, counted in zip(
        found.day[:, 0], found.length_days[:, 0], found.done[:, :, :, 0], found.counted[:, 0], strict=True
    ):
        if counted:
            each = tuple(next((words[k] for k in (2, 1, 0) if of[k]), "") for of in done.T)
            listed.append(Service(day=float(day), run_days=float(length), ended_by="", done=each))
    return listed


@dataclass(frozen=True, kw_only=True)
class Compared:
    """One option by both: cost a year, services, and seconds of the slow one."""

    name: str
    program: float
    slow: float
    ours: list[Service]
    theirs: list[Service]
    seconds: float

    @property
    def error(self) -> float:
        """How far the program is off, over the slow solver's [-]."""
        return self.program / self.slow - 1.0


def compared(data: Given, rtol: float) -> Iterator[Compared]:
    """Follow the options of a study that run both ways."""
    data = data | {"prices": data["prices"] | {"horizon": "1 year"}}
    study = study_of(data)
    entries = [entry for entry in entries_of(study) if entry.loop is not None]
    cases = dict(cases_of(data))
    for followed in follow(study, entries):
        case, life = cases[followed.entry.option.name], followed.life
        if life is None or not fits(case) or not followed.clear or followed.first.days < 1.0:
            continue
        care, stages = life.care, followed.entry.option.stages
        rules = Rules(
            rinseable=[element.rinseable for element in stages],
            rinse_leaves=[1.0 - element.rinse_recovery for element in stages],
            soak_leaves=[1.0 - element.soak_recovery for element in stages],
            soak_every=[element.soak_every_rinses for element in stages],
            runs=[int(count) for count in life.rates.most_runs[:, 0]],
            oldest_days=study.needs.oldest_days([element.rinseable for element in stages]),
            between_days=study.needs.between_days(any(element.rinseable for element in stages)),
            shortest_days=study.needs.shortest_run_days,
        )
        started = time.process_time()
        until = max(study.prices.horizon_days, study.needs.discard_days)
        theirs = life_of(case, rules, until, rtol)
        yield Compared(
            name=followed.entry.option.name,
            program=YEAR_DAYS * float(life.rates.cost_per_day(care)[0]),
            slow=cost_per_year(theirs, care),
            ours=services_of(followed),
            theirs=theirs,
            seconds=time.process_time() - started,
        )


def main() -> None:
    """Follow random options and print how far their yearly cost is off."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=20, help="random studies of each kind")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--rtol", type=float, default=1e-5, help="the slow solver's tolerance")
    parser.add_argument("--kind", choices=("single", "train", "both"), default="both")
    given = parser.parse_args()
    drawn = {"single": random_study, "train": even_train}
    for kind, draw in drawn.items():
        if given.kind not in (kind, "both"):
            continue
        found: list[Compared] = []
        for seed in range(given.first, given.first + given.count):
            data = draw(seed, 1)
            data["tub"].pop("uses_by_month", None)
            for each in compared(data, given.rtol):
                found.append(each)
                runs = f"{len(each.ours)} and {len(each.theirs)} services, {each.seconds:.0f} s"
                print(f"{kind} {seed} {each.name}: {each.program:.2f}, slow {each.slow:.2f}, {each.error:+.2%}; {runs}")
                if abs(each.error) > FAR:
                    for pair in zip(each.ours, each.theirs, strict=False):
                        texts = (f"{one.day:.2f} ({one.run_days:.3f}) {'/'.join(one.done)}" for one in pair)
                        print("    " + "  |  ".join(texts) + f"  {pair[1].ended_by}")
                sys.stdout.flush()
        if found:
            errors = np.abs([each.error for each in found])
            told = (
                ("in the middle", np.median(errors)),
                ("at 90 %", np.quantile(errors, 0.9)),
                ("at worst", errors.max()),
            )
            print(f"{kind}: {len(found)} lives, " + ", ".join(f"{error:.2%} {where}" for where, error in told))


if __name__ == "__main__":
    main()
