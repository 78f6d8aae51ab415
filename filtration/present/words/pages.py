"""What the pages say: their names, what they are for, how it works, and the answer in twenty dots."""

import re
from collections.abc import Mapping
from typing import Literal

from filtration.answers.results import Comparison
from filtration.present.words.odds import of_twenty
from filtration.present.words.phrases import title
from filtration.present.words.sentences import named, single

Verdict = Literal["crisp", "soft", "gone"]

TITLE = "Tub filtration"

PAGES, SHORT_REASONS, WORKS, ENDS = named("pages"), named("short_reasons"), single("works"), single("ends")
CHECKED = single("asides")["how far to trust"]
FAULTS = single("faults")


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
    """Return the answer as twenty signs, and what they mean."""
    option = comparison.spoken_of
    if option.sureness is None:
        return "", ""
    meets, best = option.sureness.chance_of_meeting_needs, option.sureness.chance_of_being_best
    does = round(20.0 * meets)
    first = min(round(20.0 * best), does)
    signs = " ".join("●" * first + "◐" * (does - first) + "○" * (20 - does))
    told = (
        f"Of 20 equally likely cases {title(option, comparison)} ● meets your needs and costs least in "
        f"{of_twenty(best)}, ● or ◐ meets your needs in {of_twenty(meets)}, ○ does not in the rest."
    )
    return signs, told


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
