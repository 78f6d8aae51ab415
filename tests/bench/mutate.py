"""Put one small fault at a time into the program and see whether the tests notice.

    python tests/bench/mutate.py map FOLDER [TESTS]       which tests run which line: the suite once, or some added
    python tests/bench/mutate.py run FOLDER --count 200   faults drawn over all rooms, by their lines of code

Each fault (see ``mutants``) is put into a copy of the checkout, where a forked process runs the tests that run its
line, the quickest first, until one fails or the time is up. Told are the survivors and how many were killed, by room;
docs/validation.md says of each survivor why it may live. What runs in a browser or a served process is not traced.
"""

import argparse
import gc
import json
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import time
import types
from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
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
DOCUMENTS = "tests/whole/test_docs.py"
"""The test file that holds documents against what the program says of itself."""
QUIET = ("-q", "-s", "-p", "no:cacheprovider", "-p", "no:cov", "-W", "ignore::pytest.PytestAssertRewriteWarning")
_SHORTEST_S = 0.01  # of a test
_FILES = 8
"""Test files that are opened at first where all is loaded anew: opening all takes longer than most faults live."""


# Which tests run which line


@dataclass(frozen=True, slots=True)
class LineMap:
    """Which tests run which line of a file, and how long each takes with all that it leans on [s]."""

    tests_of: dict[str, dict[int, frozenset[str]]]
    seconds: dict[str, float]

    def candidates(self, mutant: Mutant) -> list[str]:
        """Return the tests that may notice, those of its room and the quickest first; on import, all of the file."""
        lines = self.tests_of.get(mutant.file, {})
        within = (mutant.line,) if lines.get(mutant.line) else mutant.lines
        asked = frozenset[str]().union(*(lines.get(at, ()) for at in (within if mutant.in_function else lines)))
        own = (mutant.file, f"tests/{room_of(mutant.file).split('/')[0]}/")
        if not mutant.in_function:  # it reaches documents, and tests that run nothing of the file
            own = (*own, DOCUMENTS)
            asked |= {test for test in self.seconds if test.startswith(DOCUMENTS if lines else own)}
        dear, alike = dict[str, float](), Counter[str]()
        for test in sorted(asked, key=lambda test: (self.seconds.get(test, 0.0), test)):
            alike[test.split("[")[0]] += 1  # so that one that is run with many values does not keep the others waiting
            dear[test] = alike[test.split("[")[0]] * max(self.seconds.get(test, 0.0), _SHORTEST_S)
        return sorted(dear, key=lambda test: (not test.startswith(own), dear[test]))


def trace(folder: Path, tests: Sequence[str], at_once: int) -> int:
    """Run the suite once, or some tests, and write which of them run which line beside what a folder holds."""
    folder.mkdir(parents=True, exist_ok=True)
    path = os.pathsep.join([str(ROOT), str(ROOT / "tests" / "helpers")])
    how = dict(os.environ, LINE_MAP=str(folder), HYPOTHESIS_PROFILE="quick", PYTHONPATH=path)
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cov", "-p", "line_map", "-m", "not open_data"]
    command += ["-n", str(at_once), "--dist", "worksteal", *(f"--ignore-glob=*/{name}" for name in APART), *tests]
    return subprocess.run(command, cwd=ROOT, env=how, check=False).returncode


def read_map(folder: Path) -> LineMap:
    """Read what each process of a traced run saw."""
    own, leaning = _leaning(folder)
    tests_of: dict[str, dict[int, frozenset[str]]] = {}
    for file in folder.glob("lines.*"):
        data = coverage.CoverageData(str(file))
        data.read()
        for name in data.measured_files():
            at = tests_of.setdefault(name, {})
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


