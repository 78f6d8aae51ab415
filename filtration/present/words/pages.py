"""What the pages say: their names, what they are for, how it works, and the answer in twenty dots."""

import re
from collections.abc import Mapping
from typing import Literal

from filtration.answers.results import Comparison
from filtration.present.words.odds import of_twenty
from filtration.present.words.phrases import title
from filtration.present.words.sentences import single

Verdict = Literal["crisp", "soft", "gone"]

Told = tuple[str, str]

TITLE = "Tub filtration"

PAGES: Mapping[str, Told] = {
    "your_tub": ("Your tub", "What is in the water, on the pump's box and in the hose. The rest can wait."),
    "which_filter": ("Which filter", "Every filter you listed, on your pump, and the one to take."),
    "what_if": ("What if", "Move one thing and see what it does. Nothing is kept until you say so."),
    "flow_pressure": ("Flow and pressure", "What the pump still moves as the filter fills, and for how long."),
    "money": ("Money", "What the choice costs you, apart from what you would pay anyway."),
    "plan_ahead": ("Plan", "What to do and to buy on which day; as a calendar, a list, a report to take along."),
    "clear_water": ("Clear water", "How far one sees, from fresh water to the next change."),
    "your_readings": ("Your readings", "Buckets timed and rinses done; from them, the day of the next service."),
    "how_it_works": ("How it works", "What is computed, what is assumed, and how far to trust it."),
}


def verdict(seen_m: float, depth_m: float) -> Verdict:
    """Return how one sees the bottom of water of a depth: gone where one does not see so far.

    Examples
    --------
    >>> verdict(3.0, 0.7), verdict(2.0, 0.7), verdict(0.6, 0.7)
    ('crisp', 'soft', 'gone')
    """
    if seen_m < depth_m:
        return "gone"
    return "crisp" if seen_m >= CRISP_DEPTHS * depth_m else "soft"


CRISP_DEPTHS = 4.0
VERDICTS: Mapping[Verdict, str] = {"crisp": "bottom crisp", "soft": "bottom soft", "gone": "bottom gone"}


def dots(comparison: Comparison) -> tuple[str, str]:
    """Return the answer as twenty signs, and what they mean; nothing of either for the central case alone."""
    option = comparison.spoken_of
    if comparison.odds is None or option.sureness is None:
        return "", ""
    meets, best = option.sureness.chance_of_meeting_needs, option.sureness.chance_of_being_best
    does = round(20.0 * meets)
    first = min(round(20.0 * best), does)
    signs = " ".join("●" * first + "◐" * (does - first) + "○" * (20 - does))
    told = (
        f"Of 20 equally likely cases {title(option, comparison)} ● does the job and costs least in {of_twenty(best)}, "
        f"● or ◐ does the job in {of_twenty(meets)}, ○ does not in the rest."
    )
    return signs, told


SHORT_REASONS: Mapping[str, Told] = {
    "flow": ("too little", "flow"),
    "clarity": ("too dull", "water"),
    "haze": ("too old", "water"),
    "short run": ("too short", "a run"),
    "does not fit": ("does", "not fit"),
    "no flow": ("no flow", "at all"),
}

WORKS = single("works")
CHECKED = (
    "Published cases, from permeability to life-cycle cost, can be recomputed here; a second, slow program solves "
    "the same equations another way and agrees to about a tenth of a per cent; 35 measured loading runs of a filter "
    "mat, in air, follow the loading law. None of that is your tub: dirt a bather brings is known to a factor of two "
    "at best, and one timed bucket is worth more than all of it."
)


def file_stem(name: str) -> str:
    """Return a tub's name as the beginning of a file's: letters, digits and hyphens.

    Examples
    --------
    >>> file_stem("Harbour freezer tub"), file_stem("../=x"), file_stem("水")
    ('harbour-freezer-tub', 'x', '水')
    """
    return "-".join(re.findall(r"\w+", name.lower()))[:60] or "tub"


def faulty(count: int, missing: int) -> str:
    """Return that there is no answer yet, as so many things do not fit, some of them for being missing.

    Examples
    --------
    >>> faulty(8, 8)
    '8 things about this tub are still to fill in.'
    >>> faulty(1, 0)
    'One thing about this tub does not fit yet. See beside the fields.'
    >>> faulty(3, 1)
    '1 thing about this tub is still to fill in, 2 do not fit yet. See beside the fields.'
    """
    unfit = count - missing
    lacks = f"{'is' if missing == 1 else 'are'} still to fill in"
    does = f"{'does' if unfit == 1 else 'do'} not fit yet. See beside the fields."
    if missing and unfit:
        return f"{_things(missing, '1')} {lacks}, {unfit} {does}"
    return f"{_things(unfit)} {does}" if unfit else f"{_things(missing)} {lacks}."


def _things(count: int, one: str = "One") -> str:
    return f"{one} thing about this tub" if count == 1 else f"{count} things about this tub"
