"""Studies that tests start from."""

import hashlib
import os
import pickle
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from filtration import Assumptions, Comparison, Study
from filtration.answers import ranking
from filtration.answers.assumptions import assumptions_of as _assumptions_of
from filtration.answers.ranking import Central
from filtration.answers.ranking import central_of as _central_of
from filtration.answers.ranking import ranked as _ranked
from filtration.base.places import demo_file
from filtration.study.file import study_from_dict

Given = dict[str, Any]
T = TypeVar("T")

DIRT_ALONE: Given = {
    "turnovers_per_hour": 1,
    "see_through": "0.01 m",
    "rinse_at_least_every": "never",
    "replace_at_least_every": "never",
    "discard_after": "365 day",
    "shortest_run": "0 day",
}
"""Needs that leave dirt and age alone to end a run."""

SHORT = """\
format = 1
name = "North tub"
[tub]
volume = "420 L"
water_temperature = "4 degC"
uses_per_day = 6
[pump]
shutoff_head = "2.4 m"
max_flow = "2400 L/h"
power = "38 W"
[plumbing]
bore = "19 mm"
length = "3 m"
[[elements]]
name = "Pleated 20"
kind = "pleated"
size = "10 x 2.5 in"
rating = "20 um"
price = 18
"""

FOAM = {
    "name": "Foam 20 ppi",
    "kind": "foam",
    "area": "120 cm^2",
    "thickness": "50 mm",
    "pores_per_inch": 20,
}
WOUND = {"name": "Wound 5", "kind": "wound", "size": "10 x 2.5 in", "rating": "5 um"}
ROUND = {"length": "250 mm", "outer_diameter": "63 mm", "inner_diameter": "28 mm"}
LIFT_TEST = {"lift_test": [["0 m", "24 L/min"], ["0.5 m", "19 L/min"], ["1.2 m", "9 L/min"]]}
CURVE = [["0 L/h", "2.4 m"], ["1200 L/h", "1.9 m"], ["2400 L/h", "0 m"]]
EVERYTHING = """\
currency = "USD"
name = "Everything"
[tub]
volume = "110 gal"
water_temperature = "39 degF"
uses_per_day = 6
uses_by_month = [6, 6, 6, 5, 4, 2, 1, 1, 3, 5, 6, 6]
uses_by_weekday = [1, 1, 1, 1, 1, 2, 2.5]
depth = "0.7 m"
open_surface = "9 sq ft"
sessions_per_day = 1
showered_share = 0.5
feet = "indoors"
surroundings = "outdoors"
uncovered_hours_per_day = 4
water_change_every = "30 day"
disinfectant = "kept"
shared_with_public = true
dye_even_after = "10 min"
still_share = 0.3
air_temperature = "20 degC"
air_humidity = 0.6
fill_temperature = "12 degC"
[[pumps]]
name = "Small"
curve = [["0 L/h", "2.4 m"], ["1200 L/h", "1.9 m"], ["2400 L/h", "0 m"]]
power = "38 W"
placed = "in the water"
hours_per_day = 24
price = 0
life = "4 year"
[[pumps]]
name = "Large"
shutoff_head = "10 ft"
max_flow = "4 gpm"
share_of_box_flow = 0.9
power = "60 W"
placed = "outside"
hours_per_day = 12.5
price = 80
life = "4 year"
[plumbing]
bore = "0.75 in"
length = "3 m"
elbows_90 = 2
hose_barbs = 2
other_k = 4.0
roughness = "0.0015 mm"
static_lift = "0 m"
length_outside = "0 m"
insulation = "0 mm"
[cooling]
cop = 2.0
share_of_year = 1.0
[needs]
flow = "1300 L/h"
see_through = "3 m"
max_pressure_rise = "0.1 bar"
rinse_at_least_every = "never"
replace_at_least_every = "60 day"
discard_after = "365 day"
shortest_run = "5 day"
[prices]
electricity_per_kwh = 0.30
water_per_m3 = 4.0
own_time_per_hour = 0
disposal_each = 0.5
disinfectant_per_month = 0
discount_rate = 0.03
horizon = "5 year"
[uncertainty]
load_per_dip = 1.5
slope = 1.2
[[elements]]
name = "Pleated 20"
kind = "pleated"
rating = "20 um"
rating_means = "absolute"
price = 18
length = "250 mm"
outer_diameter = "63 mm"
inner_diameter = "28 mm"
pleats = 70
pleat_depth = "14 mm"
clean_loss = [["8 L/min", "1.2 kPa"]]
clean_loss_at = "20 degC"
beta = [["10 um", 5], ["20 um", 75]]
dirt_capacity = "60 g"
dirt_capacity_at = "1.7 bar"
dirt_capacity_dust = "test dust"
rinse_minutes = 10
rinse_water = "20 L"
rinse_recovery = 0.90
soak_every_rinses = 4
soak_recovery = 0.70
soak_price = 1.0
soak_minutes = 10
lead_time = "10 day"
suppliers = 3
[[elements]]
name = "Foam 20 ppi"
kind = "foam"
area = "120 cm^2"
thickness = "50 mm"
pores_per_inch = 20
[[options]]
name = "Foam then pleated"
stages = ["Foam 20 ppi", "Pleated 20"]
housings_in_parallel = 2
housing_price = 35
housing_life = "10 year"
[in_use]
option = "foam-then-pleated"
since = 2026-03-01
"""


