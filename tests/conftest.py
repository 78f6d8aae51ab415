"""The fixtures that several tests share, the Hypothesis profiles, and a CI run that fails where a test was skipped."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

from filtration.base.places import demo_names

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser
    from streamlit.testing.v1 import AppTest
    from visitor import Served

    from filtration import Comparison

# Matrices here are small: threads for each of them take the processor from the other workers and end no sooner.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
if os.environ.get("PYTHONDONTWRITEBYTECODE") != "always":  # else each of some hundred commands compiles all anew
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False
os.environ.pop("COLUMNS", None)  # commands print as wide as where nobody has said how wide

settings.register_profile("owner", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", parent=settings.get_profile("owner"), derandomize=True, database=None)
settings.register_profile("quick", parent=settings.get_profile("ci"), max_examples=5)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci" if os.environ.get("CI") == "true" else "owner"))


@pytest.fixture(scope="session", autouse=True)
def _answers_shared(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Let processes that run tests together answer a study once between them, unless each is to say what it ran."""
    import studies

    if "PYTEST_XDIST_WORKER" in os.environ and "LINE_MAP" not in os.environ:
        folder = tmp_path_factory.getbasetemp().parent / "answers"
        folder.mkdir(exist_ok=True)
        studies.shared.append(folder)


@pytest.fixture(scope="session")
def answer_of() -> Callable[[str], Comparison]:
    """Answer a demo study, once a session."""
    from studies import answered, demo_data

    return lambda name: answered(demo_data(name))


@pytest.fixture(scope="session")
def drawn_answer_of() -> Callable[[str], Comparison]:
    """Answer a demo study with as many draws as the page takes, once a session."""
    from studies import answered, demo_data

    from filtration.answers.decision import DRAWS

    return lambda name: answered(demo_data(name), DRAWS)


@pytest.fixture(params=demo_names())
def demo(request: pytest.FixtureRequest, answer_of: Callable[[str], Comparison]) -> Comparison:
    """Answer each demo study."""
    name: str = request.param
    return answer_of(name)


@pytest.fixture(params=demo_names())
def drawn(request: pytest.FixtureRequest, drawn_answer_of: Callable[[str], Comparison]) -> Comparison:
    """Answer each demo study with draws."""
    name: str = request.param
    return drawn_answer_of(name)


@pytest.fixture(scope="session")
def freezer(answer_of: Callable[[str], Comparison]) -> Comparison:
    """Answer the harbour's freezer tub."""
    return answer_of("freezer")


@pytest.fixture
def page() -> AppTest:
    """Return the pages as Streamlit's tester runs them, not yet run."""
    from pages import first_page

    return first_page()


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Serve the pages from another folder, as an owner would."""
    from visitor import served

    with served(tmp_path_factory.mktemp("elsewhere")) as running:
        yield running
    assert "Traceback" not in running.log.read_text()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start a browser; once a file, since other files run event loops of their own."""
    from browsing import CHROMIUM, FLAGS
    from playwright.sync_api import sync_playwright

    if not CHROMIUM:
        pytest.skip("chromium is not installed")
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield opened
        opened.close()


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what runs in a browser."""
    for item in items:
        if "browser" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.browser)


@pytest.hookimpl(tryfirst=True)
def pytest_xdist_auto_num_workers() -> int:
    """One more than there are cores: tests in a browser mostly wait."""
    return (os.cpu_count() or 1) + 1


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Leave out a test of open data that is not here, before its fixtures are made."""
    wants = item.get_closest_marker("open_data")
    if wants is not None and not wants.args[0].is_file():
        pytest.skip(wants.args[1])


def _skipped(reporter: pytest.TerminalReporter) -> tuple[list[pytest.TestReport], list[pytest.TestReport]]:
    """Return the tests left out for want of open data, and those for anything else."""
    every = reporter.stats.get("skipped", [])
    absent = [each for each in every if "open_data" in each.keywords]
    return absent, [each for each in every if each not in absent]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how many tests of open data were left out, and how to run them."""
    absent, _ = _skipped(terminalreporter)
    if absent:
        terminalreporter.write_line(f"open data: {len(absent)} tests not run, as it is not here; pytest -m open_data")


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Fail a CI run in which anything was skipped but for want of open data."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("CI") == "true" and reporter is not None and _skipped(reporter)[1]:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
        reporter.write_line("CI: a skipped test fails the run", red=True)
