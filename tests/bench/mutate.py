"""Put one small fault at a time into the program and see whether the tests notice.

    python tests/bench/mutate.py map FOLDER               which tests run which line: the suite once, traced
    python tests/bench/mutate.py run FOLDER --count 200   faults drawn over all rooms, by their lines of code

Each fault (see ``mutants``) is written into a copy of the checkout, where a forked process runs the tests that run its
line, the quickest first, until one fails or the time is up. Told are the survivors and how many were killed, by room;
docs/validation.md says of each survivor why it may live. What runs in a browser or a served process is not traced.
"""

import argparse
import contextlib
import importlib
import itertools
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import coverage
import pytest

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "helpers"))

from line_map import SHARED  # noqa: E402 - helpers stand beside
from mutants import Mutant, mutants_of, twins_of  # noqa: E402

ROOMS = ("base", "physics", "study", "loading", "service", "answers", "readings", "plan", "validation", "present/words",
         "present/charts", "present/exports", "present", "cli", "ui")  # fmt: skip
APART = ("test_browser.py", "test_journeys.py", "test_serving.py", "test_load.py", "test_front_door.py")
"""Test files of a browser or a served process."""
HEAVY = (
    "altair", "hypothesis", "icalendar", "jinja2", "numpy", "openpyxl", "pandas", "pint", "pydantic", "rich.table",
    "scipy.integrate", "scipy.interpolate", "scipy.optimize", "scipy.stats", "streamlit", "streamlit.testing.v1",
    "typer.testing", "xlsxwriter",
)  # fmt: skip
"""Libraries that are loaded once, before any fork."""
NOTICED, UNNOTICED, BROKEN = 1, 0, 2
_FILES = 8
"""Test files that are opened at first: opening all takes longer than most faults live."""
_ALREADY_IMPORTED = "ignore::pytest.PytestAssertRewriteWarning"


# Which tests run which line


@dataclass(frozen=True, slots=True)
class LineMap:
    """Which tests run which line of a file, and how long each takes with all that it leans on [s]."""

    tests_of: dict[str, dict[int, frozenset[str]]]
    seconds: dict[str, float]

    def candidates(self, mutant: Mutant) -> list[str]:
        """Return the tests that may notice, the quickest first; of what runs on import, all that run the file."""
        lines = self.tests_of.get(mutant.file, {})
        within = (mutant.line,) if lines.get(mutant.line) else mutant.lines
        asked = frozenset[str]().union(*(lines.get(at, ()) for at in (within if mutant.in_function else lines)))
        return sorted(asked, key=lambda test: (self.seconds.get(test, 0.0), test))


def trace(folder: Path, at_once: int) -> int:
    """Run the suite once and write which tests run which line."""
    folder.mkdir(parents=True)
    path = os.pathsep.join([str(ROOT), str(ROOT / "tests" / "helpers")])
    how = dict(os.environ, LINE_MAP=str(folder), HYPOTHESIS_PROFILE="quick", PYTHONPATH=path)
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cov", "-p", "line_map", "-m", "not open_data"]
    command += ["-n", str(at_once), "--dist", "worksteal", *(f"--ignore-glob=*/{name}" for name in APART)]
    return subprocess.run(command, cwd=ROOT, env=how, check=False).returncode


def read_map(folder: Path) -> LineMap:
    """Read what each process of a traced run saw."""
    own, leaning = _leaning(folder)
    tests_of: dict[str, dict[int, frozenset[str]]] = {}
    for file in folder.glob("lines.*"):
        data = coverage.CoverageData(str(file))
        data.read()
        for name in data.measured_files():
            at = tests_of.setdefault(Path(name).relative_to((folder / "root").read_text()).as_posix(), {})
            for line, contexts in data.contexts_by_lineno(name).items():
                at[line] = at.get(line, frozenset()).union(*map(leaning, contexts))
    seconds = defaultdict[str, float](float)
    for context, taken in own.items():
        for test in leaning(context):
            seconds[test] += taken
    return LineMap(tests_of, dict(seconds))


def _leaning(folder: Path) -> tuple[dict[str, float], Callable[[str], frozenset[str]]]:
    """Return how long each context took, and what gives the tests that lean on one, however far; a test on itself."""
    users, own = defaultdict[str, set[str]](set), dict[str, float]()
    for file in folder.glob("uses.*.json"):
        seen = json.loads(file.read_text(encoding="utf-8"))
        for name, used in seen["uses"].items():
            for each in used:
                users[each].add(name)
        own |= {name: max(own.get(name, 0.0), taken) for name, taken in seen["seconds"].items()}

    @cache
    def leaning(context: str) -> frozenset[str]:
        found, ahead = {context}, [context]
        while ahead:
            further = users[ahead.pop()] - found
            found |= further
            ahead += further
        return frozenset(each for each in found if "::" in each and not each.startswith(SHARED))

    return own, leaning


