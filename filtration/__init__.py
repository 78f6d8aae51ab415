"""How long a filter cartridge keeps a small cold tub clear, how often to rinse it, and what a year of it costs.

The whole of it reads like a sentence::

    from filtration import compare, load_study

    compare(load_study("tub.toml")).advised.name
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from filtration.answers.assumptions import Assumptions, assumptions_of
    from filtration.answers.cheaper import Saving, Savings, savings
    from filtration.answers.curves import Sweep, sweep
    from filtration.answers.ranking import compare
    from filtration.answers.results import Comparison, OptionAnswer
    from filtration.answers.size_answer import AreaSize, PumpSize
    from filtration.answers.sizing import area_for_interval, smallest_pump
    from filtration.base.errors import InputError, NoAnswerError
    from filtration.plan.dated import Plan
    from filtration.plan.dated_plan import plan as plan_of
    from filtration.plan.fleet import Fleet, budget
    from filtration.plan.fleet_rows import read_fleet
    from filtration.plan.frames import readings_from_table, rows_of_table, tubs_from_table
    from filtration.present.charts.pictures import chart, readings_chart
    from filtration.readings.csv_file import load_readings
    from filtration.readings.foretold import Forecast
    from filtration.readings.next_service import forecast
    from filtration.study.file import load_study, load_tables, study_from_dict, study_from_text
    from filtration.study.values import Study
    from filtration.validation.published import Checks, verify

__version__ = "0.1.0"
_HOMES = {
    "filtration.answers.results": ("Comparison", "OptionAnswer"),
    "filtration.answers.cheaper": ("Saving", "Savings", "savings"),
    "filtration.answers.assumptions": ("Assumptions", "assumptions_of"),
    "filtration.answers.curves": ("Sweep", "sweep"),
    "filtration.plan.dated_plan": ("plan_of",),
    "filtration.plan.dated": ("Plan",),
    "filtration.base.errors": ("InputError", "NoAnswerError"),
    "filtration.plan.fleet": ("Fleet", "budget"),
    "filtration.plan.fleet_rows": ("read_fleet",),
    "filtration.plan.frames": ("readings_from_table", "rows_of_table", "tubs_from_table"),
    "filtration.readings.foretold": ("Forecast",),
    "filtration.readings.next_service": ("forecast",),
    "filtration.present.charts.pictures": ("chart", "readings_chart"),
    "filtration.validation.published": ("Checks", "verify"),
    "filtration.answers.ranking": ("compare",),
    "filtration.readings.csv_file": ("load_readings",),
    "filtration.answers.size_answer": ("AreaSize", "PumpSize"),
    "filtration.answers.sizing": ("area_for_interval", "smallest_pump"),
    "filtration.study.values": ("Study",),
    "filtration.study.file": ("load_study", "load_tables", "study_from_dict", "study_from_text"),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}
_CALLED_AT_HOME = {"plan_of": "plan"}  # `filtration.service.events` is a module
__all__ = [
    "AreaSize",
    "Assumptions",
    "Checks",
    "Comparison",
    "Fleet",
    "Forecast",
    "InputError",
    "NoAnswerError",
    "OptionAnswer",
    "Plan",
    "PumpSize",
    "Saving",
    "Savings",
    "Study",
    "Sweep",
    "area_for_interval",
    "assumptions_of",
    "budget",
    "chart",
    "compare",
    "forecast",
    "load_readings",
    "load_study",
    "load_tables",
    "plan_of",
    "read_fleet",
    "readings_chart",
    "readings_from_table",
    "rows_of_table",
    "savings",
    "smallest_pump",
    "study_from_dict",
    "study_from_text",
    "sweep",
    "tubs_from_table",
    "verify",
]


def __getattr__(name: str) -> object:
    """Import what is asked for, so that the package itself loads at once."""
    if name not in _HOME_OF:
        msg = f"module 'filtration' has no attribute {name!r}"
        raise AttributeError(msg)
    from importlib import import_module

    return getattr(import_module(_HOME_OF[name]), _CALLED_AT_HOME.get(name, name))


def __dir__() -> list[str]:
    """List the public names."""
    return sorted([*__all__, "__version__"])
