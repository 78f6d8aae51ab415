"""What tubs of a club teach each other: fitted factors alone, pooled into the belief a further tub starts from."""

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import PLACES, UNKNOWNS
from filtration.base.draws import Belief, log_spread
from filtration.base.errors import InputError, shown
from filtration.readings.foretold import Forecast
from filtration.readings.learning import FITTED
from filtration.study.file import text_of_file

FORMAT = 1
KIND = "fitted factors"
TUB_ALONE = (
    "uses",
    "sum_k",
    "pump_exponent",
    "box_flow",
)  # its own dips, pump and pipes
SHARED = tuple(unknown for unknown in UNKNOWNS if unknown.key in FITTED and unknown.key not in TUB_ALONE)
_MOST_BYTES = 100_000
_MOST_FILES = 1000
_FIGURES = ("mean", "sd", "prior_mean", "prior_sd")
_FURTHEST, _WIDEST = 50.0, 10.0
_BETWEEN = 0.5  # [A] share of the default's variance that lies between tubs, before any tub has said
_COUNTS_AS = 2.0  # [A] tubs that this counts as
_SAYS_NOTHING = 1e-6  # of the precision of the prior


def share(forecast: Forecast) -> dict[str, Any]:
    """Return the fitted factors of a tub: no name, no date, no place, no reading.

    Parameters
    ----------
    forecast : Forecast
        What its readings taught.

    Returns
    -------
    dict
        Ready for JSON: of each factor that tubs share, mean and standard deviation after and before the readings, so
        that what the readings say can be told from what was believed before. They are those of the natural logarithm
        of a factor on the default; of the solid fraction at which dirt stays on the face, those of a score.
    """
    factors = {}
    for unknown in SHARED:
        place, unit = PLACES[unknown.key], log_spread(unknown, forecast.study.spreads)
        both = ((each.mean[place], each.covariance[place, place] ** 0.5) for each in (forecast.belief, forecast.prior))
        figures = (float(unit * figure) for pair in both for figure in pair)
        factors[unknown.key] = dict(zip(_FIGURES, figures, strict=True))
    return {"what": KIND, "format": FORMAT, "factors": factors}


def load_shared(path: str | Path) -> dict[str, Any]:
    """Read what a tub shares from a file.

    Parameters
    ----------
    path : str or path
        A file that ``forecast --share`` wrote, of at most 100 kB.

    Returns
    -------
    dict
        Checked.

    Raises
    ------
    InputError
        With every fault found, one line each.
    """
    file = Path(path)
    text = text_of_file(file, file.name, _MOST_BYTES)
    try:
        given = json.loads(text, parse_constant=float)
    except (json.JSONDecodeError, RecursionError):
        raise InputError(f"{file.name}: is no JSON; it should be a file that forecast --share wrote") from None
    return checked(given, file.name)


def checked(given: object, where: str) -> dict[str, Any]:
    """Return what a tub shares, as it came, if nothing is wrong with it; else every fault is told."""
    if not isinstance(given, dict) or given.get("what") != KIND:
        raise InputError(f"{where}: is no file of {KIND}; forecast --share writes one")
    if given.get("format") != FORMAT or isinstance(given.get("format"), bool):
        raise InputError(f"{where}, format: must be {FORMAT}, got {shown(given.get('format'))}")
    faults = [f"{where}: {shown(key)} is unknown" for key in given if key not in ("what", "format", "factors")]
    factors = given.get("factors")
    if not isinstance(factors, dict):
        raise InputError(*faults, f"{where}, factors: needs a table of factors, got {shown(factors)}")
    known = [unknown.key for unknown in SHARED]
    for key, figures in factors.items():
        if key not in known:
            faults.append(f"{where}, factors: {shown(key)} is none that tubs share")
        elif not isinstance(figures, dict) or set(figures) != set(_FIGURES):
            faults.append(f"{where}, {key}: needs {', '.join(_FIGURES)} and nothing else, got {shown(figures)}")
        else:
            faults += (f"{where}, {key} {fault}" for fault in _faults(figures))
    if not factors:
        faults.append(f"{where}, factors: needs at least one factor, got none")
    if faults:
        raise InputError(*faults)
    return given


