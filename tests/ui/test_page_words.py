"""Words of the pages: units of sentences, verdicts, dots, stories."""

import re
from collections.abc import Callable

import pytest
from looking import keys_in, raw_numbers
from page_text import plain

from filtration import Comparison, compare
from filtration.answers.clearness import Clearness
from filtration.answers.series import FlowRun
from filtration.present.charts.catalogue import METRIC, US
from filtration.present.words import answer as words
from filtration.present.words import in_units as unit_words
from filtration.present.words import pages as page_words
from filtration.present.words import stories as page_stories
from filtration.present.words.fields import FIELDS
from filtration.present.words.in_units import converted
from filtration.study.tables import TABLES, StudyFile


@pytest.mark.parametrize(
    ("metric", "us"),
    [
        ("1,260 L/h left", "333 gph left"),  # 1260 / 3.785411784 = 332.9
        ("420 L of water", "111 gal of water"),
        ("5.0 L of fresh water", "1.3 gal of fresh water"),
        ("3.6 m to see", "12 ft to see"),
        ("8.6 m and 4.4 m.", "28 ft and 14 ft."),
        ("At 20 °C instead of 4.0 °C", "At 68 °F instead of 39 °F"),
        ("0.50 and 1.0 m² of 20 µm", "5.4 and 11 sq ft of 20 µm"),
        ("5 and 50 µm pleated on 0.50 m²:", "5 and 50 µm pleated on 5.4 sq ft:"),
        ("at most 24 kPa (3.4 psi) for", "at most 96 in of water (3.4 psi) for"),
        ("more than 10 m;", "more than 33 ft;"),
        ("a deposit of 90 kg/m³", "a deposit of 90 kg/m³"),
        ("about 38 µm sinks", "about 38 µm sinks"),
        ("after 15 days for EUR 230", "after 15 days for EUR 230"),
        ("(480 to 1,440 L/h)", "(127 to 380 gph)"),
    ],
)
def test_a_sentence_in_us_units_by_hand(metric: str, us: str) -> None:
    assert converted(metric, US) == us
    assert converted(metric, METRIC) == metric


@pytest.mark.parametrize("sign", "\\`*_{}[]()<>#+-.!|~$:&")
def test_every_sign_that_a_page_reads_as_a_format_is_shown_as_it_stands(sign: str) -> None:
    """CommonMark 2.4 and GitHub's signs beside it; $ and : begin a formula and a colour on our pages."""
    assert plain(f"a{sign}b") == f"a\\{sign}b"


def test_no_address_in_a_name_becomes_a_link() -> None:
    """GitHub's Markdown links bare addresses, escaped or not: a mark without width comes between."""
    for name, apart in (
        ("owner@tub.example", "owner\u2060@tub\\.example"),
        ("WWW.tub.example", "WWW\u2060\\.tub\\.example"),
        ("ftp://tub", "ftp\\:\u2060//tub"),
    ):
        assert plain(name).replace("\u2060\\:", "\\:\u2060") == apart, name


def test_somebodys_own_names_stay() -> None:
    assert converted("Take Hose 5 m: 5 m.", US, ["Hose 5 m"]) == "Take Hose 5 m: 16 ft."


def test_no_sentence_of_an_answer_keeps_a_metric_unit(drawn_answer_of: Callable[[str], Comparison]) -> None:
    for name in ("freezer", "barrel", "quay"):
        answer = drawn_answer_of(name)
        lines = [words.headline(answer), *words.others(answer), *words.notes(answer), *words.cautions(answer.study)]
        for line in lines:
            told = converted(line, US, unit_words.own_names(answer.study))
            assert not re.search(r"\d ?(L|L/h|m|m²|°C|kPa|cm)(?![\w/³²])", told), told


def test_every_field_of_the_pages_is_a_key_of_the_file() -> None:
    for place in FIELDS:
        table, _, key = place.rpartition(".")
        fields = TABLES[table].model_fields if table else StudyFile.model_fields
        assert key in fields, place
        name, how = FIELDS[place]
        assert 3 <= len(name) <= (48 if table == "uncertainty" else 32)
        assert how.endswith(".")


