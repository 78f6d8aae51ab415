"""How one option fares over time: its flow from new to replacement, its loss as it loads."""

from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from filtration.answers.figures import L_PER_H, Followed, answer_of, entry_id, follow, run_flows, unmoved
from filtration.answers.ranking import Central
from filtration.answers.results import OptionAnswer
from filtration.base.defaults import PLACES, UNKNOWNS
from filtration.base.errors import NoAnswerError
from filtration.loading.assembly import entry_by_id
from filtration.service.events import What
from filtration.study.values import Study

_POINTS, _FEWEST_POINTS, _ALL_POINTS = 48, 4, 420


def answer_alone(study: Study, option_id: str) -> OptionAnswer:
    """Return the figures of one option without looking at the others.

    Parameters
    ----------
    study : Study
        The study.
    option_id : str
        The option's id, with ``@`` and the pump's name where several are compared.

    Returns
    -------
    OptionAnswer
        Its figures, the part of the cost that the choice changes left open.

    Raises
    ------
    InputError
        If there is no such option, or a maker's figures are impossible.
    """
    entry = entry_by_id(study, option_id)
    return unmoved(study, entry) if entry.loop is None else answer_of(*follow(study, [entry]))


def follow_option(study: Study, option_id: str) -> Followed:
    """Follow one option from new.

    Parameters
    ----------
    study : Study
        The study.
    option_id : str
        The option's id, with ``@`` and the pump's name where several are compared.

    Returns
    -------
    Followed
        Its first run and its life.

    Raises
    ------
    InputError
        If there is no such option, or a maker's figures are impossible.
    NoAnswerError
        If its pump moves no water.
    """
    entry = entry_by_id(study, option_id)
    if entry.loop is None:
        raise NoAnswerError(f"the pump moves no water through {entry.option.name}")
    return follow(study, [entry])[0]


def follow_among(central: Central, option_id: str) -> Followed:
    """Take up one option where the central case of all of them has followed it, see ``follow_option``."""
    study = central.study
    known = {entry_id(study, of.entry): of for of in central.followed}
    return known[option_id] if option_id in known else follow_option(study, option_id)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowRun:
    """The flow from one service to the next.

    Parameters
    ----------
    day, flow_l_per_h : tuple of float
        Days since the option was new, and the flow then.
    ends_with : {"rinse", "soak", "replace"}
        The service at its end; a soak comes with a rinse.
    """

    day: tuple[float, ...]
    flow_l_per_h: tuple[float, ...]
    ends_with: What


def flow_runs(followed: Followed) -> tuple[FlowRun, ...]:
    """Return the flow from new until every stage is new again.

    Parameters
    ----------
    followed : Followed
        The option.

    Returns
    -------
    tuple of FlowRun
        In order; a sequence that never renews itself ends with its oldest allowed age. Empty where the clean filter
        lacks the flow.
    """
    if followed.life is None:
        return ()
    services = followed.life.services
    ends = services.day[services.counted[:, 0], 0]
    number = int(np.searchsorted(ends, followed.study.needs.discard_days * (1.0 - 1e-9))) + 1
    points = max(_FEWEST_POINTS, min(_POINTS, _ALL_POINTS // max(1, min(number, len(ends)))))
    return tuple(
        FlowRun(day=tuple(run.day), flow_l_per_h=tuple(run.flow_l_per_h), ends_with=cast("What", run.ends_with))
        for run in run_flows(followed.life, number, points)
    )


def flow_runs_at(study: Study, option_id: str, score: float) -> tuple[FlowRun, ...]:
    """Return the flow from new until replacement where bathers bring more dirt, or less, than assumed.

    Parameters
    ----------
    study : Study
        The study.
    option_id : str
        The option's id.
    score : float
        How many standard deviations of its spread that dirt lies above the default [-].

    Returns
    -------
    tuple of FlowRun
        As ``flow_runs``.
    """
    factor = study.spreads.get("load_per_dip", UNKNOWNS[PLACES["load_per_dip"]].spread) ** score
    times = {True: 1.0, False: factor}  # by whether it falls in
    sources = (replace(each, amount_kg_day=times[each.falls_in] * each.amount_kg_day) for each in study.tub.sources)
    return flow_runs(follow_option(replace(study, tub=replace(study.tub, sources=tuple(sources))), option_id))


@dataclass(frozen=True, slots=True, kw_only=True)
class Loading:
    """Loss of the whole filter at the flow when due, against what it holds, over the first run.

    Parameters
    ----------
    option : str
        Its id.
    flow_l_per_h : float
        The flow the losses belong to.
    deposit_g, loss_kpa : tuple of float
        Dry deposit in all housings, and the loss.
    left_kpa : float
        What the pump leaves for the filter at that flow; the run ends where the loss reaches it.
    """

    option: str
    flow_l_per_h: float
    deposit_g: tuple[float, ...]
    loss_kpa: tuple[float, ...]
    left_kpa: float


def loading_of(followed: Followed) -> Loading:
    """Return how the loss rises with the deposit over the first run; one point where the flow is lacking."""
    return _loaded(followed, followed.wanted_m3_s, followed.first.days if followed.first else 0.0)


def loading_at(followed: Followed, flow_m3_s: float) -> Loading:
    """Return how the loss at a flow rises with the deposit, from new until it alone would choke the option.

    Parameters
    ----------
    followed : Followed
        The option.
    flow_m3_s : float
        The flow [m3/s].

    Returns
    -------
    Loading
        One point where the clean filter lacks the flow wanted.
    """
    ends = [float(table.days[-1, 0]) for table in followed.life.tables.tables] if followed.life else [0.0]
    return _loaded(followed, flow_m3_s, min(ends))


def _loaded(followed: Followed, flow: float, days: float) -> Loading:
    case = followed.case
    stages, held_kg = case.clean, np.zeros(1)
    if followed.life is not None:
        tables = followed.life.tables.of(np.zeros(_POINTS, dtype=np.intp))
        held = tables.deposits(tables.new, tables.new, np.linspace(0.0, days, _POINTS), tables.all)
        stages, case = tables.resistances(held), tables.case
        held_kg = np.sum([each.layer_kg + each.cake_kg for each in held], axis=0)
    losses = np.sum(case.losses_pa(stages, np.full(held_kg.shape, flow)), axis=0)
    housings = followed.entry.option.housings_in_parallel
    return Loading(
        option=entry_id(followed.study, followed.entry),
        flow_l_per_h=flow * L_PER_H,
        deposit_g=tuple((1e3 * housings * held_kg).tolist()),
        loss_kpa=tuple((1e-3 * losses).tolist()),
        left_kpa=1e-3 * float(followed.case.loop.left_pa(np.array([flow]))[0]),
    )
