"""The answer in a few lines to send."""

from filtration.answers.results import Comparison
from filtration.plan.dated import Plan
from filtration.present.words import answer as words
from filtration.present.words import plan as plan_words
from filtration.present.words.exports import flow_words
from filtration.present.words.phrases import CAUTIONS

_NEXT = 3


def write_message(answer: Comparison, plan: Plan | None) -> str:
    """Return a few short paragraphs without markup: of the plan, where there is none of the answer."""
    name = " ".join(answer.study.name.split())
    if plan is None:
        return f"{name}\n\n{words.headline(answer)}\n\n{CAUTIONS['clear']}\n"
    option, ahead = answer.option(plan.option), plan_words.services(plan)[:_NEXT]
    lines = [name, "", plan_words.headline(plan)]
    if option.due_flow_l_per_h:
        lines += ["", f"New: {flow_words(option.clean_flow_l_per_h)}.", f"Due: {flow_words(option.due_flow_l_per_h)}."]
    if ahead:
        lines += ["", "Next:", *(f"- {plan_words.when(event)}: {plan_words.what(event)}" for event in ahead)]
    return "\n".join([*lines, "", CAUTIONS["clear"], ""])
