"""When the option in use is due for its next service, and how sure that is; d draws, s stages."""

from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from functools import partial
from itertools import count
from math import exp

import numpy as np

from filtration.answers.decision import DRAWS
from filtration.answers.drivers import TWICE, narrowed, tube_spread
from filtration.answers.figures import L_PER_H
from filtration.answers.ranking import Progress
from filtration.answers.results import Measure
from filtration.base.arrays import Array
from filtration.base.budget import MOST_DRAWN_STEPS, MOST_STEPS, afford
from filtration.base.defaults import UNKNOWNS
from filtration.base.draws import TOLD_SCORES, Belief, central_factors, check_draws, factors_of, log_spread, tenths
from filtration.base.errors import InputError
from filtration.readings.advising import Range, advice_of
from filtration.readings.foretold import Estimate, Forecast, NextService, Serviced
from filtration.readings.learning import FITTED, doubts_of, findings, learn, nothing_known
from filtration.readings.outlook import Outlook, outlook_of
from filtration.readings.reading import Reading
from filtration.readings.record import MODEL, Record
from filtration.readings.sorting import record_of
from filtration.study.values import Study

_FEWEST_DRAWS, _MOST_DRAWS = 64, 16384
_LEAST_CASES = 32
_LOOKS = 20.0  # at the readings, after which most fits are done
_STEPS = "readings, services and weeks of counted dips"

_LEAST_DAYS = 1.0  # from 10 to 90 % of the day of a service


def noon_of(day: date) -> datetime:
    """Return the noon of a day on this machine's clock, at which a forecast for that day stands."""
    return datetime.combine(day, time(12)).astimezone()


def forecast(
    study: Study,
    readings: Sequence[Reading],
    *,
    today: datetime | None = None,
    prior: Belief | None = None,
    draws: int = DRAWS,
    seed: int = 0,
    progress: Progress | None = None,
) -> Forecast:
    """Say when the option in use is due for its next service, from its owner's readings.

    Parameters
    ----------
    study : Study
        The study, whose ``[in_use]`` says what is fitted, unless a replace row does.
    readings : sequence of Reading
        The rows of its logbook.
    today : datetime, optional
        Now, with its offset from UTC; left out, this machine's clock.
    prior : Belief, optional
        What is believed before the readings, such as what a club shares; left out, the study's spreads.
    draws, seed : int, optional
        How many, a power of two, and which.
    progress : callable, optional
        Called with the share done [-] and what is being done.

    Returns
    -------
    Forecast
        Without readings, what the prior says.

    Raises
    ------
    InputError
        If nothing says what is fitted, a row names an option the study lacks, ``today`` has no offset, ``draws`` is no
        power of two from 64 to 16,384, or the rows ask for more than ``base.budget`` has.
    NoAnswerError
        If the pump cannot drive the loop.
    """
    check_draws(draws, _FEWEST_DRAWS, _MOST_DRAWS)
    now = today or datetime.now().astimezone()
    if now.tzinfo is None:
        raise InputError(f"today: needs an offset from UTC, got {now.isoformat()}")
    before = prior or nothing_known()
    record = record_of(study, readings, now, before)
    afford(record.steps, MOST_STEPS, _STEPS, "leave out the oldest")
    afford(draws * record.steps, MOST_DRAWN_STEPS, f"draws times {_STEPS}", "take fewer draws")
    tell = progress or (lambda _share, _what: None)
    looks = count(1)
    learnt = learn(record, before, lambda: tell(0.8 * (1.0 - exp(-next(looks) / _LOOKS)), "fitting your readings"))
    scores, return_factor = learnt.drawn(draws, seed)
    tell(0.8, "looking ahead")
    outlook = outlook_of(record, factors_of(scores, record.study.spreads), now, return_factor)
    life = record.lives[-1]
    unread = not record.observations and not record.counts and prior is None
    central = outlook_of(record, central_factors(), now) if unread else None
    measure = _measure(record, outlook)
    due_days = outlook.due_day if central is None else outlook.among(outlook.due_day)
    return Forecast(
        study=study,
        option=life.entry.option.name,
        pump=life.entry.pump.name,
        fitted_on=life.new.date(),
        today=now,
        prior=before,
        belief=learnt.belief,
        next_service=_next_service(record, outlook, central, due_days),
        rinses_left=_range(outlook, central, _rinses_left) if outlook.rinses_left is not None else None,
        flow_today_l_per_h=_range(outlook, central, lambda seen: L_PER_H * seen.flow_m3_s),
        wanted_l_per_h=L_PER_H * float(np.median(outlook.wanted_m3_s)),
        chance_clean_lacks=float(outlook.lacks.mean()),
        fitted=_fitted(learnt.belief, before, study),
        dirt=_dirt(learnt.belief, before, study),
        readings_used=sum(each.rows for each in record.observations),
        refused=record.refused,
        doubted=doubts_of(record, learnt),
        diagnosis=findings(record, learnt),
        notes=record.notes,
        measure=measure,
        services=_services(record),
        water_changed_on=record.water_changed.date() if record.water_changed else None,
        stock=record.stock,
        advice=advice_of(record, learnt.belief, outlook, due_days, partial(_range, outlook, central), measure),
        draws=draws,
        seed=seed,
        record=record,
        learnt=learnt,
    )


