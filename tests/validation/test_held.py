"""What is said to hold a constant does: moved to either side in a process of its own, the case named fails."""

from pathlib import Path

import pytest
from moved import Job, constants, look_at_all

from filtration.base.defaults import TABLE
from filtration.base.places import published_file
from filtration.validation.held import ALONE, CONTRADICTED, HELD
from filtration.validation.published import cases_in, checked

SIDES = {row.key: sides for row, sides in constants()}
PAGE = Path(__file__).resolve().parents[2] / "docs" / "validation.md"
CASES = {case.name: case for case in cases_in(published_file())}


def test_the_case_named_fails_on_each_side_claimed() -> None:
    """All in one test, as the processes are started in turn."""
    jobs = [
        Job(held.key, value, [name])
        for held in HELD
        for name, value in zip((held.less, held.more), SIDES[held.key], strict=True)
        if name
    ]
    for job, seen in zip(jobs, look_at_all(jobs), strict=True):
        assert not seen.wrong, seen
        assert seen.failed == job.checks, seen


def test_enough_is_held_each_by_a_measurement_of_its_own() -> None:
    """At least eight constants, five on both sides; no case serves two, and all are of the main job and hold."""
    names = [{name for name in (held.less, held.more) if name} for held in HELD]
    used = [name for each in names for name in each]
    assert len(HELD) >= 8
    assert sum(bool(held.less and held.more) for held in HELD) >= 5
    assert len(used) == len(set(used))
    for name in used:
        assert CASES[name].main_job
        assert not CASES[name].contradicts
        assert checked(CASES[name]).holds


def test_every_constant_has_one_place() -> None:
    """Held, contradicted or ours alone, and a row of the table."""
    keys = [*(held.key for held in HELD), *CONTRADICTED, *(key for alone in ALONE for key in alone.keys)]
    assert len(keys) == len(set(keys))
    assert set(keys) <= {row.key for row in TABLE}


def test_the_page_says_the_same() -> None:
    """docs/validation.md has a row for each, as tests/bench/bench_constants.py --write makes it."""
    cells = [line.strip("| ").split(" | ") for line in PAGE.read_text(encoding="utf-8").splitlines()]
    said = {row[0].strip("`"): row[-1] for row in cells if len(row) == 9}
    for held in HELD:
        sides = [way for way, name in (("less", held.less), ("more", held.more)) if name]
        assert said[held.key] == f"**held** against {' and '.join(sides)}"
    assert all(said[key] == "**contradicted**" for key in CONTRADICTED)
    assert all(said[key] == f"ours alone: {alone.reading}" for alone in ALONE for key in alone.keys)


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case.contradicts])
def test_what_contradicts_a_default_still_does(name: str) -> None:
    """A measurement that has come to agree is to be marked as any other."""
    assert not checked(CASES[name]).holds
    assert CASES[name].contradicts in CONTRADICTED
