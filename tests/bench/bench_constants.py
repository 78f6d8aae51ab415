"""Move every constant of the model across its own spread, and see what that does and which outside check notices.

    python tests/bench/bench_constants.py                  a quarter of an hour, two processes
    python tests/bench/bench_constants.py --keep FILE      goes on where FILE stopped
    python tests/bench/bench_constants.py --keep FILE --write   writes the table into docs/validation.md too

``tests/helpers/moved.py`` says how far each is moved. Days, worst view and year are those of the demos' options that
meet their needs. Exits with 1 where ``filtration/validation/held.py`` says other than what is found.
"""

import argparse
import json
import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests" / "helpers"), str(ROOT)]

from moved import DEMOS, Job, Seen, constants, look_at_all  # noqa: E402 - found by the line above

from filtration.base.defaults import Value  # noqa: E402 - see above
from filtration.base.places import published_file  # noqa: E402 - see above
from filtration.validation.held import ALONE, CONTRADICTED, HELD  # noqa: E402 - see above
from filtration.validation.published import cases_in  # noqa: E402 - see above

PAGE = ROOT / "docs" / "validation.md"
START, END = "<!-- made by tests/bench/bench_constants.py -->\n", "<!-- end of constants -->\n"
FIFTH, HUNDREDTH = 0.2, 0.01
_FIGURES, _WAYS = ("days", "view", "year"), ("less", "more")
_LAST = ("tub.", "prices.", "readings.", "advice.", "elements.", "options.", "cooling.", "stock.", "energy.")


# ---- what is found, kept from run to run


def _kept(file: Path | None) -> dict[str, Any]:
    """Return what a file has, by what was asked."""
    if file is None or not file.is_file():
        return {}
    return {row["asked"]: row for row in map(json.loads, file.read_text(encoding="utf-8").splitlines())}


def seen_of(asked: Mapping[str, Job], file: Path | None) -> dict[str, dict[str, Any]]:
    """Return what comes of jobs by name, each looked at once and written to a file where there is one."""
    kept = _kept(file)
    missing = {name: job for name, job in asked.items() if name not in kept}
    for done, (name, seen) in enumerate(zip(missing, look_at_all(missing.values()), strict=True), start=1):
        kept[name] = {"asked": name, **_row(seen)}
        print(f"{done} of {len(missing)}: {name} {seen.wrong}", file=sys.stderr, flush=True)
        if file is not None:
            with file.open("a", encoding="utf-8") as out:
                out.write(json.dumps(kept[name]) + "\n")
    return {name: kept[name] for name in asked}


def _row(seen: Seen) -> dict[str, Any]:
    return {"figures": seen.figures, "advised": seen.advised, "failed": seen.failed, "wrong": seen.wrong}


# ---- what it comes to


@dataclass(frozen=True, slots=True)
class Found:
    """One constant: what it was and is moved to, factors of days, view and year, advice that changes, checks that fail.

    Pairs are for less and for more of it.
    """

    key: str
    value: Value
    sides: tuple[Value, Value]
    factors: tuple[Mapping[str, tuple[float, float]], Mapping[str, tuple[float, float]]]
    advice: tuple[str, str]
    failed: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())
    wrong: str = ""

    @property
    def most(self) -> float:
        """By how much it moves any figure [-]."""
        return max((abs(one - 1.0) for side in self.factors for pair in side.values() for one in pair), default=0.0)


def factors_of(usual: Any, moved: Any) -> dict[str, tuple[float, float]]:
    """Return the least and the largest factor on each figure, over all options that meet the needs as it is."""
    found = {}
    for place, name in enumerate(_FIGURES):
        each = [
            there[option][place] / figures[place]
            for demo, options in usual.items()
            for there in [moved.get(demo, {})]
            for option, figures in options.items()
            if figures[0] and option in there and there[option][place] is not None
        ]
        found[name] = (min(each, default=1.0), max(each, default=1.0))
    return found


def _advice(usual: Mapping[str, str], moved: Mapping[str, str]) -> str:
    return ", ".join(f"{demo} {name}" for demo, name in moved.items() if name and name != usual[demo])


