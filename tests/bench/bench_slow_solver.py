"""Hold many random studies against the slow solver: how far off, and how much faster.

    python tests/bench/bench_slow_solver.py --count 1000

Prints to standard output alone. Errors are relative to the slow solver. Speed is the processor time of the slow
solver's one run over that of the program's first run (options put together, loaded and run), and over that of
the program's whole life of an option (every run, rinse and replacement, cost and events), side by side.
"""

import argparse
import sys
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import slow_solver
from random_studies import random_study
from slow_solver_cases import CLOSE, cases_of, differences, fits, too_far
from studies import Given, study_of

from filtration import Study, compare
from filtration.loading.assembly import entry_of, runner_of
from filtration.loading.lifetime import first_runs


@dataclass(kw_only=True)
class Tally:
    """What was seen so far: relative errors by figure, limits, seconds, and what lies too far off."""

    errors: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    limits: Counter[str] = field(default_factory=Counter)
    seconds: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    far: list[str] = field(default_factory=list)
    options: int = 0


def first_run(study: Study) -> None:
    """Run every option of a study from new until it is due, and nothing else."""
    entries = [entry_of(study, option, pump) for pump in study.pumps for option in study.options]
    driven = [entry for entry in entries if entry.loop is not None]
    if driven:
        first_runs(runner_of(study, driven), np.arange(len(driven)))


def take_in(data: Given, tally: Tally, seed: int) -> None:
    """Add one study to what was seen."""
    study = study_of(data)
    clock = time.process_time()
    first_run(study)
    first = time.process_time() - clock
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
            tally.errors[one.figure.split(" of ")[0].split(" governs")[0].split(",")[0]].append(one.relative)
        tally.far += [f"seed {seed}: {words}" for words in too_far(found)]
    for what, seconds in (("first run", first), ("life", life), ("slow solver", slow)):
        tally.seconds[what].append(seconds)


def report(tally: Tally) -> None:
    """Print the distribution of the errors and the speed."""
    print(f"{tally.options} options; due by {dict(tally.limits.most_common())}")
    print(f"{'relative error':<24}{'median':>10}{'p95':>10}{'p99':>10}{'worst':>10}")
    for figure, errors in tally.errors.items():
        if figure not in tally.limits:
            median, p95, p99 = np.percentile(errors, [50, 95, 99])
            print(f"{figure:<24}{median:>10.1e}{p95:>10.1e}{p99:>10.1e}{max(errors):>10.1e}")
    slow = np.array(tally.seconds["slow solver"])
    for what in ("first run", "life"):
        ours = np.array(tally.seconds[what])
        print(
            f"{what}: {1e3 * ours.sum() / tally.options:.1f} ms an option, slow solver's one run "
            f"{1e3 * slow.sum() / tally.options:.1f} ms: {slow.sum() / ours.sum():.2f} times as fast"
            f" (by study {np.percentile(slow / ours, 10):.2f} to {np.percentile(slow / ours, 90):.2f})"
        )
    print(f"{len(tally.far)} figures farther off than {CLOSE:.0%}")
    for line in tally.far:
        print(" ", line)


def main() -> None:
    """Draw studies, hold them against the slow solver, and print what was seen."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=1000, help="studies to draw")
    parser.add_argument("--seed", type=int, default=1000, help="seed of the first study")
    parser.add_argument("--options", type=int, default=1, help="options side by side in a study")
    arguments = parser.parse_args()
    tally = Tally()
    started = time.perf_counter()
    for seed in range(arguments.seed, arguments.seed + arguments.count):
        try:
            take_in(random_study(seed, arguments.options), tally, seed)
        except Exception as error:  # noqa: BLE001 - one study must not end the survey
            tally.far.append(f"seed {seed}: {type(error).__name__}: {error}")
    report(tally)
    print(f"{arguments.count} studies in {time.perf_counter() - started:.0f} s")


if __name__ == "__main__":
    main()
