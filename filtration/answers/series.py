"""How one option fares over time: its flow from new to replacement, its loss as it loads, fewer pump hours."""

from dataclasses import dataclass, replace

import numpy as np

from filtration.answers.figures import L_PER_H, Schedule, answer_of, entry_id, schedule_of, unmoved
from filtration.answers.ranking import Central
from filtration.answers.results import OptionAnswer
from filtration.base.arrays import Rows
from filtration.base.defaults import UNKNOWNS
from filtration.base.errors import NoAnswerError
from filtration.loading.assembly import Entry, entry_by_id, runner_of
from filtration.loading.run import Runner
from filtration.loading.site import left_pa, losses_pa
from filtration.service.events import What
from filtration.study.values import Study

_POINTS, _FEWEST_POINTS, _ALL_POINTS = 48, 4, 420


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Followed:
    """One option on one pump, followed from new, alone or among others.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    runner : Runner
        It, and maybe others, ready to run.
    row : int
        Its place there.
    schedule : Schedule or None
        Services, its own among them; None where its clean filter lacks the flow.
    place : int
        Its place there.
    answer : OptionAnswer
        Its figures.
    """

    study: Study
    entry: Entry
    runner: Runner
    row: int = 0
    schedule: Schedule | None
    place: int = 0
    answer: OptionAnswer

    def rows(self, number: int) -> Rows:
        """Return its place in the runner, so many times over."""
        return np.full(number, self.row, dtype=np.intp)


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
    return unmoved(study, entry) if entry.loop is None else _followed(study, entry).answer


def _followed(study: Study, entry: Entry) -> Followed:
    runner = runner_of(study, [entry])
    schedule = schedule_of(study, [entry], runner)
    answer = answer_of(study, entry, runner, 0, schedule)
    return Followed(study=study, entry=entry, runner=runner, schedule=schedule, answer=answer)


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
        Its services and figures.

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
    return _followed(study, entry)


def follow_among(central: Central, option_id: str) -> Followed:
    """Take up one option where the central case of all of them has followed it.

    Parameters
    ----------
    central : Central
        The central case.
    option_id : str
        The option's id.

    Returns
    -------
    Followed
        As ``follow_option`` works it out alone, but for rounding.

    Raises
    ------
    InputError
        If there is no such option.
    NoAnswerError
        If its pump moves no water.
    """
    study, schedule, driven = central.study, central.schedule, central.driven
    row = next((row for row, entry in enumerate(driven) if entry_id(study, entry) == option_id), None)
    if row is None or schedule is None:
        return follow_option(study, option_id)
    scheduled = np.flatnonzero(schedule.rows == row)
    return Followed(
        study=study,
        entry=driven[row],
        runner=schedule.runner,
        row=row,
        schedule=schedule if scheduled.size else None,
        place=int(scheduled[0]) if scheduled.size else 0,
        answer=next(answer for answer in central.options if answer.id == option_id),
    )


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
    schedule, place = followed.schedule, followed.place
    if schedule is None:
        return ()
    services = schedule.services
    lengths = services.days[services.counted[:, place], place]
    ends = np.cumsum(lengths)
    number = int(np.searchsorted(ends, followed.study.needs.discard_days * (1.0 - 1e-9))) + 1
    points = max(_FEWEST_POINTS, min(_POINTS, _ALL_POINTS // max(1, min(number, len(lengths)))))
    row = followed.rows(points)
    runs, start = [], 0.0
    for index, length in enumerate(lengths[:number].tolist()):
        at = np.linspace(0.0, length, points)
        used, extra = services.used_days[index, place], services.extra_cake_kg[index, place]
        state = schedule.runner.state_after(row, used, extra, at)
        flow = L_PER_H * schedule.runner.flow_of(row, state)
        done: What = "soak" if services.soaked[index, place].any() else "rinse"
        done = "replace" if services.replaced[index, place].any() else done
        runs.append(FlowRun(day=tuple((start + at).tolist()), flow_l_per_h=tuple(flow.tolist()), ends_with=done))
        start += length
    return tuple(runs)


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
    usual = next(unknown.spread for unknown in UNKNOWNS if unknown.key == "load_per_dip")
    factor = study.spreads.get("load_per_dip", usual) ** score
    sources = tuple(
        source if source.falls_in else replace(source, amount_kg_day=factor * source.amount_kg_day)
        for source in study.tub.sources
    )
    return flow_runs(follow_option(replace(study, tub=replace(study.tub, sources=sources)), option_id))


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
    """Return how the loss rises with the deposit over the first run.

    Parameters
    ----------
    followed : Followed
        The option.

    Returns
    -------
    Loading
        One point where the clean filter lacks the flow.
    """
    runner, schedule = followed.runner, followed.schedule
    days = float(schedule.first.days[followed.place]) if schedule is not None else 0.0
    at = np.linspace(0.0, days, _POINTS) if days > 0.0 else np.zeros(1)
    row = followed.rows(len(at))
    new = np.zeros((len(at), runner.site.trains.present.shape[1]))
    state = runner.state_after(row, new, new, at)
    flow = np.full(len(at), float(runner.clean.due_flow_m3_s[followed.row]))
    held = (state.layer_kg + state.cake_kg).sum(axis=-1) * followed.entry.option.housings_in_parallel
    return Loading(
        option=followed.answer.id,
        flow_l_per_h=float(flow[0]) * L_PER_H,
        deposit_g=tuple((1e3 * held).tolist()),
        loss_kpa=tuple((1e-3 * losses_pa(runner.site, row, state, flow).sum(axis=-1)).tolist()),
        left_kpa=1e-3 * float(left_pa(runner.site, row[:1], flow[:1])[0]),
    )


def with_pump_hours(study: Study, hours_per_day: float) -> Study:
    """Return a study whose pumps run so long a day.

    Parameters
    ----------
    study : Study
        The study.
    hours_per_day : float
        Hours [h].

    Returns
    -------
    Study
        The same otherwise.
    """
    return replace(study, pumps=tuple(replace(pump, hours_per_day=hours_per_day) for pump in study.pumps))
