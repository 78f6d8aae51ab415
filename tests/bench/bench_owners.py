"""How often the 80 % interval of the next service holds the slow solver's truth, and how much readings narrow it.

    python tests/bench/bench_owners.py [--owners 200] [--seed 0]

Of two sorts of tubs: unknowns drawn from the prior, and all of them in its middle. Also how long a year of weekly
readings takes to fit.
"""

import argparse
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from owners import a_year, judged, owner

from filtration.readings.learning import learn, nothing_known
from filtration.readings.sorting import record_of


def main() -> None:
    """Print coverage, widths and the time of a fit."""
    words = argparse.ArgumentParser()
    words.add_argument("--owners", type=int, default=200)
    words.add_argument("--seed", type=int, default=0)
    given = words.parse_args()
    print("| unknowns | owners | held by the 80 % interval | due before it | due after it | width over that unread |")
    print("|---|---|---|---|---|---|")
    for sort, middle in (("drawn", False), ("in the middle", True)):
        found = [judged(owner(given.seed + number, middle=middle)) for number in range(given.owners)]
        early, late = (sum(each.truth < each.low for each in found), sum(each.truth > each.high for each in found))
        width = sum(each.high - each.low for each in found)
        before = sum(each.prior_high - each.prior_low for each in found)
        held = len(found) - early - late
        shares = " | ".join(f"{count} ({count / len(found):.1%})" for count in (held, early, late))
        print(f"| {sort} | {len(found)} | {shares} | {width / before:.2f} |", flush=True)
    study, rows, today = a_year()
    record = record_of(study, rows, today, nothing_known())
    start = time.process_time()
    learn(record, nothing_known())
    print(f"a year of weekly readings: {time.process_time() - start:.2f} s")


if __name__ == "__main__":
    main()
