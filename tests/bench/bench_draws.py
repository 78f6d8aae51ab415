"""Time whole lifetimes over many draws, hold their first runs against the slow solver, and say how far the limit is.

    python tests/bench/bench_draws.py          about a minute
    python tests/bench/bench_draws.py --full   the largest sizes too, about a quarter of an hour

Prints to standard output alone. One process; seconds are the processor's, the quickest of the repeats. The slow solver
and a bare pass of numpy are timed in the same run, so that ratios travel to other machines.
"""

import argparse
import resource
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import slow_solver
from slow_solver_cases import as_slow, cases_of
from studies import Given, demo_data, study_of

from filtration import Study
from filtration.answers.chances import run_options, spreads_of
from filtration.answers.decision import CASES
from filtration.base.defaults import UNKNOWNS
from filtration.base.draws import factors_at, sobol_points
from filtration.loading import table
from filtration.loading.assembly import Entry, entry_of
from filtration.plan.fleet import budget
from filtration.plan.fleet_rows import FleetRow

OPTIONS, DRAWS, SMALL = 40, 1024, 64
FLEET_TUBS, ALL_TUBS, FLEET_OPTIONS = 192, 5000, 12
RUNS = 20  # before a stage of a train is replaced
SIZES = ("5 x 2.5 in", "10 x 2.5 in", "20 x 2.5 in", "10 x 4.5 in", "20 x 4.5 in")
KIB_PER_GIB = 2**20


@dataclass(frozen=True, kw_only=True)
class Bench:
    """A study and its options on its pump."""

    data: Given
    study: Study
    entries: Sequence[Entry]

    @property
    def most_runs(self) -> list[list[int]]:
        """Return after how many runs each stage is replaced."""
        return [[RUNS] * len(entry.media) for entry in self.entries]


def elements() -> list[Given]:
    """Return forty elements: pleated of all sizes, wound, and foam."""
    rows: list[Given] = [
        {"name": f"Pleated {um}, {size}", "kind": "pleated", "size": size, "rating": f"{um} um", "price": 20}
        for size in SIZES
        for um in (5, 10, 20, 30, 50)
    ]
    rows += [
        {"name": f"Wound {um}, {size}", "kind": "wound", "size": size, "rating": f"{um} um", "price": 6}
        for size in SIZES[1:3]
        for um in (10, 20, 25, 50, 100)
    ]
    rows += [
        {"name": f"Foam {ppi}", "kind": "foam", "area": "0.02 m^2", "thickness": "50 mm", "pores_per_inch": ppi}
        for ppi in (10, 15, 20, 30, 45)
    ]
    return rows


def bench(trains: int = 0, **needs: Any) -> Bench:
    """Return the freezer tub with forty options, the last so many of them foam and then a pleated element."""
    data = demo_data("freezer")
    data["elements"], data["needs"] = elements(), data["needs"] | needs
    stages = [[element["name"]] for element in data["elements"]]
    pleated = [name for (name,) in stages if name.startswith("Pleated")]
    if trains:
        stages[-trains:] = [["Foam 20", name] for name in pleated[5 : 5 + trains]]
    data["options"] = [{"name": " then ".join(names), "stages": names} for names in stages]
    study = study_of(data)
    return Bench(data=data, study=study, entries=[entry_of(study, option, study.pumps[0]) for option in study.options])


def seconds(work: Callable[[], object], repeats: int = 3) -> float:
    """Return the processor time of the quickest of some repeats."""
    best = float("inf")
    for _ in range(repeats):
        started = time.process_time()
        work()
        best = min(best, time.process_time() - started)
    return best


def lifetimes(of: Bench, options: int, draws: int, repeats: int = 3) -> float:
    """Return the seconds for whole lifetimes of so many options, taken round and round, with ranges and costs."""
    at = np.resize(np.arange(len(of.entries)), options)
    entries, most_runs = [of.entries[i] for i in at], [of.most_runs[i] for i in at]
    return seconds(lambda: spreads_of(of.study, entries, most_runs, draws, 0), repeats)


def peak_gib() -> float:
    """Return the most memory this process has held so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KIB_PER_GIB


# ---- against the slow solver ------------------------------------------------------------------------------------


def runs_a_life(of: Bench) -> float:
    """Return the mean number of runs of an option's longest-lived element."""
    drawn = run_options(of.study, of.entries, of.most_runs, sobol_points(SMALL, 1))
    rates = [each.services_per_day[each.flows] / each.replaced_per_day[:, each.flows].min(axis=0) for each in drawn]
    return float(np.concatenate(rates).mean())


