"""A dated plan on a terminal."""

from collections.abc import Sequence

from filtration.dated import Plan
from filtration.present import plan_words as words
from filtration.present.console import say


def print_plan(plan: Plan) -> None:
    """Print a plan in words: its first year day by day, then sums.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    say(f"{plan.study.name}\n")
    say(words.headline(plan))
    _list("The first year, with the days between which each is likely to fall", words.first_year(plan))
    _list("Year by year", words.years(plan))
    _list("Shopping for the first year", words.shopping(plan))
    say(f"\nRinsed or thrown away\n{words.break_even(plan)}")
    _list("From the long-run rate to this plan's average", words.gap(plan))
    _list("Notes", words.notes(plan))
    _list("At a service", words.cautions(plan))


def _list(heading: str, lines: Sequence[str]) -> None:
    if lines:
        say(f"\n{heading}")
    for line in lines:
        say(f"- {line}")
