"""Hold many random studies against the slower tub: how far off the quasi-steady answer is, and what its notes find.

    python tests/bench/bench_unsteady.py --count 200 --workers 1

Prints to standard output; progress goes to standard error. Errors are the program's figure over the slower tub's, less
1. Days are held against a new filter in fresh water, against the mean over beginnings spread over the water's life and
the time to the next session, and against the worst of those.
"""

import argparse
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from random_studies import random_study
from unsteady_errors import FIGURES, NOTES, Held, held

WRONG = 0.05


def take(seed: int) -> tuple[int, list[Held] | str]:
    """Hold one study's option; say what went wrong if it cannot be."""
    try:
        return seed, held(random_study(seed, 1))
    except Exception as error:  # noqa: BLE001 - one study must not end the survey
        return seed, f"{type(error).__name__}: {error}"


def line(name: str, errors: Sequence[float]) -> None:
    """Print how a figure's errors are spread."""
    known = np.abs([error for error in errors if np.isfinite(error)])
    if known.size:
        median, most = np.percentile(known, [50, 90])
        beyond = float(np.mean(known > WRONG))
        print(f"{name:<42}{known.size:>5}{median:>9.2%}{most:>9.2%}{known.max():>9.2%}{beyond:>9.1%}")


def spreads(found: Sequence[tuple[int, Held]]) -> None:
    """Print the errors of every figure, by limit for the days, and with and without a note."""
    every = [one for _, one in found]
    print(f"{'relative error':<42}{'of':>5}{'median':>9}{'90 %':>9}{'worst':>9}{'over 5 %':>9}")
    days: dict[str, Callable[[Held], float]] = {
        "days, fresh water": lambda one: one.error("days"),
        "days, mean of beginnings": lambda one: one.mean_days_error,
        "days, worst beginning": lambda one: one.off("days"),
    }
    for name, error in days.items():
        line(name, [error(one) for one in every if one.clear])
        for limit in Counter(one.governed_by for one in every):
            line(f"  due by {limit}", [error(one) for one in every if one.clear and one.governed_by == limit])
    for figure in FIGURES[1:]:
        line(figure, [one.error(figure) for one in every])
    for of in NOTES:
        for noted in (True, False):
            words = f"{of}, {'with' if noted else 'without'} a note"
            line(words, [one.off(of) for one in every if (of in one.noted) is noted])


def confusion(found: Sequence[tuple[int, Held]]) -> None:
    """Print what the notes find, miss, and say for nothing."""
    print(f"\n{'more than 5 % off':<24}{'noted':>8}{'missed':>8}{'for nothing':>13}{'rightly none':>14}")
    for of in NOTES:
        seen = Counter((one.off(of) > WRONG, of in one.noted) for _, one in found if np.isfinite(one.off(of)))
        row = [seen[key] for key in ((True, True), (True, False), (False, True), (False, False))]
        print(f"{of:<24}{row[0]:>8}{row[1]:>8}{row[2]:>13}{row[3]:>14}")
    for seed, one in found:
        for of in NOTES:
            if one.off(of) > WRONG and of not in one.noted:
                print(f"  seed {seed}: {of} {one.off(of):.1%} off, no note; due by {one.governed_by}")
        if one.clear is not one.clear_in_theirs:
            print(f"  seed {seed}: clear enough when clean: {one.clear}, in the slower tub {one.clear_in_theirs}")


def main() -> None:
    """Draw studies, hold them against the slower tub, and print what was seen."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=200, help="studies to draw")
    parser.add_argument("--seed", type=int, default=3000, help="seed of the first study")
    parser.add_argument("--workers", type=int, default=1, help="processes")
    arguments = parser.parse_args()
    started = time.perf_counter()
    found: list[tuple[int, Held]] = []
    failed = []
    with ProcessPoolExecutor(arguments.workers) as pool:
        seeds = range(arguments.seed, arguments.seed + arguments.count)
        for done, (seed, what) in enumerate(pool.map(take, seeds), 1):
            if isinstance(what, str):
                failed.append(f"seed {seed}: {what}")
            else:
                found += [(seed, one) for one in what]
            print(f"{done} of {arguments.count}, {time.perf_counter() - started:.0f} s", file=sys.stderr, flush=True)
    print(f"{arguments.count} studies, {len(found)} options with the flow; {time.perf_counter() - started:.0f} s")
    spreads(found)
    confusion(found)
    print(f"{len(failed)} studies failed", *failed, sep="\n  ")


if __name__ == "__main__":
    main()