def _range(outlook: Outlook, central: Outlook | None, figure: Callable[[Outlook], Array]) -> Range:
    """Return 10, 50 and 90 % of a figure (d,), of a tub that was read as it is, whether it meets the needs or not.

    Where nothing was read, the range is that of the cases that meet the needs, about the central case, as in an answer.
    """
    if central is None:
        low, middle, high = tenths(figure(outlook)).tolist()
        return low, middle, high
    low, _, high = tenths(outlook.among(figure(outlook))).tolist()
    middle = float(figure(central)[0])
    return min(low, middle), middle, max(middle, high)


def _rinses_left(outlook: Outlook) -> Array:
    return np.zeros_like(outlook.due_day) if outlook.rinses_left is None else outlook.rinses_left


def _next_service(record: Record, outlook: Outlook, central: Outlook | None, due_days: Array) -> NextService:
    """Return the next service; its middle is that of the central case where nothing was read."""
    new = record.lives[-1].new
    low, middle, high = _range(outlook, central, lambda seen: seen.due_day)
    if low < high < low + _LEAST_DAYS:  # no reading tells the hour; a day that the calendar sets is known
        latest = high if outlook.governed_by == "time limit" else middle + 0.5 * _LEAST_DAYS
        low, high = latest - _LEAST_DAYS, latest
    p10, p50, p90 = ((new + timedelta(days=day)).date() for day in (low, middle, high))
    in_days: Range = (low - outlook.day, middle - outlook.day, high - outlook.day)
    due = float((due_days <= outlook.day).mean())
    what, by = outlook.what, outlook.governed_by
    return NextService(what=what, p10=p10, p50=p50, p90=p90, in_days=in_days, governed_by=by, due_already=due)


def _services(record: Record) -> tuple[Serviced, ...]:
    """Return the services of the option in use that were written down, each day once."""
    life = record.lives[-1]
    days: dict[date, bool] = {}
    for stretch in life.stretches:
        if stretch.service is not None:
            on = (life.new + timedelta(days=stretch.service.day)).date()
            days[on] = days.get(on, False) or stretch.service.soaked
    return tuple(Serviced(on=on, soaked=soaked) for on, soaked in sorted(days.items()))


def _fitted(belief: Belief, prior: Belief, study: Study) -> tuple[Estimate, ...]:
    """Return what each unknown that touches the flow is believed to be, after and before the readings."""
    at = np.array(TOLD_SCORES)[:, None]
    after, before = (
        factors_of(each.mean + at * np.sqrt(np.diag(each.covariance)), study.spreads) for each in (belief, prior)
    )
    return tuple(_estimate(key, getattr(after, key), getattr(before, key)) for key in FITTED)


def _dirt(belief: Belief, prior: Belief, study: Study) -> Estimate:
    """Return what the dirt that bathers bring a day is believed to be, over that assumed, after and before."""
    units = [log_spread(each, study.spreads) if each.key in ("load_per_dip", "uses") else 0.0 for each in UNKNOWNS]
    unit, at = np.array(units), np.array(TOLD_SCORES)
    after, before = (np.exp(unit @ each.mean + at * np.sqrt(unit @ each.covariance @ unit)) for each in (belief, prior))
    return _estimate("dirt", after, before)


def _estimate(unknown: str, after: Array, before: Array) -> Estimate:
    (p10, median, p90), (prior_p10, _, prior_p90) = after.tolist(), before.tolist()
    return Estimate(unknown=unknown, median=median, p10=p10, p90=p90, prior_p10=prior_p10, prior_p90=prior_p90)


def _measure(record: Record, outlook: Outlook) -> Measure | None:
    """Return the reading that would narrow the days to go most, if taken now.

    The draws are weighed by how well each explains a reading made in one of them, as in ``influence``. What a tube says
    of the element takes a reading without element besides; once that is there, one with the element is enough, and
    where only those are there, one without may tell more.
    """
    days = outlook.due_day - outlook.day
    runs = days > 0.0
    if runs.sum() < max(_LEAST_CASES, len(days) // 2):
        return None
    moments = (outlook.flow_m3_s, outlook.loss_pa, outlook.tube_pa, outlook.bare_tube_pa)
    flow, loss, tube, bare = (each[runs] for each in moments)
    kinds = [("bucket", np.log(flow), np.full(flow.shape, np.hypot(record.study.hand.bucket, MODEL)))]
    seen = {each.what for each in record.observations}
    if "bare loss" in seen:
        kinds.append(("clear tube", np.log(tube), np.hypot(MODEL, tube_spread(tube))))
    elif record.lives[-1].back is not None:
        kinds.append((TWICE, np.log(loss), np.hypot(MODEL, tube_spread(tube, tube - loss) * tube / loss)))
        if "loss" in seen:
            kinds.append(("clear tube without element", np.log(bare), np.hypot(MODEL, tube_spread(bare))))
    found = [narrowed(with_what, 0.0, days[runs], *each) for with_what, *each in kinds]
    return min(found, key=lambda each: each.width_share)