def short() -> Given:
    return tomllib.loads(SHORT)


def changed(changes: Given) -> Given:
    """Return the short study with keys such as "tub.volume" or "elements.0.price" set, or None: left out."""
    data = short()
    for path, value in changes.items():
        *above, last = path.split(".")
        at: Any = data
        for step in above:
            at = at[int(step)] if step.isdigit() else at.setdefault(step, {})
        key: Any = int(last) if last.isdigit() else last
        if value is None:
            del at[key]
        elif isinstance(at, list) and key == len(at):
            at.append(value)
        else:
            at[key] = value
    return data


def demo_data(name: str) -> Given:
    """Return the tables of a demo study as they stand in its file."""
    return tomllib.loads(Path(demo_file(name)).read_text(encoding="utf-8"))


def demo_with(name: str, *options: str) -> Given:
    """Return the tables of a demo study with a few of its options, where the others would only take time."""
    data = demo_data(name)
    data["options"] = [option for option in data["options"] if option["name"] in options]
    assert len(data["options"]) == len(options)
    return data


def study_of(data: Given) -> Study:
    """Return the study of tables such as ``random_study`` draws."""
    return study_from_dict(data)


shared: list[Path] = []
"""The folder in which processes that run tests together keep for one another what they worked out."""
_known: dict[str, Any] = {}


def _once(work: Callable[[], T], *of: object) -> T:
    """Return what was worked out before in this run, or work it out."""
    name = hashlib.sha256(pickle.dumps((work.__qualname__, *of))).hexdigest()
    kept = [folder / name for folder in shared]
    if name not in _known:
        there = next((path for path in kept if path.exists()), None)
        _known[name] = pickle.loads(there.read_bytes()) if there else work()  # noqa: S301 - our own
        for path in [] if there else kept:
            part = path.with_suffix(f".{os.getpid()}")
            part.write_bytes(pickle.dumps(_known[name]))
            part.replace(path)
    found: T = _known[name]
    return found


def answered(data: Given, draws: int = 0) -> Comparison:
    """Answer the study of some tables, once a run; only for tests that look at answers, not at how they come."""
    return _once(lambda: ranked(central(study_of(data)), draws=draws), repr(data), draws)


def central(study: Study, progress: ranking.Progress | None = None) -> Central:
    """Work out the central case of a study, once a run however many draws are then asked for."""
    return _once(lambda: _central_of(study, progress), study)


def ranked(found: Central, *, draws: int = 0, **how: Any) -> Comparison:
    """Rank a central case, once a run where nothing is asked for but draws."""
    if any(how.values()):
        return _ranked(found, draws=draws, **how)
    return _once(lambda: _ranked(found, draws=draws), found.study, draws)


def leaning(data: Given) -> Assumptions:
    """Find what the study of some tables leans on, once a run."""
    return _once(lambda: _assumptions_of(data), repr(data))
