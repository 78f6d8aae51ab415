"""What would save most in a year, in words."""

import re
from math import isfinite

from filtration.answers.cheaper import Saving, Savings
from filtration.answers.results import OptionAnswer
from filtration.present.display import Display
from filtration.present.words.phrases import capital, days, distance, first_run, money, on_pump, service
from filtration.present.words.sentences import single
from filtration.study.values import Study

_SENTENCES, _CAUTIONS = single("savings"), single("savings_cautions")


def headline(found: Savings) -> str:
    """Return what a year costs as it is, or why nothing can be saved."""
    now, study = found.now, found.study
    if now is None:
        return _SENTENCES["none meets"]
    name, cost = on_pump(now.name, now.pump, study), now.cost_per_year.total
    if cost is None:
        return f"{name} never runs on this pump, so it has no cost."
    run, seen = f"{first_run(now)} to the first {service(now)}", f"{distance(now.worst_view_m)} to see"
    sentences = [f"{name} costs {money(cost, study.currency)} a year, with {run} and {seen} at the least."]
    if not found.changes:
        sentences.append(_SENTENCES["none"])
    if study.disinfectant == "kept" or study.shared_with_public:
        sentences.append(_SENTENCES["hours stay"])
    return " ".join(sentences)


def page_method() -> str:
    """Return how the figures of a page come about, and how to look further there."""
    return _SENTENCES["page method"]


def method(found: Savings) -> list[str]:
    """Return how the figures come about, and how to look further."""
    settings = [setting for each in found.changes for setting in each.settings]
    return [_SENTENCES["method"].format(setting=settings[0])] if settings else []


def lines(found: Savings) -> list[str]:
    """Return a line each, the largest first, then all together."""
    together = [found.together] if found.together else []
    return [line(each, found.now, found.study) for each in (*found.changes, *together) if found.now]


def line(saving: Saving, now: OptionAnswer, study: Study) -> str:
    """Return one saving: what is changed, what that saves, what it does to days and view, and what to mind.

    Parameters
    ----------
    saving : Saving
        The saving.
    now : OptionAnswer
        The option as it is.
    study : Study
        The study as it is.

    Returns
    -------
    str
        Two sentences.
    """
    then = saving.then
    saved = f"{money(saving.saves_per_year, study.currency)} a year less"
    run = _moved(first_run(now), first_run(then), "{} to the first " + service(then))
    seen = _moved(distance(now.worst_view_m), distance(then.worst_view_m), "{} to see")
    minded = cautions(saving, study)
    return f"{capital(what(saving, study))}: {saved}, {run}, {seen}.{f' {capital(minded)}.' if minded else ''}"


def _moved(before: str, after: str, told: str) -> str:
    """Return a figure in words, beside what it was where that reads otherwise."""
    return told.format(after) + (" as now" if before == after else f" instead of {before}")


def what(saving: Saving, study: Study) -> str:
    """Return what is changed, as an owner would say it."""
    figures = {"before": _said(saving.before), "after": _said(saving.after), "settings": ", ".join(saving.settings)}
    if saving.kind == "size":
        (name,) = re.findall(r"elements\.(.*)\.size", saving.key or "")
        price = float(saving.settings[-1].rpartition("=")[2])
        figures |= {"name": name, "price": money(price, study.currency)}
    return _SENTENCES[saving.kind].format(**figures)


def _said(value: float | str | None) -> str:
    """Return a value as one says it: 20 days for "20 day"."""
    if not isinstance(value, str):
        return f"{value:g}" if value is not None else ""
    amount = re.fullmatch(r"([0-9.]+) (day|week|month|year)", value)
    return f"{value}s" if amount and float(amount[1]) != 1.0 else value


def cautions(saving: Saving, study: Study) -> str:
    """Return what to mind with a saving, in one clause after the other; of all together what is not said above."""
    if saving.kind == "together":
        return ""
    rule = study.water_rule_days
    kinds = ("old water by rule" if kind == "old water" and isfinite(rule) else kind for kind in saving.cautions)
    return "; ".join(_CAUTIONS[kind].format(rule=days(rule)) for kind in kinds)


def in_brief(saving: Saving, study: Study) -> str:
    """Return what to mind with a saving where there is room for a few words; nothing where it needs none."""
    if saving.kind == "hours":
        return "; timer on an RCD (GFCI)"
    rule = study.water_rule_days
    return f"; public rule: {days(rule)}" if saving.kind == "water" and isfinite(rule) else ""


def rows(found: Savings, display: Display) -> list[dict[str, str]]:
    """Return a row for each saving in the units shown, the largest first, then all together."""
    together = [found.together] if found.together else []
    return [
        {
            "what": _SENTENCES["all"] if each.kind == "together" else capital(what(each, found.study)),
            "a year less": money(each.saves_per_year, found.study.currency),
            "first service": first_run(each.then),
            "visibility": distance(each.then.worst_view_m, display),
            "mind": cautions(each, found.study),
        }
        for each in (*found.changes, *together)
    ]
