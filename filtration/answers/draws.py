"""Options before many draws of what is not known exactly: walked, and judged; d draws, s stages."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from filtration.base.arrays import Array, Flags, Rows
from filtration.base.cases import side_by_side, taken
from filtration.base.defaults import model
from filtration.base.draws import Factors
from filtration.loading.assembly import Entry
from filtration.loading.case import Case, case_of, load_of
from filtration.loading.runs import Tables
from filtration.loading.table import COARSE
from filtration.loading.tabulate import tables_of
from filtration.service.care import Care, care_of
from filtration.service.lives import lives_of, no_rates
from filtration.study.values import Study

BLOCK = 8192  # draws worked at a time: their tables then fit the processor's cache


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnOption:
    """One option before many draws; (d,) each, no number where the clean filter lacks the flow.

    Parameters
    ----------
    meets : (d,) array of bool
        The clean filter reaches flow and view, lasts a day, and every run the stated shortest.
    flows : (d,) array of bool
        It has the flow, so that a life and a cost exist.
    clean_flow_m3_s, first_days, worst_view_m : (d,) array
        Clean flow, days to the first service as answered (0 where a need fails), view just after a session when due.
    services_per_day : (d,) array
        Services [1/day].
    replaced_per_day, rinsed_per_day, soaked_per_day : (s, d) array
        By stage [1/day].
    """

    meets: Flags
    flows: Flags
    clean_flow_m3_s: Array
    first_days: Array
    worst_view_m: Array
    services_per_day: Array
    replaced_per_day: Array
    rinsed_per_day: Array
    soaked_per_day: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kept:
    """An option by draw and how it is looked after."""

    case: Case
    care: Care


def kept_options(
    study: Study, entries: Sequence[Entry], most_runs: Sequence[Sequence[int]], blocks: Sequence[Factors]
) -> list[list[Kept]]:
    """Return options before the draws, some draws at a time.

    Parameters
    ----------
    study : Study
        The study.
    entries : sequence of Entry
        Options whose pump drives the loop.
    most_runs : sequence of sequence of int
        For each, runs before each stage of a train is replaced.
    blocks : sequence of Factors
        The draws.

    Returns
    -------
    list of list of Kept
        For each option one a block.
    """
    load = load_of(study)
    return [
        [
            Kept(case=case_of(study, entry, factors, load), care=care_of(study, entry.option, factors, most))
            for factors in blocks
        ]
        for entry, most in zip(entries, most_runs, strict=True)
    ]


def drawn_options(kept: Sequence[Sequence[Kept]], *, needs_alone: bool = False) -> list[DrawnOption]:
    """Work options out, those of one kind side by side.

    Parameters
    ----------
    kept : sequence of sequence of Kept
        Each option in blocks of draws.
    needs_alone : bool, optional
        Only whether they meet the needs is asked: where that takes no life, what is done a day is left at none.

    Returns
    -------
    list of DrawnOption
        In the order given.
    """
    kinds: dict[object, list[tuple[int, Kept]]] = {}
    for at, blocks in enumerate(kept):
        for block in blocks:
            kinds.setdefault(block.case.kind, []).append((at, block))
    found: list[list[DrawnOption]] = [[] for _ in kept]
    for members in kinds.values():
        while members:
            some = [members.pop(0)]
            while members and sum(each.case.size for _, each in some) + members[0][1].case.size <= BLOCK:
                some.append(members.pop(0))
            sizes = [each.case.size for _, each in some]
            together = side_by_side([each for _, each in some], sizes)
            drawn, start = _drawn(together, needs_alone=needs_alone), 0
            for (at, _), size in zip(some, sizes, strict=True):
                found[at].append(taken(drawn, np.arange(start, start + size), sum(sizes)))
                start += size
    return [side_by_side(blocks, [len(block.meets) for block in blocks]) for blocks in found]


def _drawn(kept: Kept, *, needs_alone: bool) -> DrawnOption:
    """Work one or several options of a kind out."""
    case = kept.case
    clean, due = case.clean_and_due()
    flows = case.runs(clean, due)
    seen_clean = case.seen_m(clean, case.new)
    size, stages = case.size, len(case.stages)
    whole = DrawnOption(
        meets=np.zeros(size, dtype=bool),
        flows=flows,
        clean_flow_m3_s=clean,
        first_days=np.zeros(size),
        worst_view_m=seen_clean.copy(),
        services_per_day=np.zeros(size),
        replaced_per_day=np.zeros((stages, size)),
        rinsed_per_day=np.zeros((stages, size)),
        soaked_per_day=np.zeros((stages, size)),
    )
    some = np.flatnonzero(flows)
    if some.size:
        part = _walked(taken(kept, some, size), (clean[some], due[some]), needs_alone=needs_alone)
        for field in fields(DrawnOption):
            getattr(whole, field.name)[..., some] = getattr(part, field.name)
    clear = seen_clean >= case.view_m
    whole.meets[:] &= clear
    whole.first_days[~clear] = 0.0
    return whole


def _walked(kept: Kept, flows: tuple[Array, Array], *, needs_alone: bool) -> DrawnOption:
    """Return what becomes of draws that have the flow, the view when clean not judged."""
    tables = tables_of(kept.case, COARSE, flows)
    stated, first = kept.care.stated_shortest_days, tables.first_days()
    no_life = needs_alone and bool(np.isnan(stated).all())
    rates = no_rates(len(tables.tables), len(first)) if no_life else lives_of(tables, kept.care)
    due = tables.deposits(tables.new, tables.new, first, tables.all)
    seen = tables.seen_m(due, tables.flow_m3_s(due))
    lasts = np.isnan(stated) | (rates.shortest_days >= stated)
    return DrawnOption(
        meets=lasts & (first >= model("service.least_days")),
        flows=np.ones(len(first), dtype=bool),
        clean_flow_m3_s=tables.clean_m3_s,
        first_days=first,
        worst_view_m=np.where(tables.clouded, np.maximum(seen, kept.case.view_m), seen),
        services_per_day=rates.services_per_day,
        replaced_per_day=rates.replaced_per_day,
        rinsed_per_day=rates.rinsed_per_day,
        soaked_per_day=rates.soaked_per_day,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WatchedRun:
    """The first run of one option before many draws, to be looked at day by day.

    Parameters
    ----------
    case : Case
        The option.
    clean_m3_s, first_days : (d,) array
        Clean flow [m3/s]; first run as answered, 0 where a need fails [day].
    runs : (r,) array of int
        Draws whose clean filter has the flow.
    due_days : (r,) array
        When those are due, the view when clean not judged [day].
    tables : Tables or None
        Of those; None where there are none.
    """

    case: Case
    clean_m3_s: Array
    first_days: Array
    runs: Rows
    due_days: Array
    tables: Tables | None

    def flows_m3_s(self, days: Sequence[float]) -> Array:
        """Flow (q, d) on days of the run, or when due if that comes first; the clean flow where it lacks the flow."""
        flow, tables = np.tile(self.clean_m3_s, (len(days), 1)), self.tables
        if tables is not None:
            at, cases = np.minimum(np.array(days)[:, None], self.due_days), np.tile(tables.all, len(days))
            new = np.zeros((len(tables.tables), cases.size))
            held = tables.deposits(new, new, at.ravel(), cases)
            flow[:, self.runs] = tables.flow_m3_s(held, cases).reshape(at.shape)
        return flow


def watched_run(study: Study, entry: Entry, factors: Factors) -> WatchedRun:
    """Return the first run of an option before some draws."""
    case = case_of(study, entry, factors, load_of(study))
    clean, due = case.clean_and_due()
    runs = np.flatnonzero(case.runs(clean, due))
    days, due_days, tables = np.zeros(case.size), np.zeros(0), None
    if runs.size:
        tables = tables_of(taken(case, runs, case.size), COARSE, (clean[runs], due[runs]))
        days[runs] = due_days = tables.first_days()
    days[case.seen_m(clean, case.new) < case.view_m] = 0.0
    return WatchedRun(case=case, clean_m3_s=clean, first_days=days, runs=runs, due_days=due_days, tables=tables)