def against_slow_solver(pairs: int) -> None:
    """Print the errors of first runs at random draws, and how much faster a lifetime is."""
    never = {"rinse_at_least_every": "never", "replace_at_least_every": "never", "discard_after": "365 day"}
    of = bench(10, **never, see_through="0.5 m")
    points = sobol_points(SMALL, 1)
    factors = factors_at(points, of.study.spreads)
    drawn = run_options(of.study, of.entries, of.most_runs, points)
    one, runs = lifetimes(of, OPTIONS, DRAWS) / (OPTIONS * DRAWS), runs_a_life(of)
    cases = [case for _, case in cases_of(of.data)]
    rng = np.random.default_rng(0)
    errors: dict[str, list[float]] = {"single": [], "train": []}
    took, verdicts, tried = [], 0, 0
    while sum(map(len, errors.values())) < pairs:
        option, draw = int(rng.integers(OPTIONS)), int(rng.integers(SMALL))
        drawn_factors = {unknown.key: float(getattr(factors, unknown.key)[draw]) for unknown in UNKNOWNS}
        started = time.process_time()
        solved = slow_solver.solve(cases[option] | {"factors": as_slow(drawn_factors)})
        spent = time.process_time() - started
        ours, theirs = float(drawn[option].first_days[draw]), solved["days"]
        tried += 1
        verdicts += (ours > 0.0) == (theirs > 0.0)
        if ours > 0.0 and theirs > 0.0 and solved["governed_by"] != "time limit":
            kind = "single" if len(of.entries[option].media) == 1 else "train"
            errors[kind].append(abs(ours / theirs - 1.0))
            took.append(spent)
    print(f"\nFirst runs at random draws against the slow solver, ended by dirt; {verdicts} of {tried} verdicts alike")
    print(f"{'relative error of the days':<44}{'number':>8}{'median':>9}{'p95':>9}{'worst':>9}")
    for name, found in {**errors, "all": errors["single"] + errors["train"]}.items():
        median, p95 = np.percentile(found, [50, 95])
        print(f"{name:<44}{len(found):>8}{median:>9.2%}{p95:>9.2%}{max(found):>9.2%}")
    slow = float(np.mean(took))
    print(f"one lifetime here: {1e6 * one:.0f} us; the slow solver's first run alone: {1e3 * slow:.0f} ms")
    print(f"a lifetime is {slow / one:,.0f} times as fast as that one first run (the lower bound);")
    print(f"were each of its {runs:.1f} runs solved that way, {slow * runs / one:,.0f} times")


# ---- the limit --------------------------------------------------------------------------------------------------


def bare_pass(of: Bench, draws: int) -> float:
    """Return the seconds of one square root, product and sum over arrays of the size and number of the tables' steps.

    Every state of every layer at every point of every table must be touched once at the least; this does no more.
    """
    shapes: list[tuple[int, ...]] = []
    plain = table._rest

    def watched(*of_stage: Any) -> Callable[[Any], Any]:
        rest = plain(*of_stage)

        def noted(solid: Any) -> Any:
            shapes.append(solid.shape)
            return rest(solid)

        return noted

    table._rest = watched
    try:
        lifetimes(of, OPTIONS, draws, 1)
    finally:
        table._rest = plain
    a, b, c = (np.full(max(map(np.prod, shapes)), 0.5, dtype=np.float32) for _ in range(3))

    def once() -> None:
        for shape in shapes:
            size = int(np.prod(shape))
            out = c[:size]
            np.sqrt(a[:size], out=out)
            np.multiply(out, b[:size], out=out)
            np.add(out, b[:size], out=out)

    return seconds(once, 5)


def fleet_seconds(tubs: int) -> float:
    """Return the seconds for budget and schedule over so many tubs of twelve options."""
    data = bench().data
    rows = data["elements"]
    data["elements"] = [rows[at] for at in range(0, 3 * FLEET_OPTIONS, 3)]
    del data["options"]
    rng = np.random.default_rng(0)
    fleet = []
    for at in range(tubs):
        changes = {"uses_per_day": round(rng.uniform(2, 12), 1), "volume": f"{rng.uniform(300, 450):.0f} L"}
        fleet.append(FleetRow(where=str(at), tables=data | {"name": f"FleetRow {at}", "tub": data["tub"] | changes}))
    return seconds(lambda: budget(fleet, draws=CASES, today=date(2026, 3, 1)).year, 1)


def main() -> None:
    """Time everything and print it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--full", action="store_true", help="10,000 options, 65,536 draws, 5,000 tubs as well")
    parser.add_argument("--pairs", type=int, default=60, help="first runs to hold against the slow solver")
    arguments = parser.parse_args()
    singles, mixed = bench(), bench(10)
    lifetimes(singles, OPTIONS, SMALL)
    print(f"{f'{OPTIONS} options x {DRAWS:,} draws, whole lifetimes':<44}{'s':>8}{'ms/option':>11}{'limit':>8}")
    for name, of in (("single elements", singles), ("ten of them trains", mixed)):
        took, limit = lifetimes(of, OPTIONS, DRAWS), bare_pass(of, DRAWS)
        print(f"{name:<44}{took:>8.2f}{1e3 * took / OPTIONS:>11.1f}{took / limit:>7.0f}x")
    against_slow_solver(arguments.pairs)
    print(f"\n{f'options at {SMALL} draws':<44}{'s':>8}{'ms/option':>11}{'peak GiB':>10}")
    for options in (10, 100, 1000, *((10_000,) if arguments.full else ())):
        took = lifetimes(singles, options, SMALL, 3 if options < 1000 else 1)
        print(f"{options:<44,}{took:>8.2f}{1e3 * took / options:>11.2f}{peak_gib():>10.2f}")
    print(f"\n{f'draws at {OPTIONS} options':<44}{'s':>8}{'us/draw':>11}{'peak GiB':>10}")
    for draws in (64, 1024, 8192, *((65_536,) if arguments.full else ())):
        took = lifetimes(singles, OPTIONS, draws, 3 if draws < 8192 else 1)
        print(f"{draws:<44,}{took:>8.2f}{1e6 * took / OPTIONS / draws:>11.1f}{peak_gib():>10.2f}")
    tubs = ALL_TUBS if arguments.full else FLEET_TUBS
    took = fleet_seconds(tubs)
    told = "" if arguments.full else f"; {ALL_TUBS:,} tubs would take {took * ALL_TUBS / tubs:.0f} s"
    what = f"{tubs:,} tubs x {FLEET_OPTIONS} options x {CASES} cases, with the schedule"
    print(f"\n{what}: {took:.1f} s, peak {peak_gib():.2f} GiB{told}")


if __name__ == "__main__":
    main()
