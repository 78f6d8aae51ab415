"""The page of how it works shows the published checks as the library works them out, and only when asked."""

from dataclasses import replace

import page_cache
import pytest
from pages import first_page
from streamlit.testing.v1 import AppTest

from filtration import verify
from filtration.present.words import verify as verify_words
from filtration.validation.published import Checks, judged

WAIT_S = 120


@pytest.fixture(scope="module")
def found() -> Checks:
    return verify()


@pytest.fixture
def page() -> AppTest:
    page = first_page().run()
    page.switch_page("screens/how_it_works.py").run()
    assert not page.exception
    return page


def pressed(page: AppTest) -> AppTest:
    (button,) = [each for each in page.button if each.label == verify_words.PRESS]
    button.click().run()
    assert not page.exception
    return page


def unescaped(text: str) -> str:
    return text.replace("\\", "")


def test_the_page_shows_the_librarys_figures(page: AppTest, found: Checks) -> None:
    """Computed, published, difference, tolerance and source of every case, and the sum of it."""
    before = len(page.dataframe)
    pressed(page)
    assert len(page.dataframe) == before + 1
    shown = page.dataframe[0].value
    assert {"computed", "published", "difference", "tolerance", "source", "memory"} <= set(shown.columns)
    expected = [[cells[key] for key in verify_words.COLUMNS] for cells in verify_words.rows(found)]
    assert shown.to_numpy().tolist() == expected
    assert [float(text) for text in shown["computed"]] == pytest.approx(
        [check.computed for check in found.checks], rel=0.02
    )
    (told,) = page.success
    assert unescaped(told.value).startswith(verify_words.summary(found))
    assert verify_words.not_held() in {unescaped(each.value) for each in page.caption}


def test_the_table_stays_when_something_else_is_touched(page: AppTest) -> None:
    pressed(page)
    number = len(page.dataframe)
    page.run()
    assert len(page.dataframe) == number


def test_a_check_that_fails_is_said_loudly(page: AppTest, found: Checks, monkeypatch: pytest.MonkeyPatch) -> None:
    first, *rest = found.checks
    wrong = judged(replace(first.case, published=(1.0,), between=None), first.all_computed)
    monkeypatch.setattr(page_cache, "checks", lambda: Checks(checks=(wrong, *rest)))
    pressed(page)
    (told,) = page.error
    assert "1 does not hold" in unescaped(told.value)
    assert page.dataframe[0].value["holds"].tolist().count("NO") == 1
