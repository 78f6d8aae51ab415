"""Loading in a liquid: the law on open runs to clogging, lives at a suspension not seen, and what a file may not be."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from liquid_law import Learned, curves_of, judge, learn_by_size
from liquid_runs import ABSENT, COLUMNS, END_PA, LIQUID_DATA, READ_PA, read_runs
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from filtration.base.errors import InputError

needs_data = pytest.mark.open_data(LIQUID_DATA, ABSENT)
BENCH = Path(__file__).resolve().parents[1] / "bench" / "bench_liquid_runs.py"
SIZES, SEEN, UNSEEN = ("45-53", "63-75"), (0.400, 0.425), 0.450


# ---- the law -----------------------------------------------------------------------------------------------------


def test_law_of_a_filter_is_the_solution_of_its_equations() -> None:
    """Layers, face, cake and gap against integration and bracketing by hand: model.md, section 8."""
    flow, viscosity, cake, solid, layers = 9e-6, 1.0016e-3, 1e14, 0.2, 24
    clean_pa, product, gap, depth, onset = 3e3, 8e-3, 3.6e-3, 1.2, 0.55
    odds = np.log((onset - solid) / (1.0 - onset))
    point = np.array([[np.log(clean_pa), np.log(product), np.log(depth), odds, np.log(cake), np.log(gap)]])
    edges = np.exp(-depth * np.linspace(0.0, 1.0, layers + 1))
    caught = edges[:-1] - edges[1:]

    def permeability(packed: Any) -> Any:
        """Return it over the clean one: Davies 1952 to 0.3, above it Kozeny with the constant held, fibres grown."""

        def law(a: Any) -> Any:
            davies = 1.0 / (64.0 * a**1.5 * (1.0 + 56.0 * a**3))
            return np.where(a <= 0.3, davies, (1.0 - a) ** 3 / (16.0 * 6.2924 * a**2)) * a

        return law(packed) / law(np.array(solid))

    def packed(let_in: float) -> Any:
        return solid + let_in * caught * layers / product

    solved = solve_ivp(
        lambda _, let_in: [1.0 - min(1.0, (packed(let_in[0])[0] - solid) / (onset - solid)) ** 6],
        (0.0, 7e-3),
        [0.0],
        rtol=1e-9,
        atol=1e-15,
        t_eval=np.linspace(0.0, 7e-3, 29),
    )
    drops = []
    for fed, let_in in zip(solved.t, solved.y[0], strict=True):
        on_face = (fed - let_in) * caught.sum()
        drag = viscosity * flow * cake * on_face / (1.0 - on_face / gap)
        rest = clean_pa * np.mean(1.0 / permeability(packed(let_in)))

        def over(loss: float, rest: float = rest, drag: float = drag) -> float:
            return rest + drag * (max(loss, 500.0) / 1e4) ** 0.6 - loss

        drops.append(brentq(over, 1.0, 1e9))
    said = curves_of(point, flow).log_pa(solved.t, np.full(len(solved.t), flow))[0]
    assert max(drops) > READ_PA
    assert np.exp(said) == pytest.approx(drops, rel=0.01)


# ---- runs made up ------------------------------------------------------------------------------------------------


def made_up(lives_g: dict[float, tuple[str, float, float]], start_s: float = 4.0) -> pd.DataFrame:
    """Return runs that end at stated masses, by size and solids, the pump late; 3 kPa clean, 600 ml/min."""
    tables = []
    for number, (size, percent, end_g) in lives_g.items():
        time = np.arange(0.5, start_s + 1.3 * end_g / (0.1 * percent), 1.0)
        fed = np.maximum(0.1 * percent * (time - start_s), 0.0)  # 10 g of suspension a second
        drop = 3.0 * (1e-3 * END_PA / 3.0) ** ((fed / end_g) ** 3)
        flow = np.where(time < start_s, 5.0, 600.0)
        values = (number, percent, time, flow, drop, size)
        tables.append(pd.DataFrame(dict(zip(COLUMNS, values, strict=True))))
    return pd.concat(tables)


def written(table: pd.DataFrame, path: Path) -> Path:
    """Write a table."""
    table.to_csv(path, index=False)
    return path


def test_lives_of_a_steady_flow_are_a_mass_over_what_is_fed(tmp_path: Path) -> None:
    """8 g to the end at 10 g/s of 0.4 and 0.5 %: 200 and 160 s; at 0.8 % 100 s. 5 g: 125, 100 and 62.5 s."""
    seen = made_up({1: ("a", 0.4, 8.0), 2: ("a", 0.5, 8.0), 3: ("b", 0.4, 5.0), 4: ("b", 0.5, 5.0)})
    unseen = made_up({5: ("a", 0.8, 8.0), 6: ("b", 0.8, 5.0)}, start_s=9.0)
    runs = read_runs(written(unseen, tmp_path / "unseen.csv"))
    assert [run.life[0] for run in runs] == pytest.approx([100.0, 62.5], abs=0.6)  # from the pump's start
    assert [1e3 * run.life[1] for run in runs] == pytest.approx([8.0, 5.0], rel=0.01)
    errors = judge(learn_by_size(read_runs(written(seen, tmp_path / "seen.csv"))), runs)
    assert errors.runs == 2
    assert errors.constant_mass < 0.01
    assert errors.law < 0.015
    assert errors.learning < 0.015
    assert errors.constant_time == pytest.approx(0.8, abs=0.02)  # (200 + 160)/2 over 100, (125 + 100)/2 over 62.5


def test_four_of_five_intervals_hold_runs_like_those_learned(tmp_path: Path) -> None:
    """Ends that scatter by 3 % about 8 g: of 60 lives foretold the 80 % interval holds 65 to 95 %."""
    ends = 8.0 * np.exp(0.03 * np.random.default_rng(3).standard_normal(76))
    table = made_up({number: ("a", 0.4, end) for number, end in enumerate(ends.tolist())})
    seen, unseen = table[table["run"] < 16], table[table["run"] >= 16]
    learned = learn_by_size(read_runs(written(seen, tmp_path / "seen.csv")))
    errors = judge(learned, read_runs(written(unseen, tmp_path / "unseen.csv")))
    assert 0.65 * 60 <= errors.held_80 <= 0.95 * 60


# ---- what a file may not be --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"flow_ml_per_min": None}, "lacks the columns flow_ml_per_min"),
        ({"pressure_drop_kpa": 20.0}, "run 1: it never reaches 137.9 kPa"),
        ({"pressure_drop_kpa": 140.0}, "run 1: it begins above 34 kPa"),
        ({"flow_ml_per_min": 0.0}, "run 1: its flow is negative, or there is none"),
        ({"solids_percent": 0.0}, "run 1: solids of 0 % are impossible"),
        ({"time_s": 1.0}, "run 1: its times do not rise"),
        ({"solids_percent": "much"}, "line 2: a value is missing or no number"),
        ({"particles_um": ["", *["a"] * 263]}, "line 2: a value is missing or no number"),
        ({"particles_um": ["b", *["a"] * 263]}, "run 1: particles_um changes within the run"),
    ],
)
def test_a_bad_file_is_refused_in_a_sentence(change: dict[str, Any], said: str, tmp_path: Path) -> None:
    table = made_up({1: ("a", 0.4, 8.0)})
    for name, value in change.items():
        table = table.drop(columns=name) if value is None else table.assign(**{name: value})
    with pytest.raises(InputError, match=said):
        read_runs(written(table, tmp_path / "bad.csv"))


@pytest.mark.parametrize("text", [None, "", ",".join(COLUMNS), b"\xff\xfe\x00"])
def test_no_file_an_empty_one_and_one_without_rows(text: str | bytes | None, tmp_path: Path) -> None:
    path = tmp_path / "odd.csv"
    if text is not None:
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(InputError, match=r"odd\.csv (cannot be read as a table|holds no run)"):
        read_runs(path)


def test_a_size_never_learned_and_a_run_alone_are_refused(tmp_path: Path) -> None:
    """In a plain sentence, by the command, which says nothing else."""
    seen = written(made_up({1: ("a", 0.4, 8.0), 2: ("a", 0.5, 8.0)}), tmp_path / "seen.csv")
    strange = written(made_up({3: ("b", 0.4, 8.0)}), tmp_path / "strange.csv")
    done = subprocess.run([sys.executable, BENCH, seen, strange], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr == "particles of b um were never learned: only a um were\n"
    with pytest.raises(InputError, match="only one run of b um"):
        learn_by_size(read_runs(strange))


# ---- the open runs -----------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def split(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Split the data: what is learned from, and the suspension that is not."""
    table, folder = pd.read_csv(LIQUID_DATA), tmp_path_factory.mktemp("liquid")
    unseen = table["solids_percent"] == UNSEEN
    return written(table[~unseen], folder / "learn.csv"), written(table[unseen], folder / "foretell.csv")


