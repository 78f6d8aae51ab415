"""Open loading runs of a small filter in a liquid: the data.

Source: PHM Society, 5th European Conference 2020, data challenge; İnce, Sirkeci & Genç, Proc. European Conference of
the PHM Society, 2020. The file is no part of the product.
Shapes: n readings of a run, m bins.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd

from filtration.base.arrays import Array
from filtration.base.errors import InputError
from filtration.physics.water import water_at

LIQUID_DATA = Path(__file__).resolve().parents[3] / "shared" / "data" / "filter_loading_water" / "runs.csv"
ABSENT = "the open loading runs in a liquid are not part of the product; see docs/validation.md"
END_PA, READ_PA = 137.9e3, 34e3
NUMBERS = ("run", "solids_percent", "time_s", "flow_ml_per_min", "pressure_drop_kpa")
COLUMNS = (*NUMBERS, "particles_um")
WATER = water_at(20.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Run:
    """One run to clogging, from the pump's start; arrays are (n,)."""

    number: float
    particles_um: str
    solids: float
    time_s: Array
    flow_m3_s: Array
    reading_pa: Array

    @cached_property
    def fed_kg(self) -> Array:
        """Solids fed by each reading."""
        rate = self.flow_m3_s * WATER.density_kg_m3 * self.solids
        return np.append(0.0, np.cumsum(0.5 * (rate[1:] + rate[:-1]) * np.diff(self.time_s)))

    @cached_property
    def set_flow_m3_s(self) -> float:
        """What the pump is set to."""
        return float(np.median(self.flow_m3_s))

    def first_at(self, level_pa: float) -> tuple[float, float]:
        """Return time [s] and solids fed [kg] when a reading first passes a pressure."""
        at = int(np.argmax(self.reading_pa >= level_pa))
        part = (level_pa - self.reading_pa[at - 1]) / (self.reading_pa[at] - self.reading_pa[at - 1])
        time, fed = (float(each[at - 1] + part * (each[at] - each[at - 1])) for each in (self.time_s, self.fed_kg))
        return time, fed

    @cached_property
    def life(self) -> tuple[float, float]:
        """Time [s] and solids fed [kg] by the end."""
        return self.first_at(END_PA)

    @cached_property
    def end_share(self) -> float:
        """What is left of that flow at the end, over the last twentieth of the life [-]."""
        first, end = np.searchsorted(self.time_s, [0.95 * self.life[0], self.life[0]]).tolist()
        return float(self.flow_m3_s[min(first, end - 1) : end].mean() / self.set_flow_m3_s)

    def seconds_to(self, fed_kg: float) -> float:
        """Return when so much is fed; behind its record the run goes on at the flow set."""
        beyond = max(fed_kg - self.fed_kg[-1], 0.0) / (self.set_flow_m3_s * WATER.density_kg_m3 * self.solids)
        return float(np.interp(fed_kg, self.fed_kg, self.time_s) + beyond)


def read_runs(path: Path) -> tuple[Run, ...]:
    """Read the runs of a file.

    Raises
    ------
    InputError
        All that is wrong with it, a line each.
    """
    try:
        table = pd.read_csv(path, dtype={"particles_um": str})
    except (OSError, UnicodeDecodeError, pd.errors.ParserError, pd.errors.EmptyDataError) as error:
        raise InputError(f"{path.name} cannot be read as a table: {error}") from None
    if missing := [name for name in COLUMNS if name not in table]:
        raise InputError(f"{path.name} lacks the columns {', '.join(missing)}")
    for name in NUMBERS:
        table[name] = pd.to_numeric(table[name], errors="coerce")
    numbers = table[list(NUMBERS)].to_numpy(float)
    bad = ~np.isfinite(numbers).all(axis=1) | table["particles_um"].isna().to_numpy()
    if bad.any():
        raise InputError(f"{path.name}, line {int(bad.argmax()) + 2}: a value is missing or no number")
    if table.empty:
        raise InputError(f"{path.name} holds no run")
    found, faults = [], []
    for number in np.unique(numbers[:, 0]).tolist():
        try:
            found.append(_run(number, table[numbers[:, 0] == number]))
        except InputError as error:
            faults.append(f"{path.name}, run {number:g}: {error}")
    if faults:
        raise InputError(*faults)
    return tuple(found)


def _run(number: float, rows: pd.DataFrame) -> Run:
    """Return a run from its rows."""
    for name in ("particles_um", "solids_percent"):
        if (rows[name] != rows[name].iloc[0]).any():
            raise InputError(f"{name} changes within the run")
    solids = float(rows["solids_percent"].iloc[0]) / 100.0
    time, flow, reading = (rows[name].to_numpy(float) for name in NUMBERS[2:])
    if not 0.0 < solids < 1.0:
        raise InputError(f"solids of {100.0 * solids:g} % are impossible")
    if (np.diff(time) <= 0.0).any():
        raise InputError("its times do not rise")
    if (flow < 0.0).any() or not np.median(flow) > 0.0:
        raise InputError("its flow is negative, or there is none half of the time")
    on = int(np.argmax(flow >= 0.5 * np.median(flow)))
    time, flow, reading = time[on:] - time[on], flow[on:] / 60e6, 1e3 * reading[on:]
    if reading.max() < END_PA:
        raise InputError(f"it never reaches {1e-3 * END_PA:g} kPa")
    if reading[0] >= READ_PA:
        raise InputError(f"it begins above {1e-3 * READ_PA:g} kPa")
    return Run(
        number=number,
        particles_um=str(rows["particles_um"].iloc[0]),
        solids=solids,
        time_s=time,
        flow_m3_s=flow,
        reading_pa=reading,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bins:
    """Means of readings over equal masses, (m,): solids fed [kg], flow [m3/s], pressure [Pa]."""

    fed_kg: Array
    flow_m3_s: Array
    pressure_pa: Array


def binned(runs: Iterable[Run], step_kg: float, level_pa: float = END_PA) -> Bins:
    """Return the means of runs, each up to a pressure; a bin whose mean pressure is not above 0 is left out."""
    parts = []
    for run in runs:
        until = int(np.argmax(run.reading_pa >= level_pa)) + 1
        parts.append(np.array([run.fed_kg, run.flow_m3_s, run.reading_pa])[:, :until])
    whole = np.hstack(parts)
    place = (whole[0] / step_kg).astype(int)
    count = np.bincount(place)
    means = np.array([np.bincount(place, row) for row in whole])[:, count > 0] / count[count > 0]
    fed, flow, pressure = means[:, means[2] > 0.0]
    return Bins(fed_kg=fed, flow_m3_s=flow, pressure_pa=pressure)
