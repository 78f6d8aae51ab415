"""Hold the program's answers against the slower tub: how far off are days, views, clearing time and cost."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import unsteady_solver as slower
from slow_solver_cases import cases_of, fits
from studies import Given, study_of

from filtration import Comparison, Study, compare
from filtration.answers.figures import FirstRun, Followed, follow
from filtration.answers.yearly import energy_of, fixed_parts, heat_w, priced_parts
from filtration.loading.assembly import Entry, entries_of

if TYPE_CHECKING:
    from filtration.service.visits import Services

PHASES = 6
MOST_DAYS = 1.5 * slower.DAYS_A_YEAR


NOTES = {
    "days": ("due at a session", "due by clarity"),
    "views": ("views with memory",),
    "hours to clear": ("clearing with memory", "clearing in a short run"),
    "cost": ("close call", "due by clarity", "sessions decide"),
}
FIGURES = ("days", "clean view", "worst view", "hours to clear", "cost", "cost of services", "services")


@dataclass(frozen=True, kw_only=True)
class Held:
    """One option's figures by the program and by the slower tub, and which notes name it.

    ``days`` is the first run without a limit by clarity where the clean filter is not clear enough; the answer then
    says 0, and ``clear`` is False. ``by_phase`` are the slower tub's first runs from other beginnings [day].
    """

    option: str
    governed_by: str
    clear: bool
    clear_in_theirs: bool
    ours: dict[str, float]
    theirs: dict[str, float]
    by_phase: tuple[float, ...]
    noted: frozenset[str]

    def error(self, figure: str) -> float:
        """Give the program's figure over the slower tub's, less 1; nan where there is none."""
        ours, theirs = self.ours.get(figure, math.nan), self.theirs.get(figure, math.nan)
        return 0.0 if ours == theirs else ours / theirs - 1.0 if theirs else math.nan

    @property
    def mean_days_error(self) -> float:
        """Give the program's days over the mean of the slower tub's over all beginnings, less 1."""
        return self.ours["days"] / float(np.mean(self.by_phase)) - 1.0 if self.by_phase else math.nan

    def off(self, of: str) -> float:
        """Give how far a noted kind of figure is off, at the most: days over all beginnings, views over both."""
        if of == "days":
            beginnings = (self.theirs["days"], *self.by_phase)
            return max(abs(self.ours["days"] / max(one, 1e-9) - 1.0) for one in beginnings) if self.clear else 0.0
        figures = ("clean view", "worst view") if of == "views" else (of,)
        return max(abs(self.error(figure)) for figure in figures)


def cares_of(entry: Entry, services: Services) -> list[slower.Care]:
    """Say how the program would have the stages looked after: as in each stage's first life."""
    rinsed, _, replaced = services.done[..., 0].transpose(1, 2, 0)
    cares = []
    for element, rinses, gone in zip(entry.option.stages, rinsed, replaced, strict=True):
        first = int(np.argmax(gone)) + 1 if gone.any() else len(gone)
        cares.append(
            slower.Care(
                rinseable=element.rinseable,
                rinse_recovery=element.rinse_recovery,
                soak_every=element.soak_every_rinses,
                soak_recovery=element.soak_recovery,
                most_runs=int(rinses[:first].sum()) + 1 if gone.any() else slower.MOST_SERVICES,
            )
        )
    return cares


def services_cost(study: Study, entry: Entry, a_year: dict[str, np.ndarray]) -> float:
    """Price what is done to the stages in a year."""
    count = entry.option.housings_in_parallel
    total = 0.0
    for stage, element in enumerate(entry.option.stages):
        amounts = (count * float(a_year[what][stage]) for what in ("replaced", "rinsed", "soaked"))
        total += sum(priced_parts(element, study.prices, *amounts).values())
    return total


def held(data: Given, *, phases: int = PHASES, years: bool = True, fineness: float = 1.0) -> list[Held]:
    """Hold the options of a study of one pump whose clean filter has the flow against the slower tub."""
    study = study_of(data)
    answered, cases, found = compare(study), dict(cases_of(data)), []
    for of in follow(study, [entry for entry in entries_of(study) if entry.loop is not None]):
        case = cases[of.entry.option.name]
        if of.first is not None and of.life is not None and fits(case):
            cares = cares_of(of.entry, of.life.services)
            until = min(max(study.prices.horizon_days, study.needs.discard_days), MOST_DAYS) if years else 0.0
            theirs = slower.solve(case, cares, until_days=until, phases=phases, fineness=fineness)
            if theirs.moves:
                found.append(_held(of, of.first, answered, theirs))
    return found


def _held(of: Followed, first: FirstRun, answered: Comparison, theirs: slower.Answer) -> Held:
    study, entry = of.study, of.entry
    (answer,) = (answer for answer in answered.options if answer.name == entry.option.name)
    ours = {
        "days": first.days,
        "clean view": answer.see_through_clean_m,
        "worst view": answer.see_through_worst_m,
        "hours to clear": answer.hours_to_clear_after_session or math.nan,
    }
    slow = {
        "days": theirs.days,
        "clean view": theirs.see_through_clean_m,
        "worst view": theirs.see_through_worst_m,
        "hours to clear": theirs.hours_to_clear,
    }
    if theirs.lives is not None:
        cost = answer.cost_per_year
        ours["cost"] = cost.total or math.nan
        ours["cost of services"] = sum(
            part or 0.0 for part in (cost.elements, cost.rinsing, cost.own_time, cost.disposal)
        )
        ours["services"] = answer.services_per_year or math.nan
        heat = heat_w(study, entry, theirs.lives.flow_m3_s)
        slow["cost of services"] = services_cost(study, entry, theirs.lives.a_year)
        fixed = fixed_parts(study, entry, energy_of(study, entry, heat))
        slow["cost"] = slow["cost of services"] + sum(fixed.values())
        slow["services"] = slower.DAYS_A_YEAR * len(theirs.lives.run_days) / theirs.lives.days
    return Held(
        option=answer.id,
        governed_by=first.limit,
        clear=of.clear,
        clear_in_theirs=theirs.clear,
        ours=ours,
        theirs=slow,
        by_phase=theirs.days_by_phase,
        noted=noted(answered, answer.name),
    )


def noted(answered: Comparison, name: str) -> frozenset[str]:
    """Say which figures of an option a note tells to be off."""
    kinds = {note.kind for note in answered.notes if name in str(note.figures.get("options", "")).split(", ")}
    return frozenset(of for of, by in NOTES.items() if kinds & set(by))
