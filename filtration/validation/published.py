"""Published cases recomputed by the program, so that anyone can see how far its figures are from those in print."""

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from filtration.base.frames import Frame, frame_of, html_of
from filtration.base.places import published_file

Progress = Callable[[float, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedCase:
    """Something in print that the program can work out too.

    Parameters
    ----------
    topic, quantity, name : str
        What it is about; points of one curve are one quantity.
    call : str
        Which of ``calls.CALLS`` works it out.
    inputs : mapping
        What with.
    source : str
        Where the figures come from; never the program itself.
    main_job : bool
        Something was measured that a filter, a pump, water or a bather does; not so for arithmetic, or for what a
        library or a table of properties says.
    memory : bool
        They were recalled and not looked up again.
    published : tuple of float
        The figures, one for all that come out or one each; none where there are bounds instead.
    between : (float, float) or None
        Bounds of all figures, themselves included.
    relative, absolute : float, optional
        How far a figure may be off, over its size [-] and in its own unit; the larger counts.
    unit : str, optional
        Of the figures; empty where they have none.
    note : str, optional
        What else there is to know.
    contradicts : str, optional
        The default, by its key, that the figures contradict; empty where there is none.
    """

    topic: str
    quantity: str
    name: str
    call: str
    inputs: Mapping[str, Any]
    source: str
    main_job: bool
    memory: bool
    published: tuple[float, ...] = ()
    between: tuple[float, float] | None = None
    relative: float = 0.0
    absolute: float = 0.0
    unit: str = ""
    note: str = ""
    contradicts: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A case recomputed; figures are those of the point that is farthest off for its tolerance.

    Parameters
    ----------
    case : PublishedCase
        The case.
    all_computed : tuple of float
        What the program gives, point by point.
    computed : float
        At the farthest point.
    low, high : float
        What is published there: the same figure twice, or two bounds.
    difference : float
        Computed less published; 0 between bounds.
    tolerance : float
        How far it may be off; 0 beyond bounds.
    holds : bool
        No point is off by more.
    """

    case: PublishedCase
    all_computed: tuple[float, ...]
    computed: float
    low: float
    high: float
    difference: float
    tolerance: float
    holds: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Checks:
    """Every published case recomputed, those of the main job first, else in the order of the file that holds them."""

    checks: tuple[Check, ...]

    @property
    def failed(self) -> tuple[Check, ...]:
        """Those that do not hold, but for measurements that are known to contradict a default."""
        return tuple(check for check in self.checks if not check.holds and not check.case.contradicts)

    @property
    def contradicting(self) -> tuple[Check, ...]:
        """Those that contradict a default, as is known."""
        return tuple(check for check in self.checks if not check.holds and check.case.contradicts)

    @property
    def main_job(self) -> tuple[Check, ...]:
        """Measurements of what a filter, a pump, water or a bather does."""
        return tuple(check for check in self.checks if check.case.main_job)

    @property
    def arithmetic(self) -> tuple[Check, ...]:
        """The rest: arithmetic, and what a library or a table of properties says."""
        return tuple(check for check in self.checks if not check.case.main_job)

    @property
    def sources(self) -> tuple[str, ...]:
        """Where the cases come from, each source once."""
        return tuple(dict.fromkeys(check.case.source for check in self.checks))

    @property
    def from_memory(self) -> int:
        """How many cases were recalled and not looked up again."""
        return sum(check.case.memory for check in self.checks)

    def table(self) -> Frame:
        """Return the checks.

        Returns
        -------
        pandas.DataFrame
            One row a case, with the figures of the point that is farthest off; ``published_low`` and
            ``published_high`` are the same but for bounds.
        """

        def part(source: PublishedCase | Check, *names: str) -> dict[str, Any]:
            return {name: getattr(source, name) for name in names}

        return frame_of(
            part(check.case, "topic", "quantity", "name", "unit")
            | {"points": len(check.all_computed), "computed": check.computed}
            | {"published_low": check.low, "published_high": check.high}
            | part(check, "difference", "tolerance", "holds")
            | part(check.case, "main_job", "source", "note", "memory", "contradicts")
            for check in self.checks
        )

    _repr_html_ = html_of


def cases_in(file: Path) -> tuple[PublishedCase, ...]:
    """Read published cases from TOML, one ``[[case]]`` each, in the order of the file."""
    rows: list[dict[str, Any]] = tomllib.loads(file.read_text(encoding="utf-8"))["case"]
    for row in rows:
        row |= {key: tuple(row[key]) for key in ("published", "between") if key in row}
    return tuple(PublishedCase(**row) for row in rows)


def judged(case: PublishedCase, computed: Sequence[float]) -> Check:
    """Hold what the program gives against what is published.

    Parameters
    ----------
    case : PublishedCase
        The case.
    computed : sequence of float
        What the program gives, point by point.

    Returns
    -------
    Check
        Which figure is farthest off, and whether all hold; one that is no number does not.

    Examples
    --------
    >>> third = PublishedCase(topic="", quantity="", name="", call="", inputs={}, source="", memory=False,
    ...                       main_job=False, published=(0.333,), absolute=1e-3)
    >>> judged(third, [1 / 3]).holds, judged(third, [0.34]).holds
    (True, False)
    """
    found = np.array(computed, dtype=np.float64)
    bounds = case.between or (case.published, case.published)
    low, high = (np.broadcast_to(np.array(bound, dtype=np.float64), found.shape) for bound in bounds)
    difference = np.maximum(found - high, 0.0) - np.maximum(low - found, 0.0)
    tolerance, far = np.zeros(found.shape), np.maximum(found - high, low - found)
    if case.between is None:
        tolerance = np.maximum(case.relative * np.abs(low), case.absolute)
        with np.errstate(divide="ignore", invalid="ignore"):
            far = np.where(difference == 0.0, 0.0, np.abs(difference) / tolerance)
    at = int(np.argmax(far))  # where there are figures that are no numbers, the first of them
    there = {"computed": found, "low": low, "high": high, "difference": difference, "tolerance": tolerance}
    holds = bool((np.abs(difference) <= tolerance).all())
    shown = {name: float(points[at]) for name, points in there.items()}
    return Check(case=case, all_computed=tuple(found.tolist()), holds=holds, **shown)


def checked(case: PublishedCase) -> Check:
    """Recompute one case."""
    from filtration.validation.calls import CALLS

    return judged(case, np.atleast_1d(CALLS[case.call](**case.inputs)).tolist())


def verify(*, progress: Progress | None = None) -> Checks:
    """Recompute every published case.

    Parameters
    ----------
    progress : callable, optional
        Called with the share done [-] and what is being done.

    Returns
    -------
    Checks
        Computed, published, difference, tolerance and source of each.

    Notes
    -----
    It takes a few seconds and no network.
    """
    cases = sorted(cases_in(published_file()), key=lambda case: not case.main_job)
    checks = []
    for done, case in enumerate(cases):
        if progress is not None:
            progress(done / len(cases), f"recomputing {case.name}")
        checks.append(checked(case))
    return Checks(checks=tuple(checks))
