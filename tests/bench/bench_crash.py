"""Kill writers of a logbook at random moments, and see that all they acknowledged is there.

    python tests/bench/bench_crash.py --count 200

Every round starts a process on a new logbook that adds three readings at a time and says so after each, kills it with
SIGKILL somewhere between its start and a tenth of a second after its first word, then opens the logbook. Prints to
standard output alone; exits with 1 if anything acknowledged is lost, anything is there in part, or SQLite finds damage.
"""

import argparse
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from logbooks import crash


def main() -> None:
    """Kill so many writers and print what was found."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=200, help="writers to kill")
    parser.add_argument("--seed", type=int, default=0, help="seed of the first")
    arguments = parser.parse_args()
    started = time.perf_counter()
    crashes = []
    for seed in range(arguments.seed, arguments.seed + arguments.count):
        with TemporaryDirectory() as folder:
            crashes.append(crash(Path(folder) / "book.sqlite", seed))
    wrong = [words for each in crashes for words in each.wrong]
    acknowledged = sum(each.acknowledged for each in crashes)
    print(f"{len(crashes)} writers killed in {time.perf_counter() - started:.0f} s")
    print(f"killed before the first acknowledgement: {sum(not each.acknowledged for each in crashes)}")
    print(f"killed in the middle of a change, its journal left behind: {sum(each.cut_short for each in crashes)}")
    print(f"killed between a change and its acknowledgement: {sum(each.found > each.acknowledged for each in crashes)}")
    print(f"additions of three readings acknowledged: {acknowledged}, found: {sum(each.found for each in crashes)}")
    print(f"lost, in part or damaged: {len(wrong)}")
    for words in wrong:
        print(" ", words)
    raise SystemExit(bool(wrong))


if __name__ == "__main__":
    main()
