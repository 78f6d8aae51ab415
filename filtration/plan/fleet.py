"""One budget over many tubs: elements to order and money a year, with ranges."""

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from filtration.answers.chances import parts_of
from filtration.answers.decision import CASES, DRAWS, SEED
from filtration.answers.draws import DrawnOption, drawn_options, kept_options
from filtration.answers.figures import follow_all, judged
from filtration.answers.odds import most_runs_of
from filtration.answers.ranking import ordered
from filtration.answers.results import OptionAnswer, decided
from filtration.base.arrays import Array, Flags, totals
from filtration.base.cases import taken
from filtration.base.draws import Factors, factors_at, sobol_points, tenths
from filtration.base.errors import InputError
from filtration.base.frames import Frame, frame_of
from filtration.loading.assembly import Entry, entries_of
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.study.file import load_tables, study_from_dict, text_of_file
from filtration.study.overrides import filled, value_of_text
from filtration.study.values import Study

if TYPE_CHECKING:
    import _csv

Range = tuple[float, float, float]
Progress = Callable[[float, str], None]
_MOST_DRAWS = 2048
_MOST_TABLE_BYTES = 50_000_000
_TUBS_AT_A_TIME = 64


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FleetRow:
    """One row: where it stands, and its study or the faults that keep it from being one."""

    where: str
    tables: Mapping[str, Any] | None = None
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TubBudget:
    """A year of one tub.

    Parameters
    ----------
    name, where : str
        The tub, and the file or line it comes from.
    option, pump : str or None
        What to fit; None where no option has the flow.
    meets_needs : bool
        Whether that meets the needs in the central case.
    chance_of_meeting_needs : float
        Chance that it does [-].
    currency : str
        Of the cost.
    elements : mapping of str to (d,) array
        Elements a year by name, central case first.
    cost : (d,) array
        Cost a year, central case first; draws in which the option does not meet the needs carry the central figures.
    meets : (d,) array of bool
        In which draws it meets the needs; a range of this tub is over those.
    faults : tuple of str
        Why there is no budget.
    """

    name: str
    where: str
    option: str | None = None
    pump: str | None = None
    meets_needs: bool = False
    chance_of_meeting_needs: float = 0.0
    currency: str = ""
    elements: Mapping[str, Array]
    cost: Array
    meets: Flags
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fleet:
    """A year of many tubs: tubs in order, and the draws they share."""

    tubs: tuple[TubBudget, ...]
    draws: int
    seed: int

    @property
    def failed(self) -> tuple[TubBudget, ...]:
        """Tubs without a budget because something about their row is wrong."""
        return tuple(tub for tub in self.tubs if tub.faults)

    def elements(self) -> dict[str, Array]:
        """Elements a year of all tubs by name, (d,) each, central case first."""
        return dict(sorted(totals(each for tub in self.tubs for each in tub.elements.items()).items()))

    def cost(self) -> dict[str, Array]:
        """Cost a year of all tubs by currency, (d,) each, central case first."""
        return totals((tub.currency, tub.cost) for tub in self.tubs if tub.option is not None)

    def table(self) -> Frame:
        """Return the tubs: a row each, cost a year central and 10, 50 and 90 %; wrong ones with their faults."""
        names = ("where", "name", "option", "pump", "meets_needs", "chance_of_meeting_needs", "currency")
        rows = []
        for tub in self.tubs:
            cost = _figures_row("cost_per_year", tub.cost, tub.meets) if tub.option is not None else {}
            rows.append({name: getattr(tub, name) for name in names} | cost | {"faults": "; ".join(tub.faults)})
        return frame_of(rows).set_index("where")

    def elements_table(self) -> Frame:
        """Return the elements to order a year: a row each, central and 10, 50 and 90 %."""
        rows = [{"element": name} | _figures_row("per_year", count) for name, count in self.elements().items()]
        columns = ["element", "per_year", "per_year.p10", "per_year.p50", "per_year.p90"]
        return frame_of(rows, columns).set_index("element")

    def _repr_html_(self) -> str:
        """Show what to order, then the tubs, in a notebook."""
        both = (self.elements_table(), self.table())
        return "".join(str(table.to_html(float_format="{:,.4g}".format, na_rep="", max_rows=60)) for table in both)


