"""Many readings of one day taken together: of an afternoon's thousand flows no more is known than their mean."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import hypot, sqrt

import numpy as np

from filtration.readings.fitting import weights_of
from filtration.readings.record import MODEL, Observation

MANY = 4
"""Readings of a day and kind, between two services, beyond which their mean stands for them."""

_MOST, _LONGEST_DAYS = 500, 64  # observations, beyond which those of ever longer spans are taken together
_TURNS = 20  # of weights and mean; far fewer change nothing any more

Seen = Sequence[Observation]


def taken_together(stretches: Sequence[Seen]) -> list[list[Observation]]:
    """Return what the observations of each stretch from one service to the next are worth, in order of time.

    Parameters
    ----------
    stretches : sequence of sequence of Observation
        Each in order of time.

    Returns
    -------
    list of list of Observation
        Of one day and kind, those that are few each by itself, many as one: their mean, at their mean time. Where days
        are very many, those of two, four and more days together.

    Notes
    -----
    What the model is off stays the same over a day, so that it counts once however often one reads: n readings of one
    day are off by it and by their own error over sqrt(n), whether they stand by themselves or for each other. A reading
    far from the others of its day counts for little, as in ``fit``.
    """
    found, days = [_by_span(seen, 1, MANY) for seen in stretches], 1
    while sum(map(len, found)) > _MOST and days <= _LONGEST_DAYS:
        found, days = [_by_span(seen, days, 1) for seen in stretches], 2 * days
    return found


def _by_span(seen: Seen, days: int, few: int) -> list[Observation]:
    spans = defaultdict[tuple[object, ...], list[Observation]](list)
    for each in seen:
        spans[each.reading.when.toordinal() // days, each.reading.kind, each.what, each.bucket_m3].append(each)
    return sorted((one for span in spans.values() for one in _of_a_span(span, few)), key=lambda one: one.day)


def _of_a_span(seen: Seen, few: int) -> Iterator[Observation]:
    spread = np.array([each.spread for each in seen])
    own = np.sqrt(spread**2 - MODEL**2)
    if len(seen) <= few:
        for each, off in zip(seen, own.tolist(), strict=True):
            yield replace(each, spread=hypot(off, MODEL * sqrt(len(seen)))) if len(seen) > 1 else each
        return
    value = np.array([each.value for each in seen])
    mean = float(np.median(value))
    for _ in range(_TURNS):
        counts = weights_of((value / mean - 1.0) / own) / own**2
        mean = float(counts @ value / counts.sum())
    nearest = seen[int(np.abs(value - mean).argmin())]
    day, spread_of_mean = float(np.mean([each.day for each in seen])), hypot(MODEL, 1.0 / sqrt(counts.sum()))
    yield replace(nearest, day=day, value=mean, spread=spread_of_mean, rows=len(seen))
