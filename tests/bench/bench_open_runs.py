"""Forecast the open loading runs from records cut at 60 to 80 % of life, hold peers against it, and draw the picture.

    python tests/bench/bench_open_runs.py                     one split into folds, half a minute
    python tests/bench/bench_open_runs.py --seeds 0 1 2 3 4   five splits
    python tests/bench/bench_open_runs.py --picture           makes docs/pictures/open_runs.png too (wants chromium)

Prints to standard output. tests/helpers/open_runs.py says where the runs come from and where they are looked for.
"""

import argparse
import contextlib
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import altair as alt
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from browsing import FLAGS, PICTURES
from open_peers import OURS, PEERS, SEED, Forecast, coverage, held_back, mean_error_s, of
from open_runs import ABSENT, CUTS, FULL_PA, MAT_M2, OPEN_DATA, Run, collapse, read_runs, smoothed

from filtration.present.charts.look import COLOURS, FONT

RESAMPLES = 5000
_PANEL = {"width": 250, "height": 230}


def print_collapse(runs: Sequence[Run]) -> None:
    """Print how well the runs fall on one curve."""
    print(f"{'35 runs on one curve':<38}{'explained':>11}{'rms Pa':>8}{'same feed':>11}{'other feed':>12}")
    for name, by_time in (("drawn on time", True), ("drawn on the mass fed", False)):
        found = collapse(runs, by_time=by_time)
        print(f"{name:<38}{found.explained:>11.3f}{found.rms_pa:>8.0f}{found.alike_pa:>11.0f}{found.unlike_pa:>12.0f}")


def gain(forecasts: Sequence[Forecast], peer: str) -> tuple[float, float]:
    """Return the 95 % interval of a peer's mean absolute error less ours, whole runs resampled [s]."""
    numbers = sorted({each.run.number for each in forecasts})
    errors = {who: dict.fromkeys(numbers, 0.0) for who in (OURS, peer)}
    for each in forecasts:
        if each.who in errors:
            errors[each.who][each.run.number] += abs(each.off_s) / len(CUTS)
    less = np.array([errors[peer][number] - errors[OURS][number] for number in numbers])
    drawn = np.random.default_rng(0).integers(len(less), size=(RESAMPLES, len(less)))
    low, high = np.quantile(less[drawn].mean(axis=1), [0.025, 0.975])
    return float(low), float(high)


def print_forecasts(forecasts: Sequence[Forecast]) -> None:
    """Print errors and intervals of all forecasters."""
    cuts = "".join(f"{f'at {cut:.0%}':>9}" for cut in CUTS)
    print(
        f"{'mean absolute error of life left, s':<38}{cuts}{'all':>7}{'of life':>9}{'covers':>8}{'width s':>9}", end=""
    )
    print("  worse than ours by (95 %)")
    for who in dict.fromkeys(each.who for each in forecasts):
        every = of(forecasts, who)
        by_cut = "".join(f"{mean_error_s(of(forecasts, who, cut)):>9.1f}" for cut in CUTS)
        of_life = float(np.mean([abs(each.off_s) / each.run.life_s for each in every]))
        width = float(np.mean([each.high_s - each.low_s for each in every]))
        line = f"{who:<38}{by_cut}{mean_error_s(every):>7.1f}{of_life:>9.1%}{coverage(every):>8.0%}{width:>9.1f}"
        if who != OURS:
            low, high = gain(forecasts, who)
            line += f"  {low:.1f} to {high:.1f} s"
        print(line)


# ---- the picture -------------------------------------------------------------------------------------------------


def _curves(runs: Sequence[Run], *, by_time: bool, heading: str, axis: str) -> alt.LayerChart:
    rows: list[dict[str, Any]] = []
    for run in runs:
        at = np.arange(1.0, len(run.reading_pa) + 1.0) if by_time else 1e3 * MAT_M2 * run.middle_kg_m2
        rows += [
            {"run": run.number, "feed": run.profile, "x": round(float(x), 3), "y": round(float(y), 1)}
            for x, y in zip(at[::2], smoothed(run.reading_pa, 3)[::2], strict=True)
        ]
    feeds = sorted({run.profile for run in runs})
    legend = alt.Legend(title="feed of dust", orient="bottom", columns=4, symbolSize=350, symbolStrokeWidth=2.5)
    dashes = [[1, 0], [6, 3], [2, 2], [7, 2, 2, 2]]
    lines = (
        alt.Chart(alt.InlineData(values=rows))
        .mark_line(strokeWidth=1.2, opacity=0.9, clip=True)
        .encode(
            x=alt.X("x:Q", title=axis, scale=alt.Scale(domain=[0, 150 if by_time else 15])),
            y=alt.Y("y:Q", title="pressure drop, Pa", scale=alt.Scale(domain=[0, 620])),
            detail="run:N",
            color=alt.Color("feed:N", scale=alt.Scale(domain=feeds, range=list(COLOURS.values())), legend=legend),
            strokeDash=alt.StrokeDash("feed:N", scale=alt.Scale(domain=feeds, range=dashes), legend=legend),
        )
    )
    rule = alt.Chart(alt.InlineData(values=[{"y": FULL_PA}])).mark_rule(strokeDash=[4, 4], color="#444").encode(y="y:Q")
    return alt.LayerChart(layer=[lines, rule], title=heading, **_PANEL)