# Which faults


def room_of(file: str) -> str:
    """Return the room of a file, the innermost that has a name."""
    inside = file.removeprefix("filtration/")
    return next((room for room in sorted(ROOMS, key=len, reverse=True) if inside.startswith(f"{room}/")), "")


def faults(count: int, seed: int, rooms: Collection[str]) -> list[Mutant]:
    """Draw faults: of each room a share by its lines of code, of each line drawn one change."""
    files = {
        path.relative_to(ROOT).as_posix(): path
        for name in ("filtration", "ui")
        for path in ROOT.glob(f"{name}/**/*.py")
    }
    twins, draw, found = twins_of(list(files.values())), random.Random(seed), list[Mutant]()
    in_room = {room: sorted(file for file in files if room_of(file) == room) for room in rooms}
    lines = {room: sum(len(files[file].read_bytes().splitlines()) for file in some) for room, some in in_room.items()}
    for room, some in in_room.items():
        by_line: dict[tuple[str, int], list[Mutant]] = {}
        for file in some:
            for mutant in mutants_of(files[file], file, twins):
                by_line.setdefault((file, mutant.line), []).append(mutant)
        places = draw.sample(list(by_line.values()), len(by_line))
        of_places = (next(filter(_parses, draw.sample(place, len(place))), None) for place in places)
        wanted = range(round(count * lines[room] / sum(lines.values())))
        found += [mutant for mutant, _ in zip(filter(None, of_places), wanted, strict=False)]
    return found


def _parses(mutant: Mutant) -> bool:
    return mutant.parses((ROOT / mutant.file).read_bytes())


# Whether they are noticed


class _Chosen:
    """Runs the tests asked for in their order, until one fails or the processor has worked for so long."""

    def __init__(self, tests: Sequence[str], seconds: float) -> None:
        self.order, self.seconds, self.failed = {test: at for at, test in enumerate(tests)}, seconds, ""

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Keep what is asked for, in its order."""
        kept = [each for each in items if each.nodeid in self.order]
        items[:] = sorted(kept, key=lambda each: self.order[each.nodeid])

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note the first test that fails."""
        if report.failed:
            self.failed = self.failed or report.nodeid

    def pytest_runtest_teardown(self, item: pytest.Item) -> None:
        """Stop where the time is up."""
        if time.process_time() > self.seconds:
            item.session.shouldstop = "the time is up"


@dataclass
class _Copy:
    """A copy of the checkout, the fault that is in it, and the process that runs its tests."""

    folder: Path
    mutant: Mutant | None = None
    child: int = 0

    @property
    def _note(self) -> Path:
        return self.folder.with_suffix(".killer")

    def begin(self, mutant: Mutant | None, tests: Sequence[str], seconds: float) -> None:
        """Write a fault into the copy, if any, and run tests in a fork."""
        self.mutant = mutant
        if mutant is not None:
            (self.folder / mutant.file).write_bytes(mutant.changed((ROOT / mutant.file).read_bytes()))
        self.child = os.fork()
        if self.child == 0:
            status = BROKEN
            try:
                status = self._run(tests, seconds)
            finally:
                os._exit(status)

    def _run(self, tests: Sequence[str], seconds: float) -> int:
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nowhere, stream)
        os.chdir(self.folder)
        sys.path.insert(0, str(self.folder))
        os.environ.update(PYTHONPATH=str(self.folder), HYPOTHESIS_PROFILE="quick", PYTHONDONTWRITEBYTECODE="1")
        sys.dont_write_bytecode = True
        resource.setrlimit(resource.RLIMIT_CPU, (int(2 * seconds) + 60,) * 2)  # what never ends is noticed
        signal.alarm(int(20 * seconds) + 60)
        files = list(dict.fromkeys(test.split("::")[0] for test in tests))
        for some in (files[:_FILES], files[_FILES:]):
            chosen = _Chosen([test for test in tests if test.split("::")[0] in some], seconds)
            quiet = ["-q", "-x", "-p", "no:cacheprovider", "-p", "no:cov", "-W", _ALREADY_IMPORTED]
            status = pytest.main([*quiet, *some], plugins=[chosen]) if some else pytest.ExitCode.OK
            if chosen.failed or status not in {pytest.ExitCode.OK, pytest.ExitCode.INTERRUPTED}:
                self._note.write_text(chosen.failed or f"{status!r}", encoding="utf-8")
                return NOTICED
        return UNNOTICED

    def end(self) -> str:
        """Take the fault out again; return the test that noticed it."""
        if self.mutant is not None:
            shutil.copy2(ROOT / self.mutant.file, self.folder / self.mutant.file)
        told = self._note.read_text(encoding="utf-8") if self._note.exists() else "its endless run"
        self._note.unlink(missing_ok=True)
        return told


