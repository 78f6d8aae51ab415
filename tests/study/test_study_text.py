"""A study's text changed: the file says what is wanted, and remarks and order stay."""

import copy
import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from studies import EVERYTHING as EVERY_TEXT
from studies import demo_data

from filtration.base.places import demo_file, demo_names, template_text
from filtration.study.file import placed_faults
from filtration.study.text import text_of_tables, text_with

EVERYTHING = tomllib.loads(EVERY_TEXT)
TEXTS = [template_text(), template_text(us=True), *(demo_file(name).read_text("utf-8") for name in demo_names())]


@pytest.mark.parametrize("text", TEXTS)
def test_what_is_unchanged_stays_to_the_letter(text: str) -> None:
    assert text_with(text, tomllib.loads(text)) == text


@pytest.mark.parametrize("text", TEXTS)
def test_a_change_is_one_line_of_the_file(text: str) -> None:
    data = tomllib.loads(text)
    data["tub"] |= {"volume": "431 L", "still_share": 0.4}
    (data["pump"] if "pump" in data else data["pumps"][0]).pop("power")
    new = text_with(text, data)
    assert tomllib.loads(new) == data
    gone, come = (set(one.splitlines()) - set(other.splitlines()) for one, other in ((text, new), (new, text)))
    assert all(line.lstrip("{ ").startswith(("volume", "power", "name")) for line in gone), gone
    assert len(gone) <= 2
    assert len(come) <= 3
    assert [line for line in text.splitlines() if line.startswith("#")] == [
        line for line in new.splitlines() if line.startswith("#")
    ]


def test_a_remark_stays_behind_its_value() -> None:
    text = '# ours\n[tub]  # the tub\nvolume = "420 # L"  # timed\n\n# its pump\n[pump]\npower = "38 W"\n'
    new = text_with(text, {"tub": {"volume": "400 L"}, "pump": {"power": "40 W"}})
    assert new == '# ours\n[tub]  # the tub\nvolume = "400 L"  # timed\n\n# its pump\n[pump]\npower = "40 W"\n'


def test_rows_come_and_go() -> None:
    data = demo_data("freezer")
    text = demo_file("freezer").read_text("utf-8")
    del data["elements"][3], data["options"][3]
    data["elements"].append({"name": "New", "kind": "wound", "size": "10 x 2.5 in", "rating": "5 um"})
    new = text_with(text, data)
    assert tomllib.loads(new) == data
    assert "# they rinse when the flow asks for it" in new


def test_a_row_that_goes_takes_its_remarks_along_and_no_others() -> None:
    """Rows are known by their names where one is missing, so that each keeps the remarks of its own."""
    rows = {name: f'[[elements]]\nname = "{name}"\nprice = {price}  # {name}\'s\n' for price, name in enumerate("abc")}
    for gone in rows:
        kept = [{"name": name, "price": price} for price, name in enumerate("abc") if name != gone]
        left = [text for name, text in rows.items() if name != gone]
        assert text_with("\n".join(rows.values()), {"elements": kept}).split() == " ".join(left).split()


VALUES = st.one_of(st.text(max_size=8), st.integers(-9, 9), st.booleans(), st.lists(st.text(max_size=3), max_size=2))
TABLES = st.dictionaries(st.sampled_from(["name", "a", "b.c", "d e", ""]), VALUES, max_size=4)
STUDIES = st.dictionaries(
    st.sampled_from(["tub", "pump", "elements", "options", "x y"]),
    st.one_of(VALUES, TABLES, st.lists(TABLES, min_size=1, max_size=4)),
    max_size=4,
)


@given(STUDIES, STUDIES)
def test_whatever_the_text_it_says_what_is_wanted(before: dict[str, Any], after: dict[str, Any]) -> None:
    text = text_with(text_of_tables(before), after)
    assert tomllib.loads(text) == tomllib.loads(text_of_tables(after))


@pytest.mark.parametrize(
    "text", ["", "[tub", "a.b = 1", "[a.b]\nc = 1", 'tub = {volume = "1 L"}', 'x = """\n[tub]\n"""']
)
def test_an_odd_text_is_written_into_or_anew(text: str) -> None:
    assert tomllib.loads(text_with(text, EVERYTHING)) == tomllib.loads(text_of_tables(EVERYTHING))


@pytest.mark.parametrize("text", ["# mine\r\na.b = 1\r\n", '# mine\r\n[tub]\r\nvolume = "1 L"\r\n'])
def test_line_ends_stay(text: str) -> None:
    """As the file has them, whether its layout can be kept or not."""
    new = text_with(text, EVERYTHING)
    assert new.count("\n") == new.count("\r\n") > 2


def test_a_fault_has_its_place() -> None:
    data = copy.deepcopy(EVERYTHING)
    data["tub"]["volume"], data["elements"][1]["rating"] = "3 m", "0 um"
    places = [place for place, _ in placed_faults(data)]
    assert places == [("tub", "volume"), ("elements", 1, "rating")]
    assert placed_faults(EVERYTHING) == ()