def _errors(forecasts: Sequence[Forecast]) -> alt.LayerChart:
    """Return a strip of errors by forecaster, with the mean absolute error at its end."""
    names = [OURS, *PEERS]
    rows = [{"who": each.who, "off": round(each.off_s, 1)} for each in forecasts if each.who in names]
    most = max(abs(each.off_s) for each in forecasts if each.who in names) + 5.0
    told = [{"who": who, "off": most, "text": f"{mean_error_s(of(forecasts, who)):.1f} s"} for who in names]
    x = alt.X("off:Q", title="forecast less life left, s", scale=alt.Scale(domain=[-most, most], nice=False))
    y = alt.Y("who:N", title=None, sort=names, axis=alt.Axis(labelLimit=200))
    strip = alt.Chart(alt.InlineData(values=rows)).mark_tick(
        thickness=1.2, size=26, opacity=0.7, color=COLOURS["pleated"]
    )
    words = alt.Chart(alt.InlineData(values=told)).mark_text(align="right", dy=-22, fontSize=12)
    right = alt.Chart(alt.InlineData(values=[{"off": 0}])).mark_rule(color="#444").encode(x=x)
    layers = [right, strip.encode(x=x, y=y), words.encode(x=x, y=y, text="text:N")]
    return alt.LayerChart(layer=layers, title="Held-back runs; mean absolute error", **_PANEL)


def picture(runs: Sequence[Run], forecasts: Sequence[Forecast]) -> alt.HConcatChart:
    """Return the three panels."""
    by_time = _curves(runs, by_time=True, heading="35 runs on time", axis="time, s")
    by_mass = _curves(runs, by_time=False, heading="The same on the dust fed", axis="dust fed, g")
    both = alt.HConcatChart(hconcat=[by_time, by_mass])
    return (
        alt.HConcatChart(hconcat=[both, _errors(forecasts)], background="white")
        .resolve_scale(color="independent", shape="independent", strokeDash="independent")
        .configure(font=FONT, title=alt.TitleConfig(anchor="start", fontSize=14))
        .configure_axis(labelFontSize=12, titleFontSize=12, labelColor="black", titleColor="black")
        .configure_legend(labelFontSize=12, titleFontSize=12, labelColor="black", titleColor="black")
    )


@contextlib.contextmanager
def _served(page: Path) -> Iterator[str]:
    """Serve one page on a free port; yield the address."""
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        port = trial.getsockname()[1]
    command = [sys.executable, "-m", "streamlit", "run", str(page), "--server.headless=true", f"--server.port={port}"]
    server = subprocess.Popen(
        [*command, "--browser.gatherUsageStats=false", "--server.fileWatcherType=none"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        for _ in range(120):
            with contextlib.suppress(urllib.error.URLError, ConnectionError):
                urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=5).close()
                break
            time.sleep(0.5)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(timeout=20)


def photograph(chart: alt.HConcatChart, path: Path) -> None:
    """Show a chart on a page of its own and photograph it."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder:
        spec, page_file = Path(folder) / "chart.json", Path(folder) / "page.py"
        spec.write_text(chart.to_json(), encoding="utf-8")
        page_file.write_text(
            "from pathlib import Path\n\nimport altair as alt\nimport streamlit as st\n\n"
            'st.set_page_config(layout="wide")\n'
            f'chart = alt.HConcatChart.from_json(Path({str(spec)!r}).read_text("utf-8"))\n'
            'st.altair_chart(chart, theme=None, width="content")\n',
            encoding="utf-8",
        )
        with _served(page_file) as address, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=list(FLAGS))
            page = browser.new_page(viewport={"width": 1400, "height": 700}, device_scale_factor=1.5)
            page.goto(address)
            shown = page.locator('[data-testid="stVegaLiteChart"] canvas, [data-testid="stVegaLiteChart"] svg').first
            shown.wait_for(timeout=60_000)
            page.wait_for_timeout(1500)
            shown.screenshot(path=str(path))
            browser.close()


def main() -> None:
    """Forecast, print, and draw if asked."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, nargs="+", default=[SEED], help="of the splits into five folds")
    parser.add_argument("--picture", action="store_true", help="make docs/pictures/open_runs.png from the first split")
    arguments = parser.parse_args()
    if not OPEN_DATA.is_file():
        parser.exit(message=f"{ABSENT}\n")
    runs = read_runs()
    print_collapse(runs)
    for place, seed in enumerate(arguments.seeds):
        started = time.process_time()
        forecasts = held_back(seed=seed)
        print(f"\nfive folds of seven runs, seed {seed}, {time.process_time() - started:.0f} s of processor time")
        print_forecasts(forecasts)
        if arguments.picture and place == 0:
            PICTURES.mkdir(exist_ok=True)
            photograph(picture(runs, forecasts), PICTURES / "open_runs.png")


if __name__ == "__main__":
    main()
