"""How much each printed figure that comes from draws moves from one seed to another, at the number of cases used.

    python tests/bench/bench_seeds.py

Prints a table for docs/validation.md: of the option to take of each demo study, of the plan and the forecast with it,
of the demo tubs as a fleet and of simulated owners' logbooks, ten seeds, the largest distance from the middle one: over
that, in per cent; of chances in cases of twenty. Of what is told by tenth, service or tub, the one that moves most.
What moves by more than a tenth is not printed as it stands: see the last column.
"""

import sys
from collections import defaultdict
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from seeds import (
    DEMOS,
    Figures,
    beyond,
    figures_of,
    fleet_figures_of,
    forecast_figures_of,
    logbook_of,
    owners,
    plan_figures_of,
)
from studies import demo_data, study_of

from filtration import compare

SEEDS = 10
OWNERS = (2, 5, 6)
PRINTED = {
    "chance": "in cases of twenty",
    "worth of measuring": "as an order of size",
    "width left": "as an order of size",
    "choosing wrong": "no, in the document alone",
}
Job = tuple[str, Callable[[int], Figures]]


def jobs() -> Iterator[Job]:
    """Yield what is looked at, and its figures by seed."""
    logbooks = {demo: logbook_of(demo) for demo in DEMOS}
    for demo in DEMOS:
        study = study_of(demo_data(demo))
        yield demo, partial(figures_of, study)
        yield demo, partial(plan_figures_of, compare(study))
        yield demo, partial(forecast_figures_of, logbooks[demo])
    for who, kept in owners(*OWNERS):
        yield who, partial(forecast_figures_of, kept)
        yield who, partial(plan_figures_of, compare(kept[0]), kept=kept)
    yield "all three", partial(fleet_figures_of, [demo_data(demo) for demo in DEMOS])


def rows(seeds: int) -> Iterator[tuple[str, str, list[float]]]:
    """Yield what is looked at, figure and its value by seed; of figures told alike the one that moves most."""
    for where, figures_by in jobs():
        by_name: dict[str, list[float]] = defaultdict(list)
        for seed in range(seeds):
            for name, value in figures_by(seed).items():
                by_name[name].append(value)
        alike: dict[str, list[str]] = defaultdict(list)
        for name in by_name:
            alike[name.split(",")[0]].append(name)
        for names in alike.values():
            worst = max(names, key=lambda name: beyond(name, by_name[name]))
            yield where, worst, by_name[worst]


def main() -> None:
    """Print the table."""
    print("| of | figure | least | middle | most | farthest from the middle | printed |")
    print("|---|---|---|---|---|---|---|")
    for where, name, values in rows(SEEDS):
        low, middle, high = min(values), float(np.median(values)), max(values)
        far = max(high - middle, middle - low)
        if name.startswith("chance"):
            apart = f"{20.0 * far:.1f} cases of 20"
        else:
            apart = f"{100.0 * far / abs(middle):.0f} %" if middle else "-"
            if name.startswith("day "):
                apart += f", {far:.3g} days"
        usual = "as it stands" if beyond(name, values) <= 1.0 else "as it stands, see above"
        printed = next((told for start, told in PRINTED.items() if name.startswith(start)), usual)
        print(f"| {where} | {name} | {low:.3g} | {middle:.3g} | {high:.3g} | {apart} | {printed} |", flush=True)


if __name__ == "__main__":
    main()