@pytest.mark.parametrize(("seen", "says"), [(4.0, "crisp"), (3.99, "soft"), (1.0, "soft"), (0.99, "gone")])
def test_the_verdict_by_hand(seen: float, says: str) -> None:
    assert page_words.verdict(seen, 1.0) == says


def test_dots_are_whole_cases_the_same_however_many_draws(drawn: Comparison) -> None:
    assert page_words.dots(compare(drawn.study)) == page_words.dots(drawn)
    signs, _ = page_words.dots(drawn)
    sureness = drawn.spoken_of.sureness
    assert sureness is not None
    assert signs.count("●") + signs.count("◐") == round(20 * sureness.chance_of_meeting_needs)


def _run(first: float, last: float, ends: str) -> FlowRun:
    return FlowRun(day=(first, last), flow_l_per_h=(1500.0, 1260.0), ends_with=ends)  # type: ignore[arg-type]  # words of any kind are tried


def test_a_life_is_told(freezer: Comparison) -> None:
    option = freezer.options[0]
    assert page_stories.flow_story(option, (), METRIC).endswith("so it never runs.")
    once = page_stories.flow_story(option, (_run(0, 10, "replace"),), METRIC)
    assert once == "New it gives 1,500 L/h; after 10 days 1,260 L/h is left. Then it is replaced."
    twice = page_stories.flow_story(option, (_run(0, 10, "rinse"), _run(10, 18, "replace")), US)
    assert twice.startswith("New it gives 396 gph; after 10 days 333 gph is left. Rinsed once it lasts 18 days")
    assert twice.endswith("the first run lasts 10 days, the last 8 days.")


def test_the_view_is_told() -> None:
    clearness = Clearness(day=(1.0, 14.0), before_m=(12.0, 1.5), after_m=(5.0, 0.6))
    told = page_stories.clear_story(clearness, 0.7, METRIC)
    assert "5.0 m (bottom crisp)" in told
    assert "0.60 m (bottom gone)" in told
    assert "1.5 m (bottom soft)" in told


def test_lives_and_payments_are_told() -> None:
    lines = page_stories.water_or_filter({"A": 0.0, "B": 23.0, "C": 365.0}, 3.0, METRIC, 365.0)
    assert lines[1:] == [
        "A: not even fresh water stays clear enough.",
        "B: change the water at least every 23 days.",
        "C: a year and more.",
    ]
    assert page_stories.water_or_filter({}, 3.0, METRIC, 365.0) == []
    assert "from day 29 on; EUR 882 less after 5 years" in page_stories.paid_story("A", "B", 29, 882.0, "EUR", 5.0)
    assert "from day 29 on, after 4 rinses;" in page_stories.paid_story("A", "B", 29, 882.0, "EUR", 5.0, 4)
    assert "from the first day" in page_stories.paid_story("A", "B", 0, 10.0, "EUR", 1.0)
    assert "EUR 12 more" in page_stories.paid_story("A", "B", None, -12.0, "EUR", 1.0)
    assert "12 hours" in page_stories.time_story(12.0, 0.0, "EUR")
    assert "EUR 180" in page_stories.time_story(12.0, 180.0, "EUR")
    assert "no time of yours" in page_stories.time_story(0.0, 0.0, "EUR")


def test_raw_digits_and_keys_are_found_where_they_stand() -> None:
    """Else a page that is read for them would pass whatever it shows."""
    assert raw_numbers("day 144.986720107, 0.0123456 m, 12,345 L/h") == ["144.986720107", "0.0123456", "12,345"]
    assert raw_numbers("EUR 1,180.85 on 2026-11-30, 12,000 L, 1,749 L/h, 0.012 m, Tue 3 Mar 2026") == []
    assert keys_in("[[elements]] 14 … pleat_depth, pump.power") == ["[[elements]]", "pleat_depth", "pump.power"]
    assert keys_in("The pump. Elements, the tub: 4.5 m") == []
