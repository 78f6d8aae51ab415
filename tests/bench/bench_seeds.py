"""How much each printed figure that comes from draws moves from one seed to another, at the number of cases used.

    python tests/bench/bench_seeds.py

Prints a table for docs/validation.md: of the option to take of each demo study, ten seeds, the largest distance from
the middle one over that, in per cent; of chances in cases of twenty. What moves by more than a tenth is not printed as
it stands: see the last column.
"""

import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from seeds import DEMOS, Figures, figures_of
from studies import demo_data, study_of

SEEDS = 10
PRINTED = {
    "days_to_first_service": "as it stands",
    "cost_per_year": "as it stands",
    "see_through_worst_m": "as it stands",
    "clean_flow_l_per_h": "as it stands",
    "chance": "in cases of twenty",
    "none meets": "in cases of twenty",
    "worth of measuring": "as an order of size",
    "choosing wrong": "no, in the document alone",
}


def rows(seeds: int) -> Iterator[tuple[str, str, list[float]]]:
    """Yield demo, figure and its value by seed."""
    for demo in DEMOS:
        by_name: dict[str, list[float]] = defaultdict(list)
        found: list[Figures] = [figures_of(study_of(demo_data(demo)), seed) for seed in range(seeds)]
        for each in found:
            for name, value in each.items():
                by_name[name].append(value)
        yield from ((demo, name, values) for name, values in by_name.items())


def main() -> None:
    """Print the table."""
    print("| demo | figure | least | middle | most | farthest from the middle | printed |")
    print("|---|---|---|---|---|---|---|")
    for demo, name, values in rows(SEEDS):
        low, middle, high = min(values), float(np.median(values)), max(values)
        if name.startswith(("chance", "none meets")):
            apart = f"{20.0 * max(high - middle, middle - low):.1f} cases of 20"
        else:
            apart = f"{100.0 * max(high - middle, middle - low) / middle:.0f} %" if middle else "-"
        printed = next(told for start, told in PRINTED.items() if name.startswith(start))
        print(f"| {demo} | {name} | {low:.3g} | {middle:.3g} | {high:.3g} | {apart} | {printed} |")


if __name__ == "__main__":
    main()
