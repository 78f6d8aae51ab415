"""What counted dips say of how many there are, on counted days and on all others."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import NamedTuple

import numpy as np

from filtration.base.defaults import PLACES, UNKNOWNS, model
from filtration.base.draws import Belief, log_spread
from filtration.service.pace import pace_of
from filtration.study.values import Study


class Count(NamedTuple):
    """Dips counted on a day."""

    day: date
    dips: float


def with_counts(prior: Belief, study: Study, counts: Sequence[Count]) -> Belief:
    """Return what is believed of the unknowns once dips were counted.

    Parameters
    ----------
    prior : Belief
        Before.
    study : Study
        The study; its months and days of the week say how many were to be expected on each day.
    counts : sequence of Count
        Each day once.

    Returns
    -------
    Belief
        The prior where none was counted.

    Notes
    -----
    The mean of the counts over what was to be expected is a reading of ``uses``, on a logarithm. Its error: how days
    differ, how few people there were (Poisson), and how those days stand for a year. Prior and reading are normal.
    """
    tub = study.tub
    unit = log_spread(UNKNOWNS[PLACES["uses"]], study.spreads)
    if not counts or tub.uses_per_day <= 0.0 or unit <= 0.0:
        return prior
    pace = pace_of(min(each.day for each in counts), tub.uses_by_month, tub.uses_by_weekday)
    first = min(each.day for each in counts)
    days = np.array([float((each.day - first).days) for each in counts])
    expected = tub.uses_per_day * float(pace.clock(days, np.ones_like(days), np.ones_like(days)).sum())
    dips = sum(each.dips for each in counts)
    seen = np.log((dips + 0.5) / (expected + 0.5)) / unit
    days_differ, of_a_year = model("readings.dips_day_to_day"), model("readings.dips_of_a_year")
    error = np.sqrt(days_differ**2 / len(counts) + 1.0 / max(dips, 1.0) + of_a_year**2) / unit
    shared = prior.covariance[:, PLACES["uses"]]
    gain = shared / (shared[PLACES["uses"]] + error**2)
    mean = prior.mean + gain * (seen - prior.mean[PLACES["uses"]])
    return replace(prior, mean=mean, covariance=prior.covariance - np.outer(gain, shared))
