"""Write docs/short-answers.md: the short answer of the demos and of five more studies, at 80 and 60 columns.

python tests/scripts/short_answers.py
"""

import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "helpers"))

from studies import changed, demo_data, short, study_of  # noqa: E402 - found by the line above

from filtration import compare  # noqa: E402 - see above
from filtration.answers.decision import DRAWS  # noqa: E402 - see above
from filtration.base.places import demo_names  # noqa: E402 - see above
from filtration.present.console import short_text  # noqa: E402 - see above

PAGE = ROOT / "docs" / "short-answers.md"
COLUMNS, MOST_LINES = (80, 60), {80: 18, 60: 25}
TWO_DIPS = {"name": "A couple's freezer", "tub.volume": "350 L", "tub.uses_per_day": 2}
US: dict[str, Any] = {
    "name": "Ranch tank",
    "currency": "USD",
    "tub": {"volume": "110 gal", "water_temperature": "39 degF", "uses_per_day": 4},
    "pump": {"shutoff_head": "8 ft", "max_flow": "660 gph", "power": "38 W"},
    "plumbing": {"bore": "1 in", "length": "10 ft"},
    "elements": [
        {"name": "Pleated 20", "kind": "pleated", "size": "10 x 2.5 in", "rating": "20 um", "price": 22},
        {"name": "Spun 20", "kind": "spun", "size": "10 x 2.5 in", "rating": "20 um", "price": 7},
    ],
}
STUDIES = {
    **{f"The demo {name}": demo_data(name) for name in demo_names()},
    "Where a time limit governs": changed(TWO_DIPS),
    "Where nothing meets the needs": changed({"needs": {"turnovers_per_hour": 6}, "name": "A thirsty tub"}),
    "With one option only": short(),
    "With several pumps": demo_data("quay") | {"options": demo_data("quay")["options"][6:8]},
    "In gallons": US,
}
ABOUT = """# Short answers

What `filtration compare` prints without `--full`, for the three demo tubs and five more, on a terminal of 80
columns and of 60. This page is written by `tests/scripts/short_answers.py`, and the tests keep it current.
What each line means: [user guide](user-guide.md).
"""


def page() -> str:
    """Return the page as it should be."""
    parts = [ABOUT]
    for heading, data in STUDIES.items():
        answer = compare(study_of(data), draws=DRAWS)
        parts.append(f"\n## {heading}\n")
        parts += [f"\n```\n{short_text(answer, columns)}```\n" for columns in COLUMNS]
    return "".join(parts)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
