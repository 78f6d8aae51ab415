"""The program with one constant moved: each time in a process of its own, before anything else of it is imported.

A constant is a number in ``filtration.base.defaults``. It is moved by two either way, or across 1 to 99 % of its own
spread where that is wider, as far as it still means something.
"""

import json
import os
import subprocess
import sys
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import filtration.base.defaults as home
from filtration.base.defaults import Default, Value

HERE = Path(__file__).resolve().parent
DEMOS = ["freezer", "barrel", "quay"]
OPEN_RUNS = "open loading runs in air"
_SCORE = 2.326  # standard normal, with a hundredth above it
_ITS_UNKNOWN = {
    "soil.skin_per_dip": "load_per_dip",
    "soil.hair_per_dip": "load_per_dip",
    "soil.fines_per_dip": "load_per_dip",
    "soil.dust_outdoors": "dust",
    "soil.dust_indoors": "dust",
    "loading.deposit_density": "deposit_density",
    "loading.cake_resistance": "cake_resistance",
    "loading.growth_per_day": "growth",
    "optics.haze": "haze",
    "optics.haze_per_dip": "haze",
    "capture.straining_cake": "straining_cake",
    "plumbing.elbow_k": "sum_k",
    "plumbing.barb_k": "sum_k",
    "plumbing.other_k": "sum_k",
    "plumbing.housing_k": "sum_k",
    "plumbing.entry_k": "sum_k",
    "pump.exponent": "pump_exponent",
    "pump.share_of_box_flow": "box_flow",
}
_OVER_ONE = {"optics.organic_index", "optics.mineral_index"}  # what counts is how much more than 1 they are
_LIMITS = {
    "pump.exponent": (1.0, 2.7),
    "pump.share_of_box_flow": (0.0, 1.05),
    "capture.nominal_at_rating": (0.0, 0.889),  # below what does not go round the medium
    "capture.foam_at_rating": (0.0, 0.889),
    "capture.bypass": (0.0, 0.149),  # below what a rating lets through
    "media.wound_solid_fraction": (0.0, 0.9),
    "loading.cake_exponent": (0.0, 0.95),  # of 1 and more a cake would stop all flow
    "pump.hours_per_day": (0.0, 24.0),
}
_SHARES = {  # of a whole
    "loading.full_solid_fraction", "loading.full_gap_share", "service.pleated_rinse", "service.foam_rinse",
    "service.most_left", "elements.soak_recovery", "tub.air_humidity", "stock.service_level", "soil.shower_takes_off",
    "service.shortest_most_share", "cooling.share_of_year", "tub.showered_share", "energy.motor_heat_share",
}  # fmt: skip
_MOST_OF_A_WHOLE = 0.99


def constants() -> Iterator[tuple[Default, tuple[Value, Value]]]:
    """Yield every constant that is a number, and what it is moved to: less and more."""
    for row in home.TABLE:
        number, unit = _number_of(row.value)
        if number is not None and number != 0.0:
            yield row, _sides(row, number, unit)


def _number_of(value: Value) -> tuple[float | None, str]:
    if isinstance(value, bool):
        return None, ""
    if not isinstance(value, str):
        return float(value), ""
    first, _, unit = value.partition(" ")
    try:
        return float(first), unit
    except ValueError:
        return None, ""


def _sides(row: Default, number: float, unit: str) -> tuple[Value, Value]:
    unknown = next((each for each in home.UNKNOWNS if each.key == _ITS_UNKNOWN.get(row.key)), None)
    factor = max(2.0, unknown.spread**_SCORE if unknown else 0.0)
    least, most = _LIMITS.get(row.key, (-float("inf"), _MOST_OF_A_WHOLE if row.key in _SHARES else float("inf")))
    if row.key.endswith("_spread"):
        low, high = number**0.5, number**2.0
    elif row.key in _OVER_ONE:
        low, high = 1.0 + (number - 1.0) / factor, 1.0 + (number - 1.0) * factor
    else:
        low, high = number / factor, number * factor
    if len(row.tried) == 2 and (unit or isinstance(row.value, int)):
        return row.tried[0], row.tried[1]
    if len(row.tried) == 2:
        low, high = min(low, float(row.tried[0])), max(high, float(row.tried[1]))
    low, high = max(low, least), min(high, most)
    if unit:
        return f"{low:.6g} {unit}", f"{high:.6g} {unit}"
    return (max(round(low), 1), round(high)) if isinstance(row.value, int) else (low, high)