@dataclass(slots=True, eq=False)
class _Noticing:
    """Runs tests in their order, until one fails or the processor has worked for so long."""

    seconds: float
    failed: str = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note the first test that fails."""
        if report.failed:
            self.failed = self.failed or report.nodeid

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """Note a file that cannot be opened."""
        if report.failed:
            self.failed = self.failed or report.nodeid

    def run(self, items: Sequence[pytest.Item]) -> None:
        """Run tests."""
        for item, following in zip(items, [*items[1:], None], strict=True):
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if self.failed or time.process_time() > self.seconds:
                return


def _codes(module: types.ModuleType) -> Iterator[types.FunctionType]:
    """Yield the functions of a module and of its classes, out of whatever is wrapped around them."""
    ways = ("__wrapped__", "__func__", "fget", "func")
    ahead = [value for value in vars(module).values() if getattr(value, "__module__", None) == module.__name__]
    while ahead:
        value = ahead.pop()
        if isinstance(value, types.FunctionType):
            yield value
        if isinstance(value, type):
            ahead += vars(value).values()
        ahead += [
            inner for way in ways if (inner := getattr(value, way, None)) is not None and not isinstance(value, type)
        ]


def _inner(code: types.CodeType) -> Iterator[types.CodeType]:
    for part in code.co_consts:
        if isinstance(part, types.CodeType):
            yield part
            yield from _inner(part)


def _alone(code: types.CodeType) -> types.CodeType:
    """Return a function's code without that of functions in it, of which some were made on import."""
    return code.replace(co_consts=tuple(None if isinstance(part, types.CodeType) else part for part in code.co_consts))


def put_in(mutant: Mutant, folder: Path) -> bool:
    """Put a fault into the functions of a module that is loaded; return whether it is in, or is read from its file."""
    path = folder / mutant.file
    loaded = [module for module in sys.modules.values() if getattr(module, "__file__", None) == str(path)]
    if not loaded:
        return True
    changed = {
        (code.co_qualname, code.co_firstlineno): code for code in _inner(compile(path.read_bytes(), path, "exec"))
    }
    done = False
    for function in {id(each): each for module in loaded for each in _codes(module)}.values():
        code = changed.get((function.__code__.co_qualname, function.__code__.co_firstlineno))
        if code is not None and _alone(code) != _alone(function.__code__):
            function.__code__, done = code, True
    return done


