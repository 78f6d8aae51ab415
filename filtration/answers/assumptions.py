"""Which assumptions a study leans on, and how far its answer moves with each."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from filtration.answers.chances import parts_of, run_options
from filtration.answers.odds import most_runs_of
from filtration.answers.ranking import compare
from filtration.answers.results import OptionAnswer
from filtration.base.arrays import Array
from filtration.base.defaults import TABLE, UNKNOWNS, Value
from filtration.base.draws import factors_at
from filtration.base.errors import InputError
from filtration.base.frames import Frame, frame_of
from filtration.base.units import written
from filtration.loading.assembly import entries_of
from filtration.service.care import unstated_shortest_days
from filtration.study.build import as_text
from filtration.study.file import study_from_dict
from filtration.study.tables import TABLES
from filtration.study.values import Assumed, Study

Given = Mapping[str, Any]
SPREAD = 0.2
_CENTRAL = np.full((1, len(UNKNOWNS)), 0.5)
_SCORES = (0.1586552539, 0.8413447461)  # a standard deviation below and above the middle
_STRUCTURE = frozenset({"currency", "options", "options.housings_in_parallel", "pump.name"})

RANGES = {row.key: row.tried for row in TABLE if row.tried} | {"elements.rinse_recovery": (0.75, 0.97)}
"""How far what a study does not say may plausibly lie from its default, where a fifth either way makes no sense."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """One assumption and how far the best option moves with it.

    Parameters
    ----------
    key : str
        A key of the study file that is left out, or one of the model's unknowns.
    of_model : bool
        It is one of the model's unknowns.
    line : str
        What is assumed, as "key = value"; what it is, for an unknown.
    tried : tuple of str
        What it was moved to.
    days, cost : tuple of float or None
        First service [day] and yearly cost there; None where the clean filter lacks the flow.
    influence : float
        The largest move of either, over the larger of the two values [-].
    """

    key: str
    of_model: bool
    line: str
    tried: tuple[str, ...]
    days: tuple[float | None, ...]
    cost: tuple[float | None, ...]
    influence: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumptions:
    """What a study leans on, the most telling first.

    Parameters
    ----------
    study : Study
        The study.
    option : OptionAnswer
        The best option, or the nearest to it.
    days, cost : float or None
        Its first service [day] and yearly cost as ``compare`` has them.
    assumptions : tuple of Assumption
        The most telling first.
    """

    study: Study
    option: OptionAnswer
    days: float | None
    cost: float | None
    assumptions: tuple[Assumption, ...]

    def table(self) -> Frame:
        """Return the assumptions, the most telling first: a row each, named by its key."""
        return frame_of(map(asdict, self.assumptions), Assumption.__slots__).set_index("key")

    def _repr_html_(self) -> str:
        """Show the table in a notebook."""
        return str(self.table().to_html(float_format="{:,.4g}".format, na_rep="", max_rows=60))


_Figures = tuple[float | None, float | None]


def assumptions_of(data: Given) -> Assumptions:
    """Return the assumptions a study leans on, the most telling first.

    Parameters
    ----------
    data : mapping
        The tables and keys of a study file without faults.

    Returns
    -------
    Assumptions
        What the study leaves out, and what the model does not know exactly.

    Raises
    ------
    InputError
        If the study has faults.

    Notes
    -----
    One at a time, all else as it is, by the walk over draws with the number of rinses kept: a key that is left out is
    moved over ``RANGES``, to the other words it may hold, or a fifth either way; an unknown of the model a standard
    deviation either way. What comes out ranks assumptions; it is no confidence interval.
    """
    study = study_from_dict(data)
    option = compare(study).spoken_of
    alone, most_runs = _alone(data, study, option), most_runs_of(option)
    base_study = study_from_dict(alone)
    base = _figures(base_study, most_runs, _CENTRAL)[0]
    leaning = {(each.key, each.value): each for each in base_study.assumed}
    found = []
    for each in study.assumed:
        leans = leaning.get((each.key, each.value))
        tried = [(value, _tried(alone, leans, value, most_runs)) for value in _values(leans, option)] if leans else []
        found.append(_moved(each.key, str(each), base, tried, of_model=False))
    scores = np.repeat(_CENTRAL, 2 * len(UNKNOWNS), axis=0)
    for place in range(len(UNKNOWNS)):
        scores[2 * place : 2 * place + 2, place] = _SCORES
    figures = _figures(base_study, most_runs, scores)
    factors = factors_at(scores, base_study.spreads)
    for place, unknown in enumerate(UNKNOWNS):
        rows = slice(2 * place, 2 * place + 2)
        tried = list(zip((f"{value:.3g}" for value in getattr(factors, unknown.key)[rows]), figures[rows], strict=True))
        found.append(_moved(unknown.key, unknown.words, base, tried, of_model=True))
    found.sort(key=lambda each: -each.influence)
    days, cost = (option.days_to_first_service, option.cost_per_year.total) if base[0] is not None else base
    return Assumptions(study=study, option=option, days=days, cost=cost, assumptions=tuple(found))


def _figures(study: Study, most_runs: Sequence[int], points: Array) -> list[_Figures]:
    """Return days and yearly cost of a study's only option at points of the unit cube."""
    entries = entries_of(study)
    if entries[0].loop is None:
        return [(None, None)] * len(points)
    (drawn,) = run_options(study, entries, [most_runs], points)
    with np.errstate(invalid="ignore", divide="ignore"):
        cost = parts_of(study, entries[0], drawn, factors_at(points, study.spreads))["total"]
    return [
        (float(days), float(money)) if flows and np.isfinite(money) else (None, None)
        for days, money, flows in zip(drawn.first_days, cost, drawn.flows, strict=True)
    ]