class _Told(dict[float, str]):
    """Shares in words, and any other as a number."""

    def __missing__(self, share: float) -> str:
        return f"{share:g}"


def move(key: str, value: Value) -> None:
    """Put another value in a constant's place; nothing but ``filtration.base.defaults`` may be imported before."""
    assert not any(name.startswith("filtration.physics") for name in sys.modules), "too late to move anything"
    (row,) = [each for each in home.TABLE if each.key == key]
    moved = replace(row, value=value)
    home.TABLE = tuple(moved if each is row else each for each in home.TABLE)
    home._SHARES = _Told(home._SHARES)
    if key in home._BY_KEY:
        home._BY_KEY[key] = moved
    else:
        home.STUDY_DEFAULTS = {**home.STUDY_DEFAULTS, key: value}


Figures = Mapping[str, Mapping[str, list[float | None]]]


@dataclass(frozen=True, slots=True)
class Job:
    """One constant moved, None for none, and what to look at then.

    Parameters
    ----------
    key, value : str or None, Value
        The constant and what it is moved to.
    checks : list of str or None
        Published checks by name; all of the main job for None.
    demos : list of str
        Demo studies.
    usual : mapping
        Their figures with nothing moved; where they stay as they are, so does the advice.
    """

    key: str | None
    value: Value
    checks: list[str] | None = None
    demos: list[str] = field(default_factory=list)
    usual: Figures = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Seen:
    """What came of a job: days, worst view and year of each demo's options, the one advised, checks that fail."""

    key: str | None
    value: Value
    figures: Figures
    advised: Mapping[str, str]
    failed: list[str]
    wrong: str = ""


def look(job: Job) -> Seen:
    """Do a job; in a process of its own."""
    if job.key is not None:
        move(job.key, job.value)
    figures: dict[str, Any] = {}
    advised: dict[str, str] = {}
    failed: list[str] = []
    wrong = ""
    try:
        for demo in job.demos:
            figures[demo], advised[demo] = _answer(job, demo)
        failed = list(_failed(job))
    except Exception as error:  # noqa: BLE001 - whatever a moved constant breaks is to be told
        wrong = f"{type(error).__name__}: {error}"
    return Seen(job.key, job.value, figures, advised, failed, wrong)


def _answer(job: Job, demo: str) -> tuple[dict[str, list[float | None]], str]:
    from filtration import load_study
    from filtration.answers.ranking import central_of, ranked
    from filtration.base.places import demo_file

    central = central_of(load_study(demo_file(demo)))
    told = {
        f"{each.name} on {each.pump}": [each.days_to_first_service, each.see_through_worst_m, each.cost_per_year.total]
        for each in central.options
    }
    if told == job.usual.get(demo) and not str(job.key).startswith("advice."):
        return told, ""
    advised = ranked(central).advised
    return told, "none" if advised is None else advised.name


def _failed(job: Job) -> Iterator[str]:
    from filtration.base.places import published_file
    from filtration.validation.published import cases_in, checked

    for case in cases_in(published_file()):
        if case.main_job if job.checks is None else case.name in job.checks:
            try:
                holds = checked(case).holds
            except Exception:  # noqa: BLE001 - a case that cannot be worked out does not hold
                holds = False
            if not holds and not case.contradicts:
                yield case.name
    if job.checks is None and str(job.key).startswith("loading.") and not _open_runs_hold():
        yield OPEN_RUNS


def _open_runs_hold() -> bool:
    from open_runs import FULL_PA, OPEN_DATA, law_off_pa

    return not OPEN_DATA.is_file() or law_off_pa() < 0.02 * FULL_PA


# ---- a process for each ------------------------------------------------------------------------------------------


def answer_stdin() -> None:
    """Do the job that comes in, and hand back what is seen."""
    json.dump(asdict(look(Job(**json.load(sys.stdin)))), sys.stdout)


def _look_apart(job: Job) -> Seen:
    path = os.pathsep.join(map(str, (HERE.parents[1], HERE)))
    done = subprocess.run(
        [sys.executable, "-c", "import moved; moved.answer_stdin()"],
        input=json.dumps(asdict(job)),
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONPATH": path, "PYTHONUTF8": "1"},
        check=True,
    )
    return Seen(**json.loads(done.stdout.splitlines()[-1]))


def look_at_all(jobs: Iterable[Job], workers: int = 2) -> Iterator[Seen]:
    """Yield what comes of jobs, in their order, each in a process of its own that knows nothing of this one."""
    with ThreadPoolExecutor(workers) as executor:
        yield from executor.map(_look_apart, jobs)
