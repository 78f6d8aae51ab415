"""What a forecast would refuse, asked when a row is written: by the same sorting."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from filtration.base.errors import InputError, NoAnswerError
from filtration.readings.learning import nothing_known
from filtration.readings.reading import Reading
from filtration.readings.record import Doubt
from filtration.readings.sorting import FITTED, record_of
from filtration.study.values import Fitted, Study

_WHATEVER_IS_FITTED = ("future", "twice", "too much flow", "too much pressure")


def would_refuse(study: Study, known: Sequence[Reading], new: Sequence[Reading], now: datetime) -> tuple[Doubt, ...]:
    """Return which of new rows a forecast would leave out beside those known already, and why.

    Parameters
    ----------
    study : Study
        The study.
    known, new : sequence of Reading
        The rows that are there, and those to come.
    now : datetime
        With its offset from UTC.

    Returns
    -------
    tuple of Doubt
        In order of time; where nothing says what is fitted, only what holds whatever is.

    Raises
    ------
    InputError
        If a row names an option that the study does not have.
    """
    fresh, before = {id(each) for each in new}, nothing_known()
    fitted = study.in_use is not None or any(each.kind in FITTED for each in (*known, *new))
    found: list[list[Doubt]] = []
    for there in [study] if fitted else _fitted_with_each(study, (*known, *new)):
        try:
            refused = record_of(there, (*known, *new), now, before).refused
        except NoAnswerError:
            return ()
        except InputError as error:
            if str(error).startswith("[in_use]"):  # the study's own fault, and not the rows'
                return ()
            raise
        found.append([each for each in refused if id(each.reading) in fresh])
    if fitted:
        return tuple(found[0])
    certain = [each for each in found[0] if each.why.kind in _WHATEVER_IS_FITTED]
    return tuple(each for each in certain if all(_is_in(each, others) for others in found[1:]))


def _is_in(doubt: Doubt, others: Sequence[Doubt]) -> bool:
    return any(each.reading is doubt.reading and each.why.kind == doubt.why.kind for each in others)


def _fitted_with_each(study: Study, rows: Sequence[Reading]) -> Iterator[Study]:
    """Yield the study with its first option fitted on each of its pumps, from before the first row on."""
    since = min(each.when for each in rows).date().isoformat()
    option = study.options[0]
    for pump in study.pumps:
        yield replace(study, in_use=Fitted(option=study.id_of(option, pump), since=since))
