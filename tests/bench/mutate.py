"""Change the physics one place at a time and see whether the tests notice: python tests/bench/mutate.py --count 150.

Each mutant is one changed operator, comparison, constant or function in one module from permeability to lives. It
lives in a forked process that imports the changed source and runs the tests, quickest first, until one fails.
Survivors are printed with their line; docs/validation.md says of each why it may live.
"""

import argparse
import ast
import contextlib
import copy
import importlib.abc
import importlib.machinery
import importlib.util
import os
import random
import signal
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MODULES = (
    "physics.permeability",
    "physics.capture",
    "physics.optics",
    "physics.settling",
    "physics.soil",
    "physics.media",
    "physics.pump",
    "physics.plumbing",
    "physics.loop",
    "physics.tub",
    "loading.law",
    "loading.stage",
    "loading.table",
    "loading.case",
    "loading.runs",
    "loading.capacity",
    "service.care",
    "service.walk",
    "service.lives",
)
TESTS = (
    "tests/physics/test_elements.py",
    "tests/validation/test_published.py",
    "tests/service/test_one_walk.py",
    "tests/service/test_lifetime.py",
    "tests/present/test_words.py",
    "tests/loading/test_slow_solver.py",
    "tests/loading/test_properties.py",
    "tests/plan/test_plan.py",
)
LEFT_OUT = "not neighbours and not long_run"  # slow, and they say nothing the others do not
SECONDS = 900
_SWAPS: dict[type, type] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.And: ast.Or,
    ast.Or: ast.And,
}
_NAMES = {"minimum": "maximum", "maximum": "minimum", "max": "min", "min": "max", "any": "all", "all": "any"}


def _places(tree: ast.AST) -> Iterator[tuple[ast.AST, str]]:
    """Yield every node that can be changed inside a function, and how."""
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef):
            for node in (each for part in function.body for each in ast.walk(part)):
                if isinstance(node, ast.BinOp | ast.BoolOp) and type(node.op) in _SWAPS:
                    yield node, "op"
                elif isinstance(node, ast.Compare) and type(node.ops[0]) in _SWAPS:
                    yield node, "ops"
                elif isinstance(node, ast.Constant) and type(node.value) in {int, float}:
                    yield node, "value"
                elif isinstance(node, ast.Attribute) and node.attr in _NAMES:
                    yield node, "attr"


def _change(node: ast.AST, how: str) -> str:
    """Change a node in place; return what was done."""
    if isinstance(node, ast.BinOp | ast.BoolOp):
        before, node.op = type(node.op), _SWAPS[type(node.op)]()
        return f"{before.__name__} -> {type(node.op).__name__}"
    if isinstance(node, ast.Compare):
        before, node.ops[0] = type(node.ops[0]), _SWAPS[type(node.ops[0])]()
        return f"{before.__name__} -> {type(node.ops[0]).__name__}"
    if isinstance(node, ast.Constant):
        old = node.value
        node.value = old + 1 if isinstance(old, int) else old * 1.3 + 0.1
        return f"{old} -> {node.value}"
    if isinstance(node, ast.Attribute):
        old, node.attr = node.attr, _NAMES[node.attr]
        return f"{old} -> {node.attr}"
    raise TypeError(how)


class _Changed(importlib.abc.Loader, importlib.abc.MetaPathFinder):
    """Imports one module of the package from a changed tree."""

    def __init__(self, module: str, tree: ast.Module, path: Path) -> None:
        self.name, self.tree, self.path = f"filtration.{module}", tree, path

    def find_spec(self, name: str, *_: object) -> importlib.machinery.ModuleSpec | None:
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def exec_module(self, module: object) -> None:
        exec(compile(self.tree, str(self.path), "exec"), vars(module))  # noqa: S102 - our own source, changed


def _survives(module: str, tree: ast.Module, path: Path) -> bool:
    """Run the tests in a fork with the changed module; whether all of them pass."""
    child = os.fork()
    if child == 0:
        with Path(os.devnull).open("w", encoding="utf-8") as nowhere:
            os.dup2(nowhere.fileno(), 1)
            os.dup2(nowhere.fileno(), 2)
        signal.alarm(SECONDS)
        sys.meta_path.insert(0, _Changed(module, tree, path))
        os.environ["HYPOTHESIS_PROFILE"] = "quick"
        quick = ["-x", "-q", "-p", "no:cacheprovider", "-o", "addopts=--import-mode=importlib", "-k", LEFT_OUT]
        quick += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]
        status = 1
        with contextlib.suppress(BaseException):
            importlib.import_module(f"filtration.{module}")  # before pytest finds the file as it is
            doctest = pytest.main([*quick, "--doctest-modules", str(path)])
            status = int(doctest not in {pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED}) or int(
                pytest.main([*quick, *(str(ROOT / test) for test in TESTS)])
            )
        os._exit(1 if status else 0)
    _, status = os.waitpid(child, 0)
    return status == 0


def file_of(module: str) -> Path:
    """Return where a module of the package stands."""
    return ROOT / "filtration" / f"{module.replace('.', '/')}.py"


def _mutants(count: int, seed: int) -> Sequence[tuple[str, int]]:
    """Draw modules and places, evenly over all places."""
    every = []
    for module in MODULES:
        tree = ast.parse(file_of(module).read_text(encoding="utf-8"))
        every += [(module, index) for index, _ in enumerate(_places(tree))]
    random.Random(seed).shuffle(every)
    return every[:count]


def main() -> None:
    """Draw mutants, run them, print survivors and the share killed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=150)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--part", default="0/1", help="which of how many equal parts to run")
    chosen = parser.parse_args()
    part, parts = map(int, chosen.part.split("/"))
    for heavy in (
        "scipy.optimize",
        "scipy.integrate",
        "scipy.interpolate",
        "pydantic",
        "pint",
        "hypothesis",
        "CoolProp",
    ):
        importlib.import_module(heavy)
    untouched = file_of("physics.permeability")
    if not _survives("physics.permeability", ast.parse(untouched.read_text(encoding="utf-8")), untouched):
        sys.exit("the tests fail on the source as it is")
    mutants, survivors, start = _mutants(chosen.count, chosen.seed)[part::parts], 0, time.monotonic()
    for done, (module, index) in enumerate(mutants, start=1):
        path = file_of(module)
        tree = ast.parse(path.read_text(encoding="utf-8"))
        places = list(_places(tree))
        node, how = places[index]
        line, told = node.lineno, _change(node, how)  # type: ignore[attr-defined]  # every node a mutant changes has a line
        if _survives(module, ast.fix_missing_locations(copy.deepcopy(tree)), path):
            survivors += 1
            print(f"survived: {module}.py line {line}: {told}", flush=True)
        if done % 10 == 0:
            print(f"{done} of {len(mutants)}, {survivors} survive, {time.monotonic() - start:.0f} s", flush=True)
    print(f"killed {len(mutants) - survivors} of {len(mutants)}: {1 - survivors / len(mutants):.1%}")


if __name__ == "__main__":
    main()
