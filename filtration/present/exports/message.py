"""The answer in a few lines to send."""

from filtration.answers.results import Comparison
from filtration.plan.dated import Plan
from filtration.present.words import answer as words
from filtration.present.words import plan as plan_words
from filtration.present.words import short
from filtration.present.words.in_units import as_written
from filtration.present.words.phrases import CAUTIONS

_NEXT = 3


def write_message(answer: Comparison, plan: Plan | None) -> str:
    """Return the short answer without markup, and the next services; of an option asked for, its plan in words."""
    name = " ".join(answer.study.name.split())
    if plan is None:
        return f"{name}\n\n{as_written(words.headline(answer), answer.study)}\n\n{CAUTIONS['clear']}\n"
    taken = answer.advised
    told = (
        short.laid_out(answer)
        if taken is not None and plan.option == taken.id
        else f"{name}\n\n{plan_words.headline(plan)}"
    )
    ahead = plan_words.services(plan)[:_NEXT]
    dates = (
        ["", "Next:", *(f"- {plan_words.when(event)}: {plan_words.what(event)}" for event in ahead)] if ahead else []
    )
    return "\n".join([told, *dates, "", CAUTIONS["clear"], ""])
