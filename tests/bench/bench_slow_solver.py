"""Hold many random studies against the slow solver: how far off, single elements and trains apart, and how much faster.

    python tests/bench/bench_slow_solver.py --count 200

Each study is drawn twice, with options of one or two elements and with trains of three. Prints to standard output
alone. Errors are relative to the slow solver. First runs alone are followed without time limits but the oldest age, so
that dirt ends most of them, as finely as the central case and as draws are worked; those that age ends, or that do not
begin, are only counted. Speed is the processor time of the slow solver's one run over that of the program's first run
(options put together, loaded and run), and over that of the program's whole life of an option (every run, rinse and
replacement, cost and events), side by side.
"""

import argparse
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import slow_solver
from random_studies import random_study
from slow_solver_cases import (
    CLOSE,
    WORST,
    cases_of,
    differences,
    even_train,
    first_days,
    first_runs,
    fits,
    kind_of,
    too_far,
    without_time_limits,
)
from studies import Given, study_of

from filtration import compare
from filtration.loading.table import COARSE, FINE

FINENESS = {"central case": FINE, "draws": COARSE}
KINDS = {"single": "single elements", "train": "trains"}
Errors = Mapping[str, list[float]]


def _by_name() -> dict[str, list[float]]:
    return defaultdict(list)


@dataclass(kw_only=True)
class Tally:
    """What was seen so far: relative errors of figures and of first runs by kind, limits, seconds, what is too far."""

    errors: dict[str, dict[str, list[float]]] = field(default_factory=lambda: defaultdict(_by_name))
    first: dict[tuple[str, str], list[float]] = field(default_factory=lambda: defaultdict(list))
    limits: Counter[str] = field(default_factory=Counter)
    ends: Counter[tuple[str, str]] = field(default_factory=Counter)
    seconds: dict[str, list[float]] = field(default_factory=_by_name)
    far: list[str] = field(default_factory=list)
    options: int = 0


def take_in(data: Given, tally: Tally, seed: int) -> None:
    """Add the figures of one study to what was seen."""
    clock = time.process_time()
    first_days(data, FINE)
    first = time.process_time() - clock
    study = study_of(data)
    clock = time.process_time()
    answers = {answer.name: answer for answer in compare(study).options}
    life = time.process_time() - clock
    slow = 0.0
    for name, case in cases_of(data):
        if fits(case):
            clock = time.process_time()
            slow_solver.solve(case)
            slow += time.process_time() - clock
        found = list(differences(answers[name], case))
        tally.options += 1
        tally.limits[str(answers[name].governed_by)] += 1
        for one in found:
            figure = one.figure.split(" of ")[0].split(" governs")[0].split(",")[0]
            tally.errors[kind_of(case)][figure].append(one.relative)
        tally.far += [f"seed {seed}: {words}" for words in too_far(found)]
    for what, seconds in (("first run", first), ("life", life), ("slow solver", slow)):
        tally.seconds[what].append(seconds)


def take_in_first_runs(data: Given, tally: Tally, seed: int) -> None:
    """Add the first runs of one study to what was seen."""
    for run in first_runs(without_time_limits(data), *FINENESS.values()):
        by_dirt = run.theirs > 0.0 and run.governed_by != "time limit"
        tally.ends[run.kind, run.governed_by if run.theirs > 0.0 else "none"] += 1
        for name, days, relative, most in zip(FINENESS, run.ours, run.relative, WORST[run.kind], strict=True):
            if by_dirt:
                tally.first[run.kind, name].append(relative)
            if not relative <= most:
                tally.far.append(
                    f"seed {seed}: {run.option}: first run, {name}, {days:.6g} days, slow solver {run.theirs:.6g}, "
                    f"ended by {run.governed_by}"
                )


def print_errors(heading: str, errors: Errors) -> None:
    """Print the distribution of some errors, a line a name."""
    print(f"\n{heading:<32}{'number':>8}{'median':>10}{'p95':>10}{'p99':>10}{'worst':>10}")
    for name, found in errors.items():
        if found:
            median, p95, p99 = np.percentile(found, [50, 95, 99])
            print(f"{name:<32}{len(found):>8}{median:>10.1e}{p95:>10.1e}{p99:>10.1e}{max(found):>10.1e}")


def report(tally: Tally) -> None:
    """Print the distribution of the errors and the speed."""
    print(f"{tally.options} options; due by {dict(tally.limits.most_common())}")
    for kind, heading in KINDS.items():
        figures = {name: found for name, found in tally.errors[kind].items() if name not in tally.limits}
        print_errors(f"relative error, {heading}", figures)
    runs = {f"{KINDS[kind]}, {name}": tally.first[kind, name] for kind in KINDS for name in FINENESS}
    print_errors("days of first runs ended by dirt", runs)
    for kind, heading in KINDS.items():
        print(f"{heading}, ended by", {end: number for (of, end), number in tally.ends.most_common() if of == kind})
    slow = np.array(tally.seconds["slow solver"])
    print()
    for what in ("first run", "life"):
        ours = np.array(tally.seconds[what])
        print(
            f"{what}: {1e3 * ours.sum() / tally.options:.1f} ms an option, slow solver's one run "
            f"{1e3 * slow.sum() / tally.options:.1f} ms: {slow.sum() / ours.sum():.2f} times as fast"
            f" (by study {np.percentile(slow / ours, 10):.2f} to {np.percentile(slow / ours, 90):.2f})"
        )
    print(f"{len(tally.far)} farther off: figures than {CLOSE:.0%}, first runs than promised")
    for line in tally.far:
        print(" ", line)


def main() -> None:
    """Draw studies, hold them against the slow solver, and print what was seen."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=200, help="studies to draw, each of both kinds")
    parser.add_argument("--seed", type=int, default=1000, help="seed of the first study")
    parser.add_argument("--options", type=int, default=1, help="options side by side in a study")
    arguments = parser.parse_args()
    tally = Tally()
    started = time.perf_counter()
    for seed in range(arguments.seed, arguments.seed + arguments.count):
        for draw in (random_study, even_train):
            data = draw(seed, arguments.options)
            for take in (take_in, take_in_first_runs):
                try:
                    take(data, tally, seed)
                except Exception as error:  # noqa: BLE001 - one study must not end the survey
                    tally.far.append(f"seed {seed}: {type(error).__name__}: {error}")
    report(tally)
    print(f"{arguments.count} studies of each kind in {time.perf_counter() - started:.0f} s")


if __name__ == "__main__":
    main()