def _figures_row(name: str, values: Array, among: Flags | None = None) -> dict[str, float]:
    central, spread = figures(values, among)
    return {name: central} | {f"{name}.{at}": value for at, value in zip(("p10", "p50", "p90"), spread, strict=True)}


def figures(values: Array, among: Flags | None = None) -> tuple[float, Range]:
    """Return the central value and the range of draws that carry the central case first.

    Parameters
    ----------
    values : (d,) array
        The central case, then the draws.
    among : (d - 1,) array of bool, optional
        The draws that count; left out, all.

    Returns
    -------
    float, (float, float, float)
        Central; 10, 50 and 90 % of the draws, the central value thrice where there are none.
    """
    draws = values[1:] if among is None else values[1:][among]
    if not draws.size:
        return float(values[0]), (float(values[0]),) * 3
    low, middle, high = tenths(draws)
    return float(values[0]), (float(low), float(middle), float(high))


def _table(path: Path, template: Path | None) -> tuple[list[str], Iterator[tuple[int, list[str]]]]:
    """Return the columns of a table of tubs, and its further lines with their numbers."""
    where = path.name
    text = text_of_file(path, where, _MOST_TABLE_BYTES)
    if "\0" in text:
        raise InputError(f"{where}: holds characters no table has")
    header = text.split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=";" if ";" in header and "," not in header else ",")
    columns = [column.strip() for column in _cells(reader, where) or []]
    if not any(columns):
        raise InputError(f"{where}: is empty; its first line names keys such as name, tub.volume, tub.uses_per_day")
    named = [column for column in columns if column]
    if len(set(named)) < len(named):
        raise InputError(f"{where}: names a column twice")
    if template is None and "study" not in columns:
        raise InputError(f"{where}: needs a template, by --template STUDY or a column 'study' of file names")
    lines = ((reader.line_num, cells) for cells in iter(lambda: _cells(reader, where), None))
    return columns, ((number, cells) for number, cells in lines if any(cell.strip() for cell in cells))


def _cells(reader: "_csv.Reader", where: str) -> list[str] | None:
    """Return the cells of the next line; None after the last."""
    try:
        return next(reader, None)
    except csv.Error:
        at = f"{where}, line {reader.line_num}"
        raise InputError(f"{at}: has a cell longer than any; see its quotation marks") from None


def _tub(columns: Sequence[str], cells: Sequence[str], template_of: Callable[[str], dict[str, Any]]) -> dict[str, Any]:
    """Return the tables of one line: its template with the keys it overrides."""
    if len(cells) != len(columns):
        raise InputError(f"has {len(cells)} cells, the first line has {len(columns)}")
    row = dict(zip(columns, map(str.strip, cells), strict=True))
    template = template_of(row.pop("study", ""))
    return filled(template, {key: cell for key, cell in row.items() if key and cell}, value_of_text)


def row_of(where: str, read: Callable[[], Mapping[str, Any]], before: str) -> FleetRow:
    """Return a row of a fleet with the tables that are read for it, or with its faults and what stands before each."""
    try:
        return FleetRow(where=where, tables=read())
    except InputError as error:
        return FleetRow(where=where, faults=tuple(before + fault for fault in error.faults))


def _rows(path: Path, template: Path | None) -> Iterator[FleetRow]:
    """Yield the rows of a table of tubs, each a template with some keys of its own."""
    columns, lines = _table(path, template)

    @cache
    def template_of(name: str) -> dict[str, Any]:
        base = path.parent / name if name else template
        if base is None:
            raise InputError("names no study and there is no template")
        return load_tables(base)

    for number, cells in lines:
        where = f"{path.name}, line {number}"
        yield row_of(where, partial(_tub, columns, cells, template_of), f"{where}: ")