def _faults(figures: Mapping[str, object]) -> Iterator[str]:
    for name, value in figures.items():
        low, high = (-_FURTHEST, _FURTHEST) if name.endswith("mean") else (0.0, _WIDEST)
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not (number and low <= float(str(value)) <= high):
            yield f"{name}: must be a number from {low:g} to {high:g}, got {shown(value)}"


def pooled(shared: Sequence[Mapping[str, Any]], spreads: Mapping[str, float]) -> Belief:
    """Pool what tubs share into the belief a further tub starts from.

    Parameters
    ----------
    shared : sequence of mapping
        As ``share`` returns them, one a tub.
    spreads : mapping of str to float
        Geometric spreads of the further tub's study, over the defaults.

    Returns
    -------
    Belief
        Diagonal. Dips against the study's own number, fittings and pump are each tub's own and keep their default.

    Raises
    ------
    InputError
        If there are more than a thousand tubs.

    Notes
    -----
    For each factor a normal model of two levels: a tub lies around the mean of its club by t, the mean of clubs around
    the default by what t leaves of the default's variance. The readings of a tub say y with standard error s: its
    belief after, freed of that before (precisions subtracted), so that nothing is counted twice. t^2 is estimated by
    moments (DerSimonian & Laird 1986) and mixed with half the default's variance, which counts as two tubs. The further
    tub's belief is the club's mean with t^2 and that mean's variance: never wider than the default, never narrower than
    the spread between tubs. A factor of which no tub says anything keeps its default.
    """
    if len(shared) > _MOST_FILES:
        raise InputError(f"--prior: at most {_MOST_FILES} files are pooled, got {len(shared)}")
    mean, variance = np.zeros(len(UNKNOWNS)), np.ones(len(UNKNOWNS))
    for unknown in SHARED:
        place, unit = PLACES[unknown.key], log_spread(unknown, spreads)
        said = [each["factors"][unknown.key] for each in shared if unknown.key in each["factors"]]
        messages = [message for figures in said if unit > 0.0 and (message := _message(figures, unit)) is not None]
        if messages:
            mean[place], variance[place] = _further_tub(*np.array(messages).T)
    return Belief(mean=mean, covariance=np.diag(variance))


def _message(figures: Mapping[str, float], unit: float) -> tuple[float, float] | None:
    """Return what readings alone say of a factor, and its variance, in standard deviations of the default."""
    after, before = max((figures["sd"] / unit) ** 2, 1e-12), (figures["prior_sd"] / unit) ** 2
    precision = 1.0 / after - 1.0 / before if before > 0.0 else 0.0
    if before <= 0.0 or precision <= _SAYS_NOTHING / before:
        return None
    says = (figures["mean"] / unit / after - figures["prior_mean"] / unit / before) / precision
    return says, 1.0 / precision


def _further_tub(says: Array, variance: Array) -> tuple[float, float]:
    """Return mean and variance of a further tub, in standard deviations of the default."""
    weight, tubs = 1.0 / variance, len(says)
    by_moments = 0.0
    if tubs > 1:
        excess = float((weight * (says - np.average(says, weights=weight)) ** 2).sum()) - (tubs - 1)
        by_moments = max(0.0, excess / float(weight.sum() - (weight**2).sum() / weight.sum()))
    between = min((_COUNTS_AS * _BETWEEN + (tubs - 1) * by_moments) / (_COUNTS_AS + tubs - 1), 1.0 - 1e-9)
    each = 1.0 / (between + variance)
    of_mean = 1.0 / (1.0 / (1.0 - between) + float(each.sum()))
    return of_mean * float((each * says).sum()), between + of_mean
