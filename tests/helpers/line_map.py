"""Which tests run which line: pytest -p line_map, with LINE_MAP naming the folder that takes what each process saw.

What is made once and used by several tests (a fixture of a module, a function that remembers) is a context of its own,
beside those of the tests, and each test says which of them it used: so a line counts for all that lean on it.
"""

import functools
import hashlib
import json
import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import coverage
import pytest

ROOT = Path(__file__).resolve().parents[2]
SEEN = Path(os.environ.get("LINE_MAP", ""))
HOT = ("base/units.py", "loading/law.py", "physics/plumbing.py", "service/pace.py")
"""Modules whose functions remember a single number: too many calls to follow, and as cheap to make again."""
MADE_ONCE = ("answered", "central", "ranked", "leaning")
"""Functions of ``studies`` that remember without a decorator."""

SHARED = ("made once: ", "fixture: ")
"""How the names of contexts begin that are no tests."""

_tracing = coverage.Coverage(
    data_file=str(SEEN / f"lines.{os.getpid()}"),
    branch=True,
    source=[str(ROOT / "filtration"), str(ROOT / "ui")],
    config_file=False,
)
_tracing.set_option("run:relative_files", True)
_contexts: list[str] = [""]
_uses: dict[str, set[str]] = {}
_seconds: dict[str, float] = {}


@contextmanager
def _inside(name: str) -> Iterator[None]:
    """Count lines for one context, and its own time, until it is left."""
    _contexts.append(name)
    _tracing.switch_context(name)
    start = time.process_time()
    try:
        yield
    finally:
        _seconds[name] = max(_seconds.get(name, 0.0), time.process_time() - start)
        _contexts.pop()
        _tracing.switch_context(_contexts[-1])


def _used(name: str) -> None:
    _uses.setdefault(_contexts[-1], set()).add(name)


def _followed(function: Callable[..., Any], remember: Callable[..., Any]) -> Callable[..., Any]:
    """Return a function that remembers, and says who used it and what it ran when it was made."""
    name = f"{SHARED[0]}{function.__module__}.{function.__qualname__}"
    of_tests = function.__code__.co_filename.startswith(str(ROOT / "tests"))

    def called(*given: Any) -> str:
        """Return the name of a call: of a test's helper each by what it was given, as some take long."""
        return f"{name} {hashlib.sha256(repr(given).encode()).hexdigest()[:16]}" if of_tests else name

    @functools.wraps(function)
    def made(*given: Any, **named: Any) -> Any:
        with _inside(called(given, named)):
            return function(*given, **named)

    kept = remember(made)

    @functools.wraps(function)
    def asked(*given: Any, **named: Any) -> Any:
        _used(called(given, named))
        return kept(*given, **named)

    asked.__dict__.update({key: getattr(kept, key) for key in ("cache_clear", "cache_info") if hasattr(kept, key)})
    return asked


def _is_followed(function: Any) -> bool:
    file = getattr(getattr(function, "__code__", None), "co_filename", "")
    return file.startswith(str(ROOT)) and not file.endswith(HOT)


def _following(remember: Callable[..., Any]) -> Callable[..., Any]:
    """Return a decorator such as ``functools.lru_cache`` that follows our own functions."""

    def decorator(first: Any = None, /, **options: Any) -> Any:
        if first is None or not callable(first):
            given = () if first is None else (first,)
            return lambda function: decorated(function, remember(*given, **options))
        return decorated(first, remember)

    def decorated(function: Any, remembering: Callable[..., Any]) -> Any:
        return _followed(function, remembering) if _is_followed(function) else remembering(function)

    return decorator


if __name__ == "line_map" and os.environ.get("LINE_MAP"):  # loaded as a plugin, before anything of ours
    functools.cache = _following(functools.cache)  # type: ignore[assignment]
    functools.lru_cache = _following(functools.lru_cache)  # type: ignore[assignment]
    _tracing.start()


def pytest_configure() -> None:
    """Follow the helpers that remember by themselves."""
    sys.path.insert(0, str(ROOT / "tests" / "helpers"))
    import studies

    for name in MADE_ONCE:
        setattr(studies, name, _followed(getattr(studies, name), lambda function: function))


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what runs in a browser or in another process."""
    apart = {"browser", "server", "served"}
    kept = [item for item in items if not apart & set(getattr(item, "fixturenames", ()))]
    config.hook.pytest_deselected(items=[item for item in items if item not in kept])
    items[:] = kept


@pytest.hookimpl(hookwrapper=True)
def pytest_fixture_setup(fixturedef: Any) -> Iterator[None]:
    """Count a shared fixture apart from the test that happens to be the first to ask for it."""
    if fixturedef.scope == "function":
        yield
        return
    with _inside(f"{SHARED[1]}{fixturedef.baseid}::{fixturedef.argname}"):
        yield


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Count lines for a test, and what it leans on."""
    with _inside(item.nodeid):
        for definitions in (getattr(item, "_fixtureinfo", None) and item._fixtureinfo.name2fixturedefs.values()) or ():
            for each in definitions:
                if each.scope != "function":
                    _used(f"{SHARED[1]}{each.baseid}::{each.argname}")
        yield


def pytest_sessionfinish() -> None:
    """Write what this process saw."""
    _tracing.stop()
    _tracing.save()
    uses = {name: sorted(used) for name, used in _uses.items()}
    (SEEN / f"uses.{os.getpid()}.json").write_text(json.dumps({"uses": uses, "seconds": _seconds}), encoding="utf-8")