def read_fleet(path: Path, template: Path | None = None) -> list[FleetRow]:
    """Read a folder of studies or a table of tubs.

    Parameters
    ----------
    path : Path
        A folder of TOML files, or a CSV file: its first line names keys of a study (``name``, ``tub.volume``,
        ``elements.Pleated 20.price``), each further line is a tub; an empty cell leaves the template's value.
    template : Path, optional
        The study that the rows of a table override; a column ``study`` wins.

    Returns
    -------
    list of FleetRow
        Rows in order; a wrong one carries its faults.

    Raises
    ------
    InputError
        If there is nothing to read.
    """
    if not path.is_dir():
        rows = list(_rows(path, template))
        if not rows:
            raise InputError(f"{path.name}: holds no tub; every line after the first is one")
        return rows
    try:
        files = sorted(file for file in path.iterdir() if file.suffix == ".toml")
    except OSError as error:
        raise InputError(f"{path.name}: cannot be read: {error.strerror}") from None
    if not files:
        raise InputError(f"{path.name}: holds no study; studies are files that end in .toml")
    return [row_of(file.name, partial(load_tables, file), "") for file in files]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Known:
    """A tub whose row is right, with the options whose pump drives the loop."""

    tub: FleetRow
    study: Study
    entries: Sequence[Entry]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Taken:
    """What to fit in a tub: which entry, its answer, the chance that it meets the needs, and the cases that decided."""

    known: _Known
    entry: Entry
    answer: OptionAnswer
    chance: float
    drawn: DrawnOption


def _taken(known: _Known, answers: Sequence[OptionAnswer], drawn: Sequence[DrawnOption]) -> _Taken | None:
    """Return what to fit in a tub; where nothing meets the needs, the cheapest that has the flow."""
    meets = np.array([each.meets for each in drawn]).reshape(len(answers), CASES)
    chances, none_meets = meets.mean(axis=1).tolist(), float(1.0 - meets.any(axis=0).mean())
    order = ordered(answers)
    advised = decided(known.study, order, [chances[answers.index(each)] for each in order], none_meets).advised
    able = [each for each in order if each.cost_per_year.total is not None]
    answer = next((each for each in able if advised in (each.id, None)), None)
    if answer is None:
        return None
    at = answers.index(answer)
    return _Taken(known=known, entry=known.entries[at], answer=answer, chance=chances[at], drawn=drawn[at])


def _budget(fit: _Taken, drawn: DrawnOption | None, factors: Factors | None) -> TubBudget:
    """Return a year of a tub with the option to take, the central case first, with its range where there are draws."""
    study, entry, answer = fit.known.study, fit.entry, fit.answer
    per_year = DAYS_PER_YEAR * entry.option.housings_in_parallel
    bought = per_year * drawn.replaced_per_day if drawn else np.zeros((len(answer.stages), 0))
    counts = (
        _central_first(one.elements_per_year or 0.0, of, drawn) for one, of in zip(answer.stages, bought, strict=True)
    )
    cost = parts_of(study, entry, drawn, factors)["total"] if drawn and factors else np.zeros(0)
    return TubBudget(
        name=study.name,
        where=fit.known.tub.where,
        option=answer.name,
        pump=answer.pump,
        meets_needs=answer.meets_needs,
        chance_of_meeting_needs=fit.chance,
        currency=study.currency,
        elements=totals(zip((one.element for one in answer.stages), counts, strict=True)),
        cost=_central_first(answer.cost_per_year.total or 0.0, cost, drawn),
        meets=drawn.meets if drawn else np.zeros(0, dtype=bool),
    )


def _central_first(central: float, draws: Array, drawn: DrawnOption | None) -> Array:
    """Return a central figure and those of the draws, which carry it where the option does not meet the needs."""
    return np.array([central, *(np.where(drawn.meets, draws, central) if drawn else ())])


