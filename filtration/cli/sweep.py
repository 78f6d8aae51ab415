"""The command for curves. Everything heavy is imported when it is needed."""

import re
from pathlib import Path
from typing import Annotated, Any

from filtration.base.errors import InputError, shown
from filtration.cli import common
from filtration.cli.common import taking

_TO = "Write the curves to a file: .csv table, .png or .svg picture."
_VALUES = "With --over: '19 mm,25 mm', or so many from one to another: 4:24:11."
_RATINGS = "Micron ratings, as 5,10,20 or 2:80:25; left out, 1 to 100."
_EITHER = "sweep: give either --over and --values, or --kinds, --ratings and --sizes"
_NUMBER = r"([-+]?[0-9]+(?:\.[0-9]+)?)\s*([^:]*?)\s*"
_RANGE, _MOST = re.compile(rf"{_NUMBER}:\s*{_NUMBER}:\s*([0-9]{{1,3}})"), 500


def draw_curves(
    study: common.StudyFile,
    *,
    kinds: Annotated[str | None, taking("KINDS", "Kinds, as spun,pleated; left out, spun,wound,pleated.")] = None,
    ratings: Annotated[str | None, taking("RATINGS", _RATINGS)] = None,
    sizes: Annotated[str | None, taking("SIZES", "As '10 x 2.5 in,20 x 2.5 in'; left out, the option's.")] = None,
    over: Annotated[str | None, taking("KEY", "Move this key of the study instead, as plumbing.bore.")] = None,
    values: Annotated[str | None, taking("VALUES", _VALUES)] = None,
    option: common.OptionId = None,
    settings: common.Settings = None,
    to: Annotated[Path | None, taking("FILE", _TO)] = None,
    force: common.Force = False,
    as_json: common.AsJson = False,
) -> None:
    """Show pressure drop, flow, days, visibility and year against micron rating for each kind, or against any key."""
    from filtration.answers.curves import sweep
    from filtration.base.whole_file import refuse_taken, write_whole
    from filtration.present import console, documents
    from filtration.present.exports.by_ending import SWEPT, bytes_of_sweep
    from filtration.study.file import load_tables

    if (over is None) != (values is None) or (over and (kinds or ratings or sizes)):
        raise InputError(_EITHER)
    if to is not None:
        if to.suffix.lower() not in SWEPT:
            raise InputError(f"--to: must end in {', '.join(SWEPT)}, got {shown(to.name)}")
        refuse_taken(to, force=force)
    read = common.load_study(study, settings or ())
    if over is not None and values is not None:
        tables = common.set_in(load_tables(study), settings or ())
        found = sweep(tables, over=over, values=_listed("values", values), option=option)
    else:
        given = {"kinds": kinds, "ratings": ratings, "sizes": sizes}
        asked: dict[str, Any] = {name: _listed(name, text) for name, text in given.items() if text}
        found = sweep(read, option=option, **asked)
    if to is not None:
        write_whole(to, bytes_of_sweep(found, to.suffix.lower()), force=force)
        common.tell(f"Wrote the curves to {to}.")
    if as_json or to is None:
        common.put_out(found, documents.sweep_document, console.print_sweep, as_json=as_json)


def _listed(name: str, text: str) -> list[Any]:
    """Return what a list on the command line says: values with commas between, or so many from one to another."""
    from filtration.study.overrides import value_of_text

    if ":" not in text:
        return [value_of_text(each) for each in text.split(",")]
    match = _RANGE.fullmatch(text.strip())
    low, unit, high, other, count = match.groups() if match else ("0", "", "0", "", "0")
    start, end, steps, by_logarithm = float(low), float(high), int(count) - 1, name == "ratings"
    if not 1 <= steps < _MOST or (unit and other and unit != other) or (by_logarithm and min(start, end) <= 0.0):
        raise InputError(f"--{name}: needs from:to:count, such as 4:24:11 or '8 mm:32 mm:13', got {shown(text)}")
    shares = [step / steps for step in range(steps + 1)]
    spaced = [start * (end / start) ** share if by_logarithm else start + (end - start) * share for share in shares]
    return [value_of_text(f"{each:.6g} {unit or other}") for each in spaced]
