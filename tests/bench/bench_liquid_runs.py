"""Learn the loading law on runs of a filter in a liquid, and foretell the lives of other runs to 137.9 kPa.

    python tests/bench/bench_liquid_runs.py LEARN.csv FORETELL.csv [--json] [--picture]

Both files have the columns of the open data (tests/helpers/liquid_runs.py says where it comes from): run,
particles_um, solids_percent, time_s, flow_ml_per_min, pressure_drop_kpa. Each particle size is learned on its own. A
life counts from the pump's start and is foretold from solids, flow and particle size alone, through the solids fed:
flow times solids, added up.

Prints mean errors over the life: of the law, of a constant mass and a constant time, of the lives learned from (of the
worse size), and, once a run has been read up to 34 kPa, of the law and of the mean ratio of masses; how many lives the
80 % interval holds; then what the runs fix of the filter, and law and runs along the mass fed.
--picture makes docs/pictures/liquid_runs.png too.
"""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

import altair as alt
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from liquid_law import BINS, Errors, Learned, judge, learn_by_size
from liquid_runs import binned, read_runs

from filtration.base.errors import InputError
from filtration.present.charts.look import COLOURS, FONT

PICTURE = Path(__file__).resolve().parents[2] / "docs" / "pictures" / "liquid_runs.png"
_PLACES = 12


def document(errors: Errors, learned: dict[str, Learned]) -> dict[str, Any]:
    """Return the figures by name."""
    return {
        "runs": errors.runs,
        "mean_relative_error": errors.law,
        "constant_mass": errors.constant_mass,
        "constant_time": errors.constant_time,
        "learning_error": errors.learning,
        "with_readings_to_34_kpa": {"law": errors.law_read, "ratio_of_masses": errors.ratio_read},
        "held_80": errors.held_80,
        "products": {size: each.products() for size, each in learned.items()},
        "rms_log_pressure": {size: each.rms_log_pressure for size, each in learned.items()},
    }


def print_figures(figures: dict[str, Any]) -> None:
    """Print them, errors in per cent."""
    for name, value in figures.items():
        if isinstance(value, int):
            print(f"{name:<26}{value}")
        elif isinstance(value, float):
            print(f"{name:<26}{value:.2%}")
        elif name != "products":
            print(f"{name:<26}{', '.join(f'{key} {each:.2%}' for key, each in value.items())}")
    sizes = figures["products"]
    print(f"\n| products | {' | '.join(f'{size} um' for size in sizes)} |\n|---|{'---|' * len(sizes)}")
    for name in next(iter(sizes.values())):
        told = [[f"{value:.2g}" for value in each[name].values()] for each in sizes.values()]
        print(f"| {name} |", *(f"{middle} ({low} to {high}) |" for middle, low, high in told))


def curve(each: Learned, step_kg: float) -> list[tuple[float, float, float, float]]:
    """Return mass fed [g] and the pressures of the runs, of the law and of its layers alone [kPa], bin by bin."""
    seen = binned(each.runs, step_kg)
    law = np.exp(each.curves.log_pa(seen.fed_kg, seen.flow_m3_s)[0])
    layers = seen.flow_m3_s * np.interp(seen.fed_kg, each.curves.fed_kg[:, 0], each.curves.resistance.linear[:, 0])
    columns = 1e3 * seen.fed_kg, 1e-3 * seen.pressure_pa, 1e-3 * law, 1e-3 * layers
    return list(zip(*(column.tolist() for column in columns), strict=True))


def print_curves(learned: dict[str, Learned]) -> None:
    """Print law and runs along the mass fed."""
    for size, each in learned.items():
        rows = curve(each, each.mean_kg / _PLACES)
        print(f"\n| {size} um, g fed |", *(f"{row[0]:.1f} |" for row in rows))
        print(f"|---|{'---|' * len(rows)}")
        for place, name in enumerate(("runs, kPa", "law, kPa", "its layers, kPa"), start=1):
            print(f"| {name} |", *(f"{row[place]:.3g} |" for row in rows))


def picture(learned: dict[str, Learned]) -> alt.HConcatChart:
    """Return a panel for each size: runs as points, law and its layers as lines."""
    colour = dict(zip(("runs", "law", "layers alone"), COLOURS.values(), strict=False))
    scale = alt.Scale(domain=list(colour), range=list(colour.values()))
    panels = []
    for size, each in learned.items():
        rows = [
            {"g": round(row[0], 3), "kPa": round(value, 3), "what": what}
            for row in curve(each, each.mean_kg / (2 * BINS))
            for what, value in zip(colour, row[1:], strict=True)
        ]
        points = [row for row in rows if row["what"] == "runs"]
        lines = [row for row in rows if row["what"] != "runs"]
        x = alt.X("g:Q", title="solids fed, g", scale=alt.Scale(nice=False))
        y = alt.Y("kPa:Q", title="pressure drop, kPa", scale=alt.Scale(type="log", domain=[2, 200]))
        shade = alt.Color("what:N", scale=scale, legend=alt.Legend(title=None, orient="bottom"))
        dashes = alt.Scale(domain=list(colour), range=[[1, 0], [1, 0], [5, 3]])
        dash = alt.StrokeDash("what:N", scale=dashes, legend=None)
        both = [
            alt.Chart(alt.InlineData(values=points)).mark_point(size=22, filled=True).encode(x=x, y=y, color=shade),
            alt.Chart(alt.InlineData(values=lines)).mark_line().encode(x=x, y=y, color=shade, strokeDash=dash),
        ]
        panels.append(alt.LayerChart(layer=both, title=f"{size} µm", width=330, height=260))
    return (
        alt.HConcatChart(hconcat=panels, background="white")
        .configure(font=FONT, title=alt.TitleConfig(anchor="start", fontSize=14))
        .configure_axis(labelFontSize=12, titleFontSize=12, labelColor="black", titleColor="black")
        .configure_legend(labelFontSize=12, labelColor="black")
    )


def main() -> None:
    """Learn, foretell, print, and draw if asked."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("learn", type=Path, metavar="LEARN.csv")
    parser.add_argument("foretell", type=Path, metavar="FORETELL.csv")
    parser.add_argument("--json", action="store_true", help="print the figures as one document")
    parser.add_argument("--picture", action="store_true", help="make docs/pictures/liquid_runs.png too")
    arguments = parser.parse_args()
    try:
        runs, others = read_runs(arguments.learn), read_runs(arguments.foretell)
        learned = learn_by_size(runs)
        figures = document(judge(learned, others), learned)
    except InputError as error:
        sys.exit(str(error))
    if arguments.json:
        print(json.dumps(figures, indent=2))
    else:
        print_figures(figures)
        print_curves(learned)
    if arguments.picture:
        picture(learned).save(str(PICTURE), format="png", scale_factor=2.0)


if __name__ == "__main__":
    main()
