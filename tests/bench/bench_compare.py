"""Time whole processes as a user starts them, as ratios to a Python that does nothing.

    python tests/bench/bench_compare.py --repeats 5

Prints to standard output alone. Ratios travel between machines better than seconds: what ``python -c pass`` takes
is measured in the same run, in turn with the others, and the quickest of the repeats is kept.
"""

import argparse
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BARE = "python -c pass"


def commands(draws: int) -> dict[str, list[str]]:
    """Return what is timed, by what a user would type."""
    program = [sys.executable, "-m", "filtration"]
    timed = {
        BARE: [sys.executable, "-c", "pass"],
        "import numpy, scipy": [sys.executable, "-c", "import numpy, scipy"],
        "filtration --help": [*program, "--help"],
    }
    for path in sorted((ROOT / "data_demo").glob("*.toml")):
        for number in dict.fromkeys((0, draws)):
            name = f"filtration compare {path.name} --draws {number}"
            timed[name] = [*program, "compare", str(path), "--draws", str(number), "--json"]
    return timed


def seconds(command: list[str]) -> float:
    """Run a command and return how long it took; what it prints is thrown away."""
    started = time.perf_counter()
    subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.perf_counter() - started


def main() -> None:
    """Time every command in turn and print the quickest of the repeats."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--repeats", type=int, default=5, help="runs of each command")
    parser.add_argument("--draws", type=int, default=0, help="draws beside the central case; 0 for that alone")
    arguments = parser.parse_args()
    timed = commands(arguments.draws)
    best = dict.fromkeys(timed, float("inf"))
    for _ in range(arguments.repeats):
        for name, command in timed.items():
            best[name] = min(best[name], seconds(command))
    print(f"{'quickest of ' + str(arguments.repeats):<52}{'s':>8}{'ratio':>9}")
    for name, took in best.items():
        print(f"{name:<52}{took:>8.3f}{took / best[BARE]:>8.1f}x")


if __name__ == "__main__":
    main()
