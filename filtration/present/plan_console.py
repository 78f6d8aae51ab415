"""A dated plan on a terminal."""

from filtration.plan.dated import Plan
from filtration.present.console import say, say_list
from filtration.present.words import plan as words


def print_plan(plan: Plan) -> None:
    """Print a plan in words: its first year day by day, then sums.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    say(f"{plan.study.name}\n")
    say(words.headline(plan))
    say_list("The first year, with the days between which each is likely to fall", words.first_year(plan))
    say_list("Year by year", words.years(plan))
    say_list("Shopping for the first year", words.shopping(plan))
    say(f"\nRinsed or thrown away\n{words.break_even(plan)}")
    say_list("From the long-run rate to this plan's average", words.gap(plan))
    say_list("Notes", words.notes(plan))
    say_list("At a service", words.cautions(plan))
