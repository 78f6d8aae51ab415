"""How often the 80 % interval of the next service holds the slow solver's truth, and how much readings narrow it.

    python tests/bench/bench_owners.py [--owners 200] [--seed 0]

Also how long a year of weekly readings takes to fit.
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
    found = [judged(owner(given.seed + number)) for number in range(given.owners)]
    early, late = (sum(each.truth < each.low for each in found), sum(each.truth > each.high for each in found))
    width = sum(each.high - each.low for each in found)
    before = sum(each.prior_high - each.prior_low for each in found)
    print(f"{given.owners} owners: the 80 % interval holds the truth in {1.0 - (early + late) / len(found):.1%};")
    print(f"sooner than it {early} ({early / len(found):.1%}), later {late} ({late / len(found):.1%});")
    print(f"mean width {width / len(found):.1f} days, without readings {before / len(found):.1f}: {width / before:.2f}")
    study, rows, today = a_year()
    record = record_of(study, rows, today, nothing_known())
    start = time.process_time()
    learn(record, nothing_known())
    print(f"a year of weekly readings: {time.process_time() - start:.2f} s")


if __name__ == "__main__":
    main()
