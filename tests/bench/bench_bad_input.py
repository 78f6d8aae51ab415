"""Give the program bad input by the thousand, and see that all of it is answered or refused in words.

    python tests/bench/bench_bad_input.py --count 100000 --workers 1

Studies are drawn from the schema of their file, nearly right and wrong ones among them; studies, tables of readings and
of tubs, and links are real ones changed at random; see ``tests/helpers/bad_input.py``. Prints a table of what came,
and each finding with what draws it again: ``--again KIND SEED NUMBER`` prints that one case. Exits with 1 if there is
a finding.
"""

import argparse
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "ui"), str(ROOT / "tests" / "helpers"), str(ROOT)]

from bad_input import SHARES, Case, drawn, judged  # noqa: E402 - found by the lines above
from pages import first_page  # noqa: E402 - see above

from filtration import compare, load_study  # noqa: E402 - see above
from filtration.base.places import demo_file  # noqa: E402 - see above
from filtration.plan.dated_plan import plan  # noqa: E402 - see above

BATCH = 250


@dataclass
class Seen:
    """What came of a batch, how long the slowest of each took [s], and what was found."""

    came: Counter[tuple[str, str]] = field(default_factory=Counter)
    slowest_s: dict[tuple[str, str], float] = field(default_factory=dict)
    findings: list[str] = field(default_factory=list)
    number: int = 0


def warm() -> None:
    """Import all that is imported late, so that no case is charged with it, or cut short in the middle of it."""
    study = load_study(demo_file("barrel"))
    plan(study, answer=compare(study, draws=16), draws=16)
    main_module = sys.modules["__main__"]  # which a page takes over
    first_page(600).run()
    sys.modules["__main__"] = main_module


def batch(job: tuple[str, int, int, int]) -> Seen:
    """Draw and judge a batch: its kind, how many, its seed, one in how many goes on to an answer."""
    kind, count, seed, one_in = job
    seen = Seen()

    def see(case: Case) -> None:
        seen.number += 1
        start = time.process_time()
        came, found = judged(case, one_in=one_in)
        key, took_s = (kind, came), time.process_time() - start
        seen.came[key] += 1
        seen.slowest_s[key] = max(seen.slowest_s.get(key, 0.0), took_s)
        seen.findings += [f"{kind} {seed} {seen.number}: {each}" for each in found]

    drawn(kind, count, seed, see)
    return seen


def jobs(count: int, seed: int, one_in: int) -> list[tuple[str, int, int, int]]:
    """Return batches of every kind, mixed, as many cases as asked for."""
    found = []
    for kind, share in SHARES.items():
        wanted = round(count * share / 100.0)
        for place, start in enumerate(range(0, wanted, BATCH)):
            found.append((start / wanted, (kind, min(BATCH, wanted - start), seed + place, one_in)))
    return [job for _, job in sorted(found)]


def again(kind: str, seed: int, number: int, one_in: int) -> None:
    """Print one case, and what comes of it."""
    seen = Seen()

    def see(case: Case) -> None:
        seen.number += 1
        if seen.number == number:
            print(case.given)
            print(judged(case, one_in=one_in))

    drawn(kind, BATCH, seed, see)


def main() -> None:
    """Draw so many cases and print what came of them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=100_000, help="cases")
    parser.add_argument("--workers", type=int, default=1, help="processes to work in")
    parser.add_argument("--seed", type=int, default=1, help="seed of the first batch of each kind")
    parser.add_argument("--one-in", type=int, default=50, help="one in so many that are read goes on to an answer")
    parser.add_argument("--again", nargs=3, metavar=("KIND", "SEED", "NUMBER"), help="draw one case again")
    arguments = parser.parse_args()
    if arguments.again:
        again(arguments.again[0], *map(int, arguments.again[1:]), arguments.one_in)
        return
    started, total = time.perf_counter(), Seen()
    work = jobs(arguments.count, arguments.seed, arguments.one_in)
    with ProcessPoolExecutor(arguments.workers, mp_context=get_context("spawn"), initializer=warm) as executor:
        for done, seen in enumerate(executor.map(batch, work), start=1):
            total.came += seen.came
            for key, took_s in seen.slowest_s.items():
                total.slowest_s[key] = max(total.slowest_s.get(key, 0.0), took_s)
            for finding in seen.findings:
                print("FOUND", finding, flush=True)
            total.findings += seen.findings
            if done % 20 == 0:
                print(
                    f"{done} of {len(work)} batches, {time.perf_counter() - started:.0f} s", file=sys.stderr, flush=True
                )
    print(f"{total.came.total()} cases in {time.perf_counter() - started:.0f} s")
    print(f"{'kind':10} {'what came':28} {'cases':>7} {'slowest, s of the processor':>28}")
    for (kind, came), number in sorted(total.came.items()):
        print(f"{kind:10} {came:28} {number:7} {total.slowest_s[kind, came]:28.2f}")
    print(f"findings: {len(total.findings)}")
    raise SystemExit(bool(total.findings))


if __name__ == "__main__":
    main()