def found_of(file: Path | None) -> list[Found]:
    """Move every constant both ways, then look at the checks where that moves a figure by more than a fifth."""
    usual = seen_of({"as it is": Job(None, 0.0, [], DEMOS)}, file)["as it is"]
    rows = sorted(constants(), key=lambda each: each[0].key.startswith(_LAST))
    jobs = {
        f"{row.key} {way}": Job(row.key, value, [], DEMOS, usual["figures"])
        for row, sides in rows
        for way, value in zip(_WAYS, sides, strict=True)
    }
    seen = seen_of(jobs, file)
    found = []
    for row, sides in rows:
        less, more = (seen[f"{row.key} {way}"] for way in _WAYS)
        pair = (factors_of(usual["figures"], less["figures"]), factors_of(usual["figures"], more["figures"]))
        advice = (_advice(usual["advised"], less["advised"]), _advice(usual["advised"], more["advised"]))
        found.append(Found(row.key, row.value, sides, pair, advice, wrong=less["wrong"] or more["wrong"]))
    telling = [each for each in found if each.most > FIFTH]
    asked = {
        f"{each.key} {way}, checks": Job(each.key, value)
        for each in telling
        for way, value in zip(_WAYS, each.sides, strict=True)
    }
    checks = seen_of(asked, file)
    return [
        replace(each, failed=tuple(tuple(checks[f"{each.key} {way}, checks"]["failed"]) for way in _WAYS))  # type: ignore[arg-type]  # two
        if each in telling
        else each
        for each in found
    ]


# ---- against what is said, and as a table


def verdict(found: Found) -> str:
    """Return what holds a constant, or which reading settles it."""
    for held in HELD:
        if held.key == found.key:
            sides = [way for way, name in zip(_WAYS, (held.less, held.more), strict=True) if name]
            return f"**held** against {' and '.join(sides)}"
    if found.key in CONTRADICTED:
        return "**contradicted**"
    return next((f"ours alone: {each.reading}" for each in ALONE if found.key in each.keys), "?")


def wrong_in(found: list[Found]) -> list[str]:
    """Return where ``held.py`` says other than what is found."""
    telling = {each.key: each for each in found if each.most > FIFTH}
    said = {*(held.key for held in HELD), *CONTRADICTED, *(key for alone in ALONE for key in alone.keys)}
    words = [f"{key} is in no table" for key in telling.keys() - said]
    words += [f"{key} moves nothing by a fifth" for key in said - telling.keys()]
    words += [
        f"{held.key}: {name} does not notice"
        for held in HELD
        if held.key in telling
        for name, failed in zip((held.less, held.more), telling[held.key].failed, strict=True)
        if name and name not in failed
    ]
    return words + [f"{each.key}: {each.wrong}" for each in found if each.wrong]


def _number(value: Value) -> str:
    return f"{value:.3g}" if isinstance(value, float) else f"{value}"


def _factor(each: Found, name: str) -> str:
    low, high = (choose(side[name][at] for side in each.factors) for at, choose in ((0, min), (1, max)))
    return "–" if max(abs(low - 1.0), abs(high - 1.0)) < HUNDREDTH else f"{low:.2g} to {high:.2g}"


def table(found: list[Found]) -> str:
    """Return the section as Markdown."""
    telling = sorted((each for each in found if each.most > FIFTH), key=lambda each: -each.most)
    rows = []
    short = {case.name: case.quantity for case in cases_in(published_file())}
    for each in telling:
        moved = "; ".join(_number(value) for value in each.sides)
        noticed = [
            f"{way}: {', '.join(dict.fromkeys(short.get(name, name) for name in names))}"
            for way, names in zip(_WAYS, each.failed, strict=True)
            if names
        ]
        advice = [f"{way}: {text}" for way, text in zip(_WAYS, each.advice, strict=True) if text]
        cells = [f"`{each.key}`", _number(each.value), moved, *(_factor(each, name) for name in _FIGURES)]
        rows.append([*cells, "; ".join(advice) or "–", "; ".join(noticed) or "none", verdict(each)])
    heading = ("constant", "as it is", "moved to", *_FIGURES, "advice", "outside checks that notice", "so it is")
    lines = [f"| {' | '.join(cells)} |" for cells in (heading, ["---"] * len(heading), *rows)]
    little = [f"`{each.key}`" for each in found if HUNDREDTH < each.most <= FIFTH]
    none = [f"`{each.key}`" for each in found if each.most <= HUNDREDTH]
    counted = f"{len(found)} constants moved: {len(telling)} move a figure by more than a fifth, {len(little)} by less"
    return (
        "\n".join(
            [
                f"{counted}, {len(none)} by less than a hundredth.",
                "",
                *lines,
                "",
                f"By a hundredth to a fifth: {', '.join(little)}.",
                "",
                f"By less: {', '.join(none)}.",
            ]
        )
        + "\n"
    )


def main() -> None:
    """Move, look, print, and write if asked."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--keep", type=Path, help="file of what was found, one line a move")
    parser.add_argument("--write", action="store_true", help="write the table into docs/validation.md")
    arguments = parser.parse_args()
    found = found_of(arguments.keep)
    print(table(found))
    if arguments.write:
        before, rest = PAGE.read_text(encoding="utf-8").split(START)
        PAGE.write_text(before + START + table(found) + END + rest.split(END, 1)[1], encoding="utf-8")
    wrong = wrong_in(found)
    for words in wrong:
        print("WRONG", words)
    raise SystemExit(bool(wrong))


if __name__ == "__main__":
    main()