def _budgets(packed: tuple[Sequence[FleetRow], int, int]) -> list[TubBudget]:
    """Return a year of some tubs, worked side by side."""
    tubs, draws, seed = packed
    rows: list[_Known | TubBudget] = []
    for tub in tubs:
        faults = tub.faults
        try:
            if tub.tables is not None:
                study = study_from_dict(tub.tables, where=tub.where)
                driven = [entry for entry in entries_of(study) if entry.loop is not None]
                rows.append(_Known(tub=tub, study=study, entries=driven))
                continue
        except InputError as error:
            faults = tuple(fault if fault.startswith(tub.where) else f"{tub.where}: {fault}" for fault in error.faults)
        rows.append(_nothing(tub.where, tub.where, draws, faults))
    known = [row for row in rows if isinstance(row, _Known)]
    followed = follow_all([(row.study, row.entries) for row in known])
    answers = [[judged(of) for of in each] for each in followed]
    jobs = [(row.study, row.entries, [*map(most_runs_of, each)]) for row, each in zip(known, answers, strict=True)]
    judging, points = iter(_drawn(jobs, sobol_points(CASES, SEED))), sobol_points(draws, seed) if draws else None
    chosen = [_taken(row, each, [next(judging) for _ in row.entries]) for row, each in zip(known, answers, strict=True)]
    fitted = [each for each in chosen if each is not None]
    if points is None:
        told: list[DrawnOption | None] = [None] * len(fitted)
    elif seed == SEED and draws <= CASES:
        told = [taken(each.drawn, np.arange(draws), CASES) for each in fitted]
    else:
        told = [*_drawn([(each.known.study, [each.entry], [most_runs_of(each.answer)]) for each in fitted], points)]
    drawn, found = iter(told), iter(chosen)
    budgets = []
    for row in rows:
        if isinstance(row, TubBudget):
            budgets.append(row)
        elif (fit := next(found)) is None:
            budgets.append(_nothing(row.study.name, row.tub.where, draws))
        else:
            study = row.study
            factors = None if points is None else factors_at(points, study.spreads, study.belief)
            budgets.append(_budget(fit, next(drawn), factors))
    return budgets


def _nothing(name: str, where: str, draws: int, faults: tuple[str, ...] = ()) -> TubBudget:
    """Return the budget of a tub that has none."""
    nobody = np.zeros(draws, dtype=bool)
    return TubBudget(name=name, where=where, elements={}, cost=np.zeros(1 + draws), meets=nobody, faults=faults)


def _drawn(jobs: Sequence[tuple[Study, Sequence[Entry], Sequence[Sequence[int]]]], points: Array) -> list[DrawnOption]:
    """Put options of several studies, each with its runs before replacing, before the same points, side by side."""
    kept = [
        option
        for study, entries, most_runs in jobs
        for option in kept_options(study, entries, most_runs, [factors_at(points, study.spreads, study.belief)])
    ]
    return drawn_options(kept)


def budget(
    tubs: Sequence[FleetRow],
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Fleet:
    """Work out a year of many tubs.

    Parameters
    ----------
    tubs : sequence of FleetRow
        From ``read_fleet``.
    draws : int, optional
        Draws that ranges come from, a power of two; 0 for none. All tubs share them: what is
        not known of bathers and elements is not known of all of them alike.
    seed : int, optional
        Which draws.
    executor : concurrent.futures.Executor, optional
        Where to work; the answer is the same wherever.
    progress : callable, optional
        Called with the share done [-] and what is being done.

    Returns
    -------
    Fleet
        Tubs in order, wrong rows with their faults among them.

    Raises
    ------
    InputError
        If ``draws`` is not 0 or a power of two.
    """
    if draws < 0 or draws & (draws - 1) or draws > _MOST_DRAWS:
        raise InputError(f"draws: must be 0 or a power of two up to {_MOST_DRAWS}, got {draws}")
    jobs = [(tubs[at : at + _TUBS_AT_A_TIME], draws, seed) for at in range(0, len(tubs), _TUBS_AT_A_TIME)]
    chunks: Iterable[list[TubBudget]] = map(_budgets, jobs) if executor is None else executor.map(_budgets, jobs)
    done: list[TubBudget] = []
    for chunk in chunks:
        done += chunk
        if progress:
            progress(len(done) / len(tubs), f"{len(done)} of {len(tubs)} tubs")
    return Fleet(tubs=tuple(done), draws=draws, seed=seed)
