"""Looking for the smallest size whose first run lasts long enough."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isfinite

import numpy as np

from filtration.answers.figures import first_run_of
from filtration.base.arrays import Array
from filtration.base.errors import InputError, NoAnswerError
from filtration.loading.assembly import Entry, entry_by_id
from filtration.loading.case import central_case, load_of
from filtration.loading.table import FINE
from filtration.loading.tabulate import clean_and_due_of, groups_of
from filtration.study.values import Limit, Needs, Option, Study

_SIDE_BY_SIDE, _CLOSE = 65, 1e-6
_ENOUGH = 1.0 - 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """The first run of one option.

    Parameters
    ----------
    clean_m3_s, due_m3_s : float
        Flow with the element new and when due [m3/s].
    days : float
        Its length [day]; 0 where the clean filter fails a need.
    limit : Limit
        What ends it.
    runs : bool
        The clean filter has the flow.
    """

    clean_m3_s: float = 0.0
    due_m3_s: float = 0.0
    days: float = 0.0
    limit: Limit = "flow"
    runs: bool = False

    def lasts(self, days: float) -> bool:
        """Whether it starts and lasts so long [day]."""
        return self.days > 0.0 and self.days >= days * _ENOUGH


Tried = Callable[[Array], list[Trial]]


def first_runs_of(study: Study, entries: Sequence[Entry]) -> list[Trial]:
    """Return the first run of every entry, side by side.

    Parameters
    ----------
    study : Study
        The study.
    entries : sequence of Entry
        Options on pumps; one without a loop moves no water.

    Returns
    -------
    list of Trial
        In the order given.
    """
    found = [Trial()] * len(entries)
    load, driven = load_of(study), [place for place, entry in enumerate(entries) if entry.loop is not None]
    cases = [central_case(study, entries[place], load) for place in driven]
    flows = clean_and_due_of(cases)
    for place, clean in zip(driven, flows[0].tolist(), strict=True):
        found[place] = Trial(clean_m3_s=clean)
    for places, tables in groups_of(cases, FINE, flows):
        clear = tables.case.seen_m(tables.clean_m3_s, tables.case.new) >= tables.case.view_m
        for at, (place, first) in enumerate(zip(places, first_run_of(tables), strict=True)):
            found[driven[place]] = Trial(
                clean_m3_s=float(tables.clean_m3_s[at]),
                due_m3_s=first.due_m3_s,
                days=first.days if clear[at] else 0.0,
                limit=first.limit if clear[at] else "clarity",
                runs=True,
            )
    return found


def smallest(tried: Tried, days: float, low: float, high: float) -> float | None:
    """Return the smallest factor whose first run lasts so long.

    Parameters
    ----------
    tried : callable
        First runs at some factors.
    days : float
        How long [day].
    low, high : float
        Factors to look between [-].

    Returns
    -------
    float or None
        The factor; None where there is none.

    Notes
    -----
    Ever finer grids, each side by side: a first run need not grow with the factor where a limit other than the flow
    ends it, so that the first factor that serves counts, not a change of sign.
    """
    factors = np.geomspace(low, high, _SIDE_BY_SIDE)
    factor = None
    while True:
        good = next((at for at, first in enumerate(tried(factors)) if first.lasts(days)), None)
        if good is None:
            return factor
        factor = float(factors[good])
        if good == 0 or factor <= factors[good - 1] * (1.0 + _CLOSE):
            return factor
        factors = np.geomspace(factors[good - 1], factor, _SIDE_BY_SIDE)


def longest(tried: Tried, low: float, high: float) -> Trial:
    """Return the longest first run.

    Parameters
    ----------
    tried : callable
        First runs at some factors.
    low, high : float
        Factors to look between [-].

    Returns
    -------
    Trial
        Of some factors between them; the largest clean flow where none runs.
    """
    return max(tried(np.geomspace(low, high, _SIDE_BY_SIDE)), key=lambda first: (first.days, first.clean_m3_s))


def entry_named(study: Study, option_id: str) -> Entry:
    """Return an option on its pump.

    Parameters
    ----------
    study : Study
        The study.
    option_id : str
        Its id, with ``@`` and its pump's name where there are several pumps; or its name.

    Returns
    -------
    Entry
        The option.

    Raises
    ------
    InputError
        If there is none.
    NoAnswerError
        If its pleats do not fit as the study has them.
    """
    entry = entry_by_id(study, option_id)
    for element, medium in zip(entry.option.stages, entry.media, strict=True):
        if medium.half_gap_m <= 0.0:
            raise NoAnswerError(
                f"the pleats of {element.name} do not fit as the study has them: {medium.face_m2:.3g} m2 of sheet fill "
                "the cartridge and leave no gap for water"
            )
    return entry


def time_limits(needs: Needs, option: Option) -> dict[str, float]:
    """Return the times that end an option's first run whatever the flow.

    Parameters
    ----------
    needs : Needs
        What the owner wants.
    option : Option
        The option.

    Returns
    -------
    dict of str to float
        By their keys [day].
    """
    limits = {"needs.discard_after": needs.discard_days}
    if any(stage.rinseable for stage in option.stages):
        limits["needs.rinse_at_least_every"] = needs.rinse_limit_days
    if not all(stage.rinseable for stage in option.stages):
        limits["needs.replace_at_least_every"] = needs.replace_limit_days
    return limits


def checked(what: str, value: float, unit: str) -> float:
    """Return what was asked for, if it is more than nothing.

    Parameters
    ----------
    what, value, unit : str, float, str
        What it is, how much, and its unit.

    Returns
    -------
    float
        The value.

    Raises
    ------
    InputError
        If it is not.
    """
    if not (isfinite(value) and value > 0.0):
        raise InputError(f"{what}: must be more than 0 {unit}, got {value:g}")
    return value