def _alone(data: Given, study: Study, answer: OptionAnswer) -> dict[str, Any]:
    """Return a study file cut down to one option on one pump."""
    option, _ = study.on_pumps[answer.id]
    row = next((row for row in data.get("options") or () if row["name"].strip() == option.name), None)
    stages = {stage.name for stage in option.stages}
    alone = {key: value for key, value in data.items() if key != "in_use" and value is not None}
    alone["options"] = [row or {"name": option.name, "stages": [option.name]}]
    alone["elements"] = [row for row in data["elements"] if row["name"].strip() in stages]
    if alone.get("pumps"):
        alone["pumps"] = [row for row in data["pumps"] if row.get("name", "pump").strip() == answer.pump]
    return alone


def _values(assumed: Assumed, option: OptionAnswer) -> tuple[Value, ...]:
    """Return what an assumption may plausibly be instead; none where it is no matter of knowing."""
    key, default, either_way = assumed.key, assumed.value, (1.0 - SPREAD, 1.0 + SPREAD)
    if key in _STRUCTURE:
        return ()
    if key in RANGES:
        return tuple(value for value in RANGES[key] if as_text(value) != default)
    if key == "needs.shortest_run":
        usual = float(unstated_shortest_days(np.asarray(option.days_to_first_service or 0.0)))
        return tuple(written(times * usual, "day") for times in either_way)
    table, name = key.split(".")
    field = TABLES[table].key(name)
    words = field.schema.get("enum") if field else None
    if isinstance(words, list):
        return tuple(word for word in words if word != default)
    if default in ("true", "false"):
        return (default == "false",)
    return tuple(_times(default, times) for times in either_way)


def _times(text: str, times: float) -> float | str:
    """Return a number, or a number with its unit, times a factor."""
    number, _, unit = text.partition(" ")
    value = float(f"{float(number) * times:.6g}")
    return f"{value:g} {unit}" if unit else value


def _tried(alone: Given, assumed: Assumed, value: Value, most_runs: Sequence[int]) -> _Figures | None:
    """Return what comes out where the tables that lean on a default say something else; None where they may not."""
    table, name = assumed.key.split(".")
    place = "pumps" if table == "pump" and "pumps" in alone else table
    rows = alone.get(place) or {}
    if isinstance(rows, list):
        names = assumed.names or [row["name"].strip() for row in rows]
        said: Any = [{**row, name: value} if row["name"].strip() in names else row for row in rows]
    else:
        said = {**rows, name: value}
    try:
        return _figures(study_from_dict({**alone, place: said}), most_runs, _CENTRAL)[0]
    except InputError:
        return None


def _moved(
    key: str, line: str, base: _Figures, tried: Sequence[tuple[Value, _Figures | None]], *, of_model: bool
) -> Assumption:
    known = [(value, there) for value, there in tried if there is not None]
    moves = [_move(before, after) for _, there in known for before, after in zip(base, there, strict=True)]
    return Assumption(
        key=key,
        of_model=of_model,
        line=line,
        tried=tuple(as_text(value) for value, _ in known),
        days=tuple(days for _, (days, _) in known),
        cost=tuple(cost for _, (_, cost) in known),
        influence=max(moves, default=0.0),
    )


def _move(before: float | None, after: float | None) -> float:
    """Return how far a figure moves over the larger of the two; wholly where it comes or goes."""
    if before is None or after is None:
        return float((before is None) != (after is None))
    largest = max(abs(before), abs(after))
    return abs(after - before) / largest if largest > 0.0 else 0.0
