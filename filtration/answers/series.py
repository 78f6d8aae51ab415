"""How options fare: flow from new to replacement, loss as they load, pressure drop against rating and dirt."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from filtration.answers.curves import KINDS_SWEPT, RATINGS_UM, USUAL_SIZE, rated, size_of
from filtration.answers.figures import L_PER_H, Followed, answer_of, entry_id, follow, unmoved
from filtration.answers.ranking import Central
from filtration.answers.results import OptionAnswer
from filtration.base.defaults import PLACES, UNKNOWNS
from filtration.base.errors import NoAnswerError
from filtration.loading.assembly import entry_by_id
from filtration.service.events import What
from filtration.service.flow_over_runs import run_flows
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
    (runs,) = run_flows([followed.life], [number], [points])
    return tuple(
        FlowRun(
            day=tuple(run.day.tolist()),
            flow_l_per_h=tuple((L_PER_H * run.flow_m3_s).tolist()),
            ends_with=cast("What", run.ends_with),
        )
        for run in runs
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


# ---- pressure drop at one flow, against rating and dirt


@dataclass(frozen=True, slots=True, kw_only=True)
class DropCurve:
    """One kind and size against the rating.

    Parameters
    ----------
    kind, size : str
        Kind of element, and its common size.
    rating_um : tuple of float
        Ratings, rising [um].
    loadings : tuple of Loading
        Of the element of each rating.
    """

    kind: str
    size: str
    rating_um: tuple[float, ...]
    loadings: tuple[Loading, ...]

    def losses_kpa(self, held_g: float) -> tuple[float | None, ...]:
        """Return the loss at each rating with so much dirt held; None where that chokes it [kPa]."""
        return tuple(loss_with(loading, held_g) for loading in self.loadings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drops:
    """Pressure drop at one flow on one pump.

    Parameters
    ----------
    option, pump : str
        Id of the option whose size and pump are taken; the pump's name.
    flow_l_per_h, left_kpa : float
        The flow, the least wanted with that option, and what the pump leaves for a filter at it.
    curves : tuple of DropCurve
        A curve a kind.
    own : mapping of str to Loading
        Options of the study on that pump, by id.
    """

    option: str
    pump: str
    flow_l_per_h: float
    left_kpa: float
    curves: tuple[DropCurve, ...]
    own: dict[str, Loading]


def loss_with(loading: Loading, held_g: float) -> float | None:
    """Return the loss with so much dirt held; None where that chokes the option [kPa]."""
    if held_g > loading.deposit_g[-1]:
        return None
    return float(np.interp(held_g, loading.deposit_g, loading.loss_kpa))


def pressure_drops(
    study: Study, own: Sequence[Followed], option: str, *, ratings: Sequence[float] = RATINGS_UM
) -> Drops:
    """Work out the pressure drop of kinds and of a study's options at the least flow that one of them is to give.

    Parameters
    ----------
    study : Study
        The study.
    own : sequence of Followed
        Its options in the central case.
    option : str
        Id of the option whose size, pump and flow are taken; of those followed.
    ratings : sequence of float, optional
        Micron ratings of the curves [um].

    Returns
    -------
    Drops
        The elements of the curves are those of ``sweep``.

    Raises
    ------
    NoAnswerError
        If the pump moves no water through it.
    """
    followed = {entry_id(study, each.entry): each for each in own}
    at = followed.get(option)
    if at is None:
        raise NoAnswerError("the pump moves no water through it, so it takes no pressure")
    flow, pump, chosen = at.wanted_m3_s, at.entry.pump, at.entry.option
    size = next(filter(None, map(size_of, chosen.stages)), USUAL_SIZE)
    texts = [f"{rating} um" for rating in ratings]
    lines, elements, entries = rated(study, chosen, pump, KINDS_SWEPT, texts, [size])
    found = iter(follow(study, entries))
    curves = [
        DropCurve(
            kind=kind,
            size=of_size,
            rating_um=tuple(round(1e6 * element.rating_m, 6) for element in of_line),
            loadings=tuple(loading_at(next(found), flow) for _ in of_line),
        )
        for (kind, of_size, _), of_line in zip(lines, elements, strict=True)
    ]
    return Drops(
        option=option,
        pump=pump.name,
        flow_l_per_h=flow * L_PER_H,
        left_kpa=1e-3 * float(at.case.loop.left_pa(np.array([flow]))[0]),
        curves=tuple(curves),
        own={name: loading_at(each, flow) for name, each in followed.items() if each.entry.pump is pump},
    )
