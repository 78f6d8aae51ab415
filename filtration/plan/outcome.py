"""What an owner takes away: the answer as readings see it, and the dated plan, or why there is none."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from filtration.answers.ranking import compare
from filtration.answers.results import Comparison
from filtration.base.errors import NoAnswerError
from filtration.plan.dated import Plan
from filtration.plan.dated_plan import DRAWS, plan
from filtration.readings.next_service import forecast, noon_of
from filtration.readings.reading import Reading
from filtration.study.believed import with_belief
from filtration.study.values import Study


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """Answer and plan of one study.

    Parameters
    ----------
    compared : Comparison
        The study's own answer, which the plan was chosen from.
    answer : Comparison
        The answer as readings see it; the same where there are none.
    plan : Plan or None
        The plan.
    why : str
        Why there is no plan.
    rows : sequence of Reading
        The readings.
    """

    compared: Comparison
    answer: Comparison
    plan: Plan | None
    why: str
    rows: Sequence[Reading]

    @property
    def planned(self) -> Plan:
        """The plan, for what cannot do without; raises NoAnswerError where there is none."""
        if self.plan is None:
            raise NoAnswerError(self.why)
        return self.plan


def outcome_of(
    study: Study,
    *,
    option: str | None,
    today: date,
    rows: Sequence[Reading] | None = None,
    compared: Comparison | None = None,
    draws: int = 0,
    seed: int = 0,
    progress: Callable[[float, str], None] | None = None,
) -> Outcome:
    """Work out answer and plan together.

    Parameters
    ----------
    study : Study
        The study.
    option : str or None
        The option planned with; None for what readings speak of, else the best.
    today : date
        The first day.
    rows : sequence of Reading, optional
        What was read; left out, the study stands for itself.
    compared : Comparison, optional
        The study's own answer, if it is there already.
    draws, seed : int, optional
        Draws of the answer, and which; the plan draws as often as it always does.
    progress : callable, optional
        Called with the share done [-] and what is being done.

    Returns
    -------
    Outcome
        Answer and plan.

    Raises
    ------
    InputError
        If ``compare``, ``forecast`` or ``plan`` refuses what it is given.
    NoAnswerError
        If the readings do not say what is fitted.
    """
    tell = progress or (lambda _share, _what: None)
    ahead = None
    if rows is None:
        answer = compared = compared or compare(study, draws=draws, seed=seed, progress=progress)
    else:
        ahead = forecast(study, rows, today=noon_of(today), draws=DRAWS, seed=seed)
        compared = compared or compare(study)
        answer = compare(with_belief(study, ahead.belief), draws=draws, seed=seed, progress=progress)
    tell(0.9, "planning by the calendar")
    made, why = None, ""
    try:
        made = plan(study, option=option, today=today, forecast=ahead, answer=compared, draws=DRAWS, seed=seed)
    except NoAnswerError as error:
        why = str(error)
    tell(1.0, "done")
    return Outcome(compared=compared, answer=answer, plan=made, why=why, rows=rows or ())