class _Trial:
    """Tries faults once the tests of a copy of the checkout are collected: each in a fork."""

    def __init__(self, folder: Path, waiting: Sequence[tuple[Mutant, Sequence[str]]], seconds: float) -> None:
        self.folder, self.waiting, self.seconds = folder, waiting, seconds
        self.killed, self.survivors, self.fails = list[Mutant](), list[Mutant](), ""

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try each fault, then what noticed them on the source as it is."""
        items, killers = {item.nodeid: item for item in session.items}, dict[str, pytest.Item]()
        gc.freeze()
        for mutant, tests in self.waiting:
            path = self.folder / mutant.file
            path.write_bytes(mutant.changed(path.read_bytes()))
            by = self._forked([items[test] for test in tests if test in items], mutant)
            shutil.copy2(ROOT / mutant.file, path)
            (self.survivors if by is None else self.killed).append(mutant)
            killers |= {by: items[by]} if by in items else {}
            print(
                f"{f'killed by {by}' if by else 'SURVIVED'}: {mutant.file} line {mutant.line}: {mutant.told}",
                flush=True,
            )
        self.fails = (self._forked(list(killers.values()), None) if killers else None) or ""
        return True

    def _forked(self, items: Sequence[pytest.Item], mutant: Mutant | None) -> str | None:
        """Run tests in a fork; return the one that fails, None where all pass."""
        note = self.folder.with_suffix(".killer")
        note.unlink(missing_ok=True)
        child = os.fork()
        if child:
            _, status = os.waitpid(child, 0)
            return (note.read_text(encoding="utf-8") if note.exists() else "no end") if status else None
        found = _Noticing(self.seconds if mutant else 1e4)
        try:
            nowhere = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(nowhere, stream)
            resource.setrlimit(resource.RLIMIT_CPU, (int(2 * found.seconds) + 60,) * 2)  # what never ends is noticed
            if mutant is None or (mutant.in_function and put_in(mutant, self.folder)):
                items[0].config.pluginmanager.register(found)
                found.run(items)
            else:
                self._anew(items, found)
        except BaseException as error:  # noqa: BLE001 - whatever it is, it is noticed
            found.failed = found.failed or f"{error!r}"
        note.write_text(found.failed, encoding="utf-8")
        os._exit(bool(found.failed))

    def _anew(self, items: Sequence[pytest.Item], found: _Noticing) -> None:
        """Run tests with everything of ours loaded anew, where a fault lies in what runs on import."""
        for name, module in list(sys.modules.items()):
            if (getattr(module, "__file__", None) or "").startswith(str(self.folder)):
                del sys.modules[name]
        files = list(dict.fromkeys(item.nodeid.split("::")[0] for item in items))
        for some in (files[:_FILES], files[_FILES:]):
            wanted = [item.nodeid for item in items if item.nodeid.split("::")[0] in some]
            if wanted and not found.failed and time.process_time() < found.seconds:
                status = pytest.main([*QUIET, *some], plugins=[found, _Only(wanted, found)])
                if status not in {pytest.ExitCode.OK, pytest.ExitCode.INTERRUPTED}:
                    found.failed = found.failed or f"{status!r}"


@dataclass(slots=True, eq=False)
class _Only:
    """Runs the tests named, in their order."""

    wanted: Sequence[str]
    found: _Noticing

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Run them and no others."""
        items = {item.nodeid: item for item in session.items}
        self.found.run([items[name] for name in self.wanted if name in items])
        return True


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
    """Draw faults and try each; print what noticed it, the table, and whether those tests pass without a fault."""
    lines, (part, parts) = read_map(chosen.folder), map(int, chosen.part.split("/"))
    some = faults(chosen.count, chosen.seed, chosen.rooms)[part::parts]
    some = [each if lines.candidates(each) else replace(each, in_function=False) for each in some]  # run on import
    waiting = [(mutant, tests) for mutant in some if (tests := lines.candidates(mutant))]
    unseen = [mutant for mutant in some if not lines.candidates(mutant)]
    for mutant in unseen:
        print(f"SURVIVED, run by no test: {mutant.file} line {mutant.line}: {mutant.told}", flush=True)
    command = ["git", "ls-files", "-co", "--exclude-standard"]
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "copy"
        for name in subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout.splitlines():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, folder / name)
        os.chdir(folder)
        sys.path.insert(0, str(folder))
        sys.dont_write_bytecode = True
        os.environ.update(PYTHONPATH=str(folder), HYPOTHESIS_PROFILE="quick", PYTHONDONTWRITEBYTECODE="always")
        trial = _Trial(folder, waiting, chosen.seconds)
        pytest.main(
            [*QUIET, *dict.fromkeys(test.split("::")[0] for _, tests in waiting for test in tests)], plugins=[trial]
        )
    print(told_by_room(trial.killed, [*unseen, *trial.survivors]))
    if trial.fails:
        sys.exit(f"{trial.fails} fails on the source as it is")


def main() -> None:
    """Trace the suite, or try faults."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("map", "run"))
    parser.add_argument("folder", type=Path)
    parser.add_argument("tests", nargs="*", help="test files to trace, with map; all where none is named")
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--part", default="0/1", help="which of how many equal parts to try")
    parser.add_argument("--rooms", nargs="+", choices=ROOMS, default=ROOMS)
    parser.add_argument("--seconds", type=float, default=30.0, help="of the processor, for the tests of one fault")
    parser.add_argument("--at-once", type=int, default=2, help="processes that trace")
    chosen = parser.parse_args()
    if chosen.what == "map":
        sys.exit(trace(chosen.folder, chosen.tests, chosen.at_once))
    run(chosen)


if __name__ == "__main__":
    main()
