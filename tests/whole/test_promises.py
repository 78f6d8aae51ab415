"""Every promise has its test, and a way to break it on purpose; ``bench/bench_promises.py`` sees the tests fail."""

import ast

import pytest
from promise_breaks import BREAKS, PAGE, Break, file_of, promise_of, promised, text_of

EVERY = [each for some in BREAKS.values() for each in some]


def test_every_promise_names_a_test_that_is_there() -> None:
    assert len(promised()) >= 25
    for promise, tests in promised():
        assert tests, promise
        for named in tests:
            file, name = named.split("::")
            tree = ast.parse(text_of(file_of(file)))
            assert name in {each.name for each in tree.body if isinstance(each, ast.FunctionDef)}, named


def test_every_promise_and_every_test_of_it_has_a_break() -> None:
    broken = {promise_of(start)[0]: {each.test for each in some} for start, some in BREAKS.items()}
    assert broken == {promise: set(tests) for promise, tests in promised()}
    promises, ways = len(broken), len(EVERY)
    assert f"{promises} promises, {ways} ways." in " ".join(PAGE.read_text("utf-8").split())


@pytest.mark.parametrize("each", EVERY, ids=range(len(EVERY)))
def test_a_break_finds_what_it_changes(each: Break) -> None:
    """Else the table would go stale as the program changes."""
    before = text_of(each.file)
    assert before.count(each.old) == 1, each
    after = before.replace(each.old, each.new)
    assert after != before
    if each.file.endswith(".py"):
        ast.parse(after)