@contextlib.contextmanager
def copies(number: int) -> Iterator[list[_Copy]]:
    """Make copies of the checkout, compiled."""
    command = ["git", "ls-files", "-co", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout.splitlines()
    collect = [sys.executable, "-m", "pytest", "-q", "--collect-only", "-p", "no:cacheprovider"]
    with tempfile.TemporaryDirectory() as folder:
        found = [_Copy(Path(folder) / f"copy{at}") for at in range(number)]
        for each in found:
            for name in listed:
                to = each.folder / name
                to.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(ROOT / name, to)
            where = dict(os.environ, PYTHONPATH=str(each.folder))
            subprocess.run(collect, cwd=each.folder, env=where, check=True, capture_output=True)
        yield found


def tried(
    waiting: Iterable[tuple[Mutant | None, Sequence[str]]], free: list[_Copy], seconds: float
) -> Iterator[tuple[Mutant | None, str | None]]:
    """Try faults in as many copies as there are; yield each with the test that noticed it, None where none did."""
    left, busy = iter(waiting), dict[int, _Copy]()
    while True:
        for mutant, tests in itertools.islice(left, len(free)):
            copy = free.pop()
            copy.begin(mutant, tests, seconds)
            busy[copy.child] = copy
        if not busy:
            return
        child, status = os.wait()
        copy = busy.pop(child)
        if os.WIFEXITED(status) and os.WEXITSTATUS(status) == BROKEN:
            raise RuntimeError(f"the tests could not be run under {copy.mutant}")
        by = copy.end()
        free.append(copy)
        yield copy.mutant, None if status == UNNOTICED else by


def told_by_room(killed: Sequence[Mutant], survivors: Sequence[Mutant]) -> str:
    """Return the table: faults and how many of them were killed, room by room."""
    rows = ["| room | faults | killed | |", "|---|---|---|---|"]
    for room in (*ROOMS, None):
        dead, of = (
            sum(room in {None, room_of(each.file)} for each in some) for some in (killed, [*killed, *survivors])
        )
        if of:
            rows.append(f"| {room or '**all**'} | {of} | {dead} | {dead / of:.0%} |")
    return "\n".join(rows)


def run(chosen: argparse.Namespace) -> None:
    """Draw faults and try each; print what noticed it, the table, and whether that test passes without a fault."""
    lines, killers = read_map(chosen.folder), dict[str, None]()
    part, parts = map(int, chosen.part.split("/"))
    some = faults(chosen.count, chosen.seed, chosen.rooms)[part::parts]
    waiting = [(mutant, lines.candidates(mutant)) for mutant in some]
    killed, survivors = list[Mutant](), [mutant for mutant, tests in waiting if not tests]
    for mutant in survivors:
        print(f"SURVIVED, run by no test: {mutant.file} line {mutant.line}: {mutant.told}", flush=True)
    for name in HEAVY:
        importlib.import_module(name)
    with copies(chosen.at_once) as free:
        for mutant, by in tried([each for each in waiting if each[1]], free, chosen.seconds):
            assert mutant is not None
            (survivors if by is None else killed).append(mutant)
            if by and "::" in by:
                killers[by] = None
            told = f"killed by {by}" if by else "SURVIVED"
            print(f"{told}: {mutant.file} line {mutant.line}: {mutant.told}", flush=True)
        [(_, failed)] = tried([(None, list(killers))], free, 1e4)
    print(told_by_room(killed, survivors))
    if failed:
        sys.exit(f"{failed} fails on the source as it is")


def main() -> None:
    """Trace the suite, or try faults."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("map", "run"))
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--part", default="0/1", help="which of how many equal parts to try")
    parser.add_argument("--rooms", nargs="+", choices=ROOMS, default=ROOMS)
    parser.add_argument("--seconds", type=float, default=40.0, help="of the processor, for the tests of one fault")
    parser.add_argument("--at-once", type=int, default=2)
    chosen = parser.parse_args()
    if chosen.what == "map":
        sys.exit(trace(chosen.folder, chosen.at_once))
    run(chosen)


if __name__ == "__main__":
    main()
