"""Time whole processes as a user starts them, as ratios to a Python that does nothing.

    python tests/bench/bench_compare.py --repeats 5

Prints to standard output alone. Ratios travel between machines better than seconds: what ``python -c pass`` takes
is measured in the same run, in turn with the others, and the quickest of the repeats is kept. Beside it what a whole
answer of the demo costs over what as many further draws cost, in one process; processor time, the quickest as well.
"""

import argparse
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BARE = "python -c pass"
LIBRARIES = "import chemicals, numpy, pint, pydantic, rich, typer, scipy.interpolate, scipy.special, scipy.stats"
DRAWS = 1024


def commands(draws: int) -> dict[str, list[str]]:
    """Return what is timed, by what a user would type."""
    program = [sys.executable, "-m", "filtration"]
    timed = {
        BARE: [sys.executable, "-c", "pass"],
        LIBRARIES: [sys.executable, "-c", LIBRARIES],
        "filtration --help": [*program, "--help"],
    }
    for path in sorted((ROOT / "data_demo").glob("*.toml")):
        for number in dict.fromkeys((0, draws)):
            name = f"filtration compare {path.name} --draws {number}"
            timed[name] = [*program, "compare", str(path), "--draws", str(number)]
    return timed


def seconds(command: list[str]) -> float:
    """Run a command and return how long it took; what it prints is thrown away."""
    started = time.perf_counter()
    subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.perf_counter() - started


def answer_over_draws(repeats: int) -> tuple[float, float, float]:
    """Return the seconds of a central case, of a whole answer with draws, and of as many further draws."""
    from filtration import compare, load_study

    study = load_study(ROOT / "data_demo" / "freezer.toml")
    compare(study, draws=64)
    best = {0: float("inf"), DRAWS: float("inf"), 2 * DRAWS: float("inf")}
    for _ in range(repeats):
        for draws, quickest in best.items():
            started = time.process_time()
            compare(study, draws=draws)
            best[draws] = min(quickest, time.process_time() - started)
    return best[0], best[DRAWS], best[2 * DRAWS] - best[DRAWS]


def largest_saving_over_answer(repeats: int) -> dict[str, tuple[float, float]]:
    """Return the seconds of the largest saving, and of the whole answer it is of, by demo."""
    from filtration import compare, load_study
    from filtration.answers.cheaper import largest_saving

    found = {}
    for path in sorted((ROOT / "data_demo").glob("*.toml")):
        study, best = load_study(path), [float("inf")] * 2
        for _ in range(repeats):
            started = time.process_time()
            answer = compare(study, draws=DRAWS)
            between = time.process_time()
            largest_saving(answer)
            best = [min(best[0], time.process_time() - between), min(best[1], between - started)]
        found[path.name] = (best[0], best[1])
    return found


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
        print(f"{name:<52.52}{took:>8.3f}{took / best[BARE]:>8.1f}x{took / best[LIBRARIES]:>8.2f} x the libraries")
    central, whole, further = answer_over_draws(arguments.repeats)
    print(
        f"freezer, {DRAWS} draws: {whole:.3f} s, {whole / further:.1f} times {DRAWS} further draws ({further:.3f} s);"
    )
    print(f"  the central case alone {central:.3f} s, {central / further:.1f} times")
    for demo, (largest, answer) in largest_saving_over_answer(arguments.repeats).items():
        print(f"{demo}: the largest saving {largest:.3f} s, {largest / answer:.0%} of the answer's {answer:.3f} s")


if __name__ == "__main__":
    main()
