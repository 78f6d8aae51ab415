"""Which option to take: the one decision that every command, page, file and chart asks."""

from collections.abc import Sequence
from dataclasses import dataclass

from filtration.base.defaults import model

CASES, SEED = 256, 0
"""How many draws decide, and which, in every command, page and file."""

DRAWS = 1024
"""Draws that ranges come from where nobody asks for another number: an end of a range then moves by a tenth at most
from one seed to another, see docs/validation.md."""

PLAN_DRAWS = 2048
"""The same of a plan, whose days add up from service to service."""

_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """What the decision asks of one option.

    Parameters
    ----------
    id : str
        Its id.
    meets_needs : bool
        Whether it meets them in the central case.
    chance : float
        In how many of the cases in which some option meets them it does [-].
    year : float
        What a year costs, in the central case.
    own : float
        Of that, elements, rinsing, disposal and own time.
    set_price : float
        One set of its elements.
    """

    id: str
    meets_needs: bool
    chance: float
    year: float
    own: float
    set_price: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """Ids of the option to take, of the cheapest, and of those that are as good as the one to take.

    None where no option meets the needs.
    """

    advised: str | None
    cheapest: str | None
    equal: tuple[str, ...]


def decide(options: Sequence[Candidate]) -> Decision:
    """Return which option to take.

    Parameters
    ----------
    options : sequence of Candidate
        All of them, the cheapest first among those that cost the same.

    Returns
    -------
    Decision
        The cheapest of those that are about as sure as any that costs little more than the cheapest.

    Notes
    -----
    Little more is one set of the cheapest's elements, or a tenth of what its elements, rinsing, disposal and own time
    cost a year if that is more; about as sure is within one case of twenty; as good is as sure, and dearer than the
    one to take by at most half of that margin; assumptions. What costs the same with every option moves nothing.

    Examples
    --------
    >>> def option(name, year, chance):
    ...     return Candidate(id=name, meets_needs=True, chance=chance, year=year, own=30.0, set_price=18.0)
    >>> decide([option("50", 230.0, 0.45), option("20", 232.0, 0.64), option("10", 234.0, 0.68)])
    Decision(advised='20', cheapest='50', equal=('10',))
    """
    meeting = [each for each in options if each.meets_needs]
    if not meeting:
        return Decision(advised=None, cheapest=None, equal=())
    cheapest = min(meeting, key=lambda each: each.year)
    margin = max(cheapest.set_price, model("advice.dearer_share") * cheapest.own)
    near = [each for each in meeting if each.year - cheapest.year <= margin + _ROUNDING]
    least = max(each.chance for each in near) - model("advice.chance_less") - _ROUNDING
    sure = [each for each in meeting if each.chance >= least]
    taken = min((each for each in near if each in sure), key=lambda each: each.year)
    as_good = model("advice.equal_share") * margin + _ROUNDING
    equal = tuple(each.id for each in sure if each is not taken and each.year - taken.year <= as_good)
    return Decision(advised=taken.id, cheapest=cheapest.id, equal=equal)