@pytest.fixture(scope="module")
def learned(split: tuple[Path, Path]) -> dict[str, Learned]:
    """Learn at 0.400 and 0.425 %."""
    return learn_by_size(read_runs(split[0]))


@needs_data
def test_the_runs_are_what_was_measured_on_them() -> None:
    """Mean grams fed to 20 psi by size and solids, four runs each, as measured on the data when it was taken in.

    Those count from the beginning of the record; the first seconds, before the pump runs, make half a per cent.
    """
    measured = {"45-53": (9.99, 10.13, 9.57), "63-75": (7.33, 7.31, 7.04)}
    runs = read_runs(LIQUID_DATA)
    for size, masses in measured.items():
        for percent, mass in zip((*SEEN, UNSEEN), masses, strict=True):
            some = [run for run in runs if run.particles_um == size and run.solids == pytest.approx(percent / 100.0)]
            assert len(some) == 4
            assert 1e3 * np.mean([run.life[1] for run in some]) == pytest.approx(mass, rel=0.01)


@needs_data
def test_lives_at_a_thicker_suspension_not_seen(split: tuple[Path, Path]) -> None:
    """Learned at 0.400 and 0.425 %, foretold at 0.450 %: as good as a constant mass, far better than a constant time.

    From the masses measured: (9.99 + 10.13)/2 over 9.57 and (7.33 + 7.31)/2 over 7.04 are 5.1 and 4.0 % off.
    """
    command = [sys.executable, BENCH, *split, "--json"]
    figures = json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
    assert figures["runs"] == 8
    assert figures["learning_error"] < 0.02
    assert figures["constant_mass"] == pytest.approx(0.0455, abs=0.005)
    assert figures["constant_time"] == pytest.approx(0.14, abs=0.01)
    assert figures["mean_relative_error"] < figures["constant_mass"] + 0.01
    assert figures["mean_relative_error"] < 0.5 * figures["constant_time"]
    assert figures["held_80"] in range(9)
    read = figures["with_readings_to_34_kpa"]
    assert max(read["law"], read["ratio_of_masses"]) < 0.5 * figures["mean_relative_error"]
    assert set(figures["products"]) == set(SIZES)
    for products in figures["products"].values():
        assert all(0.0 < each["low"] < each["middle"] < each["high"] for each in products.values())
        assert products["onset_solid_fraction"]["high"] < 1.0


@needs_data
def test_the_curve_of_the_coarser_dirt_is_met_and_the_end_of_the_finer_is_not(learned: dict[str, Learned]) -> None:
    """Rms of the logarithm of pressure: 8 % and 24 %, as docs/validation.md says."""
    assert learned["63-75"].rms_log_pressure < 0.085
    assert 0.20 < learned["45-53"].rms_log_pressure < 0.27


@needs_data
def test_no_life_is_foretold_from_its_own_pressure(
    split: tuple[Path, Path], learned: dict[str, Learned], tmp_path: Path
) -> None:
    """With pressures of a filter that stays clean up to its last second the same mass is foretold."""
    table = pd.read_csv(split[1])
    told = [learned[run.particles_um].life_kg(run) for run in read_runs(split[1])]
    last = table.groupby("run")["time_s"].transform("max") == table["time_s"]
    blank = table.assign(pressure_drop_kpa=np.where(last, 200.0, 3.0))
    again = [learned[run.particles_um].life_kg(run) for run in read_runs(written(blank, tmp_path / "blank.csv"))]
    assert told == again
