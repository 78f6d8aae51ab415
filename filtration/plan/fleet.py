"""One budget and one schedule over many tubs."""

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from typing import Any

from filtration.answers.decision import DRAWS, SEED
from filtration.answers.ranking import Progress
from filtration.base.errors import InputError
from filtration.base.frames import Frame, frame_of
from filtration.plan.fleet_rows import FleetRow
from filtration.plan.standard import Standard, standards_of
from filtration.plan.tub_budget import Job, Ranged, Sums, TubBudget, budgets_of, figure_of
from filtration.plan.year_ahead import Year, year_of

_MOST_DRAWS = 2048
_TUBS_AT_A_TIME = 16  # half the memory of 32, and as quick to a thirtieth
_OF_TUB = ("where", "name", "option", "pump", "meets_needs", "chance_of_meeting_needs", "currency")
_FIGURES = {"cost_per_year": "cost", "consumables_per_year": "consumables", "days_to_first_service": "days"}


@dataclass(frozen=True, kw_only=True, eq=False)
class Fleet:
    """A year of many tubs.

    Parameters
    ----------
    tubs : tuple of TubBudget
        In order; a tub that is there twice stands there once.
    twice : tuple of (str, str)
        Rows that say the same as an earlier one, each with that: they are counted once.
    cost, consumables : mapping of str to Ranged
        A year of all tubs that have an option, by currency: all of it; and what is used up, without power and own time.
    elements : mapping of str to Ranged
        Elements a year by name.
    first_day : date
        The first day of the year ahead.
    draws, seed : int
        The draws that all share.
    """

    tubs: tuple[TubBudget, ...]
    twice: tuple[tuple[str, str], ...]
    cost: Mapping[str, Ranged]
    consumables: Mapping[str, Ranged]
    elements: Mapping[str, Ranged]
    first_day: date
    draws: int
    seed: int

    @property
    def failed(self) -> tuple[TubBudget, ...]:
        """Tubs without a budget because something about their row is wrong."""
        return tuple(tub for tub in self.tubs if tub.faults)

    @property
    def covered(self) -> tuple[TubBudget, ...]:
        """Tubs that the totals hold."""
        return tuple(tub for tub in self.tubs if tub.meets_needs)

    @property
    def without_option(self) -> tuple[TubBudget, ...]:
        """Tubs in which nothing meets the needs, so that the totals leave them out."""
        return tuple(tub for tub in self.tubs if not tub.meets_needs and not tub.faults)

    def called(self, tub: TubBudget) -> str:
        """Return what a tub is called: its name, and where it comes from if others bear that name."""
        return tub.name if self._names[tub.name] == 1 else f"{tub.name} ({tub.where})"

    @cached_property
    def _names(self) -> Counter[str]:
        return Counter(tub.name for tub in self.tubs)

    @cached_property
    def year(self) -> Year:
        """The year ahead: visits gathered, hours, the shopping list, and what it comes to."""
        return year_of([(self.called(tub), tub) for tub in self.covered], self.first_day)

    @cached_property
    def standards(self) -> list[Standard]:
        """How the tubs could do with fewer kinds of cartridge."""
        return standards_of([(self.called(tub), tub) for tub in self.covered])

    def table(self) -> Frame:
        """Return the tubs: a row each, figures central and 10, 50 and 90 %; wrong ones with their faults."""
        rows = []
        for tub in self.tubs:
            figures: dict[str, float] = {}
            for name, of in _FIGURES.items() if tub.meets_needs else ():
                figures |= _figure_row(name, getattr(tub, of))
            rows.append({name: getattr(tub, name) for name in _OF_TUB} | figures | {"faults": "; ".join(tub.faults)})
        return frame_of(rows).set_index("where")

    def elements_table(self) -> Frame:
        """Return the elements that a year takes in the long run: a row each, central and 10, 50 and 90 %."""
        rows = [{"element": name} | _figure_row("per_year", count) for name, count in self.elements.items()]
        columns = ["element", "per_year", "per_year.p10", "per_year.p50", "per_year.p90"]
        return frame_of(rows, columns).set_index("element")

    def _repr_html_(self) -> str:
        """Show what a year takes, then the tubs, in a notebook."""
        both = (self.elements_table(), self.table())
        return "".join(str(table.to_html(float_format="{:,.4g}".format, na_rep="", max_rows=60)) for table in both)


def _figure_row(name: str, figure: Ranged) -> dict[str, float]:
    spread = zip(("p10", "p50", "p90"), figure.range or (), strict=False)
    return {name: figure.central} | {f"{name}.{at}": value for at, value in spread}


def budget(
    tubs: Sequence[FleetRow],
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    today: date | None = None,
    shared: Sequence[Mapping[str, Any]] = (),
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Fleet:
    """Work out a year of many tubs.

    Parameters
    ----------
    tubs : sequence of FleetRow
        From ``read_fleet``; with readings, a tub is seen in their light.
    draws : int, optional
        Draws that ranges come from, a power of two; 0 for none. All tubs share them: what is
        not known of bathers and elements is not known of all of them alike.
    seed : int, optional
        Which draws.
    today : date, optional
        The first day of the year ahead; left out, this machine's.
    shared : sequence of mapping, optional
        What other tubs share, as ``load_shared`` reads it: where every tub starts from.
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
    first_day = today or date.today()  # noqa: DTZ011 - a day of this machine's calendar is meant
    once, twice = _once(tubs)
    chunks = (once[at : at + _TUBS_AT_A_TIME] for at in range(0, len(once), _TUBS_AT_A_TIME))
    jobs = [Job(rows=rows, draws=draws, seed=seed, first_day=first_day, shared=shared) for rows in chunks]
    found: Iterable[tuple[list[TubBudget], Sums]]
    found = map(budgets_of, jobs) if executor is None else executor.map(budgets_of, jobs)
    done: list[TubBudget] = []
    sums = Sums()
    for some, parts in found:
        done += some
        for key, part in parts.items():
            sums[key] = sums[key] + part if key in sums else part
        if progress:
            progress(len(done) / len(once), f"{len(done)} of {len(once)} tubs")

    def figures(kind: str) -> dict[str, Ranged]:
        return {of: figure_of(part) for (each, of), part in sorted(sums.items()) if each == kind}

    return Fleet(
        tubs=tuple(done),
        twice=twice,
        cost=figures("cost"),
        consumables=figures("consumables"),
        elements=figures("elements"),
        first_day=first_day,
        draws=draws,
        seed=seed,
    )


def _once(tubs: Sequence[FleetRow]) -> tuple[list[FleetRow], tuple[tuple[str, str], ...]]:
    """Return the rows without those that say the same as an earlier one, and those with that."""
    first: dict[str, str] = {}
    of_id: dict[str, str] = {}
    once, twice = [], []
    for row in tubs:
        said = json.dumps(row.tables, sort_keys=True, default=str) if row.tables is not None else ""
        if said and said in first:
            twice.append((row.where, first[said]))
            continue
        identity = row.tables.get("id") if row.tables is not None else None
        if said:
            first[said] = row.where
        if isinstance(identity, str) and identity in of_id:
            fault = f"{row.where}: has the id of {of_id[identity]}, {identity!r}; another tub needs one of its own"
            once.append(replace(row, tables=None, faults=(fault,)))
            continue
        if isinstance(identity, str):
            of_id[identity] = row.where
        once.append(row)
    return once, tuple(twice)
