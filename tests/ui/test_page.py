"""The pages show the library's numbers, take changes, tell faults beside their field, and lose nothing."""

import io
import json
import random
import re
import tomllib
from collections.abc import Callable
from typing import Any

import page_answer
import page_cache
import page_fields
import page_frame
import page_kept
import page_link
import page_readings
import page_text
import pandas as pd
import pytest
from pages import ANSWER, at, charts_on, field, figures_on, opened, seen, text_on
from streamlit.runtime.context import ContextProxy, StreamlitTheme
from streamlit.testing.v1 import AppTest
from studies import answered, demo_data, demo_with

from filtration import Comparison, compare, savings, study_from_text
from filtration.answers.clearness import clearness_of
from filtration.answers.decision import DRAWS
from filtration.answers.series import answer_alone, flow_runs, flow_runs_at, follow_option, pressure_drops
from filtration.base.draws import ONE_IN_TEN
from filtration.base.places import demo_file, demo_names, pages_folder, template_text
from filtration.plan.spending import own_hours_per_year
from filtration.present.charts.catalogue import METRIC, PICTURES, US
from filtration.present.charts.clear import view_chart
from filtration.present.charts.drops import drops_words
from filtration.present.charts.paid import paid_words
from filtration.present.charts.series import life_chart
from filtration.present.words import answer as words
from filtration.present.words import fields as field_words
from filtration.present.words import front, phrases
from filtration.present.words import in_units as unit_words
from filtration.present.words import odds as sure_words
from filtration.present.words import pages as page_words
from filtration.present.words import savings as savings_words
from filtration.present.words import stories as page_stories
from filtration.study.file import study_from_dict
from filtration.study.text import text_of_tables

FEW = demo_with("freezer", "Spun 10", "Pleated 10", "Pleated 20", "Pleated 50")
FEW_TEXT = text_of_tables(FEW)
OTHERS = ("what_if", "flow_pressure", "money", "plan_ahead", "clear_water", "your_tub")


@pytest.fixture
def still(monkeypatch: pytest.MonkeyPatch, freezer: Comparison) -> None:
    """Spare a test of fields and files the working out of answers it does not look at."""
    monkeypatch.setattr(page_cache, "answer", lambda _text: freezer)


def changed(table: str, key: str, value: object) -> Comparison:
    """Answer the few options with one thing changed."""
    return compare(study_from_dict(FEW | {table: FEW[table] | {key: value}}), draws=DRAWS)


def text_in(page: AppTest) -> str:
    """Return the study the session looks at."""
    return str(page.session_state["tubs"][page.session_state["place"]])


@pytest.mark.parametrize("name", demo_names())
def test_the_answer_is_the_librarys(page: AppTest, drawn_answer_of: Callable[[str], Comparison], name: str) -> None:
    answer = drawn_answer_of(name)
    assert page_cache.DRAWS == DRAWS
    opened(page, page_cache.demo_text(name))
    assert not page.error
    best, text = answer.advised, text_on(page)
    assert best is not None
    figures = figures_on(page)
    assert figures["First service"] == phrases.due(best.days_to_first_service or 0.0)
    assert figures["A year"] == phrases.money(best.cost_per_year.total or 0.0, answer.study.currency)
    assert figures["Flow at rinse"] == phrases.flow(best.due_flow_l_per_h or 0.0)
    assert figures["Lowest visibility"] == phrases.distance(best.worst_view_m)
    assert words.headline(answer) in text
    for tell in (sure_words.sureness, words.others, words.notes):
        for line in tell(answer):
            assert " ".join(line.split()) in text
    for line in words.cautions(answer.study):
        assert " ".join(line.split()) in text
    signs, told = page_words.dots(answer)
    assert signs.count("●") + signs.count("◐") + signs.count("○") == 20
    assert signs in text
    assert told in text
    table = page.dataframe[0].value
    assert list(table["option"]) == [phrases.title(option, answer) for option in answer.options]
    for shown, option in zip(table["clean flow, L/h"], answer.options, strict=True):
        assert shown == pytest.approx(option.clean_flow_l_per_h, rel=0.005)
    charts = charts_on(page)
    for picture in ("map", "days_cases", "cost_cases", "days_drivers", "cost_drivers"):
        own = PICTURES[picture].draw(answer, METRIC).to_dict()
        assert charts[own["description"]]["layer"] == own["layer"]
        assert charts[own["description"]].get("data") == own.get("data")


def test_flow_and_pressure_are_the_librarys(page: AppTest, drawn_answer_of: Callable[[str], Comparison]) -> None:
    answer = drawn_answer_of("freezer")
    page.run()
    at(page, "flow_pressure")
    best = answer.spoken_of
    runs = flow_runs(follow_option(answer.study, best.id))
    assert page_stories.flow_story(best, runs, METRIC) in text_on(page)
    charts = charts_on(page)
    assert PICTURES["flow"].alt(answer, METRIC) in charts
    found = pressure_drops(answer.study, page_cache.central(page_cache.demo_text("freezer")).followed, best.id)
    assert drops_words(found, answer, 0.0, METRIC) in charts
    page.slider[0].set_value(4.0).run()
    assert drops_words(found, answer, 4.0, METRIC) in charts_on(page)
    (life,) = [chart for told, chart in charts.items() if told.startswith("Flow of")]
    others = [flow_runs_at(answer.study, best.id, score) for score in (ONE_IN_TEN, -ONE_IN_TEN)]
    own = life_chart(best, runs, *others, answer.wanted_flow_l_per_h, METRIC).to_dict()
    assert life["layer"] == own["layer"]  # its data bear the name of what is in them
    page.selectbox(key="which option").set_value("wound-50").run()
    assert "Then it is replaced." in text_on(page)
    assert any(told.startswith("Flow of Wound 50") for told in charts_on(page))
    at(page, "clear_water")
    assert page.selectbox(key="which option").value == "wound-50"  # goes along from page to page


def test_the_money_is_the_librarys(page: AppTest, drawn_answer_of: Callable[[str], Comparison]) -> None:
    answer = drawn_answer_of("quay")
    opened(page, page_cache.demo_text("quay"), "money")
    best, figures = answer.spoken_of, figures_on(page)
    cost = best.cost_per_year
    assert cost.own_time
    assert figures["A year, cash"] == phrases.money((cost.total or 0.0) - cost.own_time, "EUR")
    assert figures["Own time"] == f"{phrases.number(own_hours_per_year(answer.study, best))} h"
    assert figures["For the pump's heat"] == phrases.money(cost.cooling or 0.0, "EUR")
    assert page_stories.heat_story(best, answer, METRIC) in text_on(page)
    (shopping,) = (frame.value for frame in page.dataframe)
    bought = {event.item for event in best.events if event.what == "buy" and event.day < 365}
    assert set(shopping["what"]) == bought - {"electricity", "disinfectant"}
    assert savings_words.headline(savings(answer, best.id)) in text_on(page)  # guests: nothing to save
    assert {PICTURES["cost"].alt(answer, METRIC), paid_words(answer, best)} <= set(charts_on(page))


def test_the_savings_are_the_librarys(page: AppTest, drawn_answer_of: Callable[[str], Comparison]) -> None:
    answer = drawn_answer_of("freezer")
    opened(page, page_cache.demo_text("freezer"), "money")
    found = savings(answer)
    assert page.dataframe[1].value.to_dict("records") == savings_words.rows(found, METRIC)
    assert savings_words.page_method() in text_on(page)
    told = page.dataframe[1].value["what"]
    assert len(told) == len(found.changes) + 1  # and all together
    assert not told.str.contains("[a-z]_[a-z]|=").any()  # no key of the file


def test_clear_water_is_the_librarys(page: AppTest, drawn_answer_of: Callable[[str], Comparison]) -> None:
    answer = drawn_answer_of("freezer")
    page.run()
    at(page, "clear_water")
    clearness = clearness_of(follow_option(answer.study, answer.spoken_of.id))
    assert page_stories.clear_story(clearness, answer.study.tub.depth_m, METRIC) in text_on(page)
    assert "To see 3.0 m just after a session" in text_on(page)
    (view,) = [chart for told, chart in charts_on(page).items() if told.startswith("Visibility with")]
    own = view_chart(answer.spoken_of, clearness, answer.study.tub.depth_m, METRIC).to_dict()
    assert view["layer"] == own["layer"]


def test_how_it_works_lists_what_the_tub_leans_on(page: AppTest, freezer: Comparison) -> None:
    page.run()
    at(page, "how_it_works")
    told = [each.value for each in page.markdown]
    assert all(any(line.startswith(f"**{name}.** ") for line in told) for name in page_words.WORKS)
    for line in words.assumptions(freezer.study):
        assert line in text_on(page)
    assert len(page.dataframe[0].value) > 100


WRITTEN: dict[str, tuple[str, object]] = {
    "tub.volume": ("500", "500 L"),
    "tub.water_temperature": ("12", "12 degC"),
    "tub.uses_per_day": ("3", 3),
    "tub.water_change_every": ("7", "7 day"),
    "tub.showered_share": ("0.9", 0.9),
    "pump.shutoff_head": ("3.5", "3.5 m"),
    "pump.max_flow": ("3000", "3000 L/h"),
    "plumbing.bore": ("25", "25 mm"),
    "needs.turnovers_per_hour": ("2", 2),
    "needs.see_through": ("4.5", "4.5 m"),
    "prices.own_time_per_hour": ("20", 20),
}


@pytest.mark.usefixtures("still")
def test_each_field_reaches_the_file(page: AppTest) -> None:
    """One after the other; what was changed before stays as it was."""
    at(page.run(), "your_tub")
    data = demo_data("freezer")
    for place, (value, written) in WRITTEN.items():
        field(page, place).set_value(value).run()
        assert not page.exception, place
        table, key = place.split(".")
        data.setdefault(table, {})[key] = written
        assert tomllib.loads(text_in(page)) == data, place


def test_a_changed_pump_changes_the_answer_on_every_page(page: AppTest) -> None:
    opened(page, FEW_TEXT, "your_tub")
    field(page, "pump.shutoff_head").set_value("3.5").run()
    answer, before = changed("pump", "shutoff_head", "3.5 m"), answered(FEW)
    assert answer.advised is not None
    assert before.advised is not None
    assert front.sentence(answer.advised, answer) in text_on(page)
    assert phrases.due(answer.advised.days_to_first_service or 0.0) in text_on(page)
    at(page, ANSWER)
    assert words.headline(answer) in text_on(page)  # which the change of page has not lost
    assert words.headline(answer) != words.headline(before)
    at(page, "your_tub")
    assert field(page, "pump.shutoff_head").value == "3.5"


@pytest.mark.usefixtures("still")
def test_words_and_ticks_reach_the_file_too(page: AppTest) -> None:
    at(page.run(), "your_tub")
    field(page, "tub.feet").set_value("from the garden").run()
    field(page, "tub.shared_with_public").set_value(True).run()
    field(page, "name").set_value("Ours").run()
    read = tomllib.loads(text_in(page))
    assert read["tub"]["feet"] == "from the garden"
    assert read["tub"]["shared_with_public"] is True
    assert read["name"] == "Ours"


@pytest.mark.usefixtures("still")
def test_us_prices_and_capitals_of_a_file_are_shown_as_they_are_meant(page: AppTest) -> None:
    text = template_text(us=True).replace('# feet = "indoors"', 'feet = "From the garden"')
    opened(page, text, "your_tub")
    assert field(page, "tub.feet").value == "from the garden"
    assert not [each for each in page.text_input if ".prices.water_per_m3." in str(each.key)]
    field(page, "prices.water_per_1000_gal").set_value("9.5").run()
    assert tomllib.loads(text_in(page))["prices"] == {"electricity_per_kwh": 0.17, "water_per_1000_gal": 9.5}


def test_a_fault_stands_below_its_field_and_stops_the_other_pages(page: AppTest) -> None:
    opened(page, FEW_TEXT, "your_tub")
    field(page, "tub.volume").set_value("0").run()
    assert not page.exception
    assert "Must be 1 L to 100 m³, got '0 L'" in text_on(page)
    assert "about every" not in text_on(page)
    at(page, ANSWER)
    assert "1 things" not in text_on(page)
    assert "One thing about this tub does not fit yet." in text_on(page)
    assert not page.metric
    at(page, "your_tub")
    field(page, "tub.volume").set_value("420").run()
    assert "about every" in text_on(page)
    assert "Must be" not in text_on(page)


@pytest.mark.usefixtures("still")
def test_a_fault_in_what_is_folded_away_opens_it(page: AppTest) -> None:
    at(page.run(), "your_tub")
    field(page, "tub.depth").set_value("99").run()
    assert "Must be 5 cm to 10 m" in text_on(page)
    assert [each.label for each in page.expander if each.proto.expanded] == [field_words.GROUPS["tub"]]


def start_from(page: AppTest, label: str) -> None:
    next(button for button in page.button if button.label == label).click().run()
    assert not page.exception


def test_an_empty_tub_says_what_is_still_to_fill_in_and_answers_once_it_is(page: AppTest) -> None:
    at(page.run(), "your_tub")
    start_from(page, field_words.EMPTY)
    assert not page.error
    told = next(part.value for part in page.info)
    for key in ("tub.volume", "pump.shutoff_head", "pump.power", "plumbing.bore"):
        assert field_words.FIELDS[key][0] in told
    filled = {
        "tub.volume": "420", "tub.water_temperature": "4", "tub.uses_per_day": "6", "pump.shutoff_head": "2.4",
        "pump.max_flow": "2400", "pump.power": "38", "plumbing.bore": "19", "plumbing.length": "3",
    }  # fmt: skip
    for place, value in filled.items():
        field(page, place).set_value(value).run()
    assert not page.info
    answer = compare(study_from_text(text_in(page)), draws=DRAWS)
    assert answer.advised is not None
    assert front.sentence(answer.advised, answer) in text_on(page)
    assert len(answer.options) == len(demo_data("freezer")["elements"])


@pytest.mark.usefixtures("still")
def test_several_tubs_stay_beside_each_other(page: AppTest) -> None:
    at(page.run(), "your_tub")
    field(page, "tub.volume").set_value("500").run()
    start_from(page, page_cache.demos()["barrel"])
    assert field(page, "tub.volume").value == "220"
    assert page.selectbox(key="which tub").options == ["Harbour freezer tub", page_cache.demos()["barrel"]]
    page.selectbox(key="which tub").set_value(0).run()
    assert field(page, "tub.volume").value == "500"
    start_from(page, "Take this tub away")
    assert field(page, "tub.volume").value == "220"


@pytest.mark.usefixtures("still")
def test_an_untouched_demo_gives_way(page: AppTest) -> None:
    at(page.run(), "your_tub")
    start_from(page, page_cache.demos()["quay"])
    assert len(page.session_state["tubs"]) == 1
    assert "Several pumps are compared: Pond pump, Dry pump." in text_on(page)


@pytest.mark.usefixtures("still")
def test_a_link_carries_the_tubs_and_what_was_wrong_with_them(page: AppTest) -> None:
    texts = [page_cache.demo_text("barrel"), page_cache.demo_text("quay").replace('"900 L"', '"0 L"')]
    page.query_params["study"] = page_link.packed(texts) or ""
    page.query_params["tub"] = "1"
    page.query_params["units"] = "us"
    page.run()
    assert page.session_state["tubs"] == texts
    assert "Must be 1 L to 100 m³, got '0 L'" in text_on(page)
    assert field(page, "tub.volume").label == "Water, US gal"


@pytest.mark.usefixtures("still")
def test_the_address_follows_the_changes(page: AppTest) -> None:
    page.run()
    assert "study" not in page.query_params
    field(page, "tub.volume").set_value("500").run()
    word = "".join(page.query_params["study"])
    assert page_link.unpacked(word) == [text_in(page)]
    assert len(word) < page_link.MOST_CHARACTERS


@pytest.mark.parametrize(
    ("word", "held"),
    [
        *((word, False) for word in ("x", "!", "eJw", "A" * 7000)),
        *((page_link.packed([text]), False) for text in ("[tub", "tub = 3")),
        *((page_link.packed([text]), True) for text in ("", "x = 1")),
    ],
)
def test_a_broken_link_opens_the_page_all_the_same(page: AppTest, word: str, *, held: bool) -> None:
    """On the study it holds, right or wrong, or on a demo, and says so."""
    page.query_params["study"] = word
    page.query_params["tub"] = "99"
    page.run()
    assert not page.exception
    assert ("The link holds no study that can be read; here is a demo instead." in text_on(page)) != held
    at(page, ANSWER)


@pytest.mark.usefixtures("still")
def test_a_study_too_long_for_a_link_is_told_to_be_saved(page: AppTest) -> None:
    draw = random.Random(1)
    noise = "".join(chr(draw.randint(40, 90)) for _ in range(12_000))
    long = "\n".join(f"# {noise[start : start + 1000]}" for start in range(0, 12_000, 1000))
    at(page.run(), "your_tub")
    upload(page, (page_cache.demo_text("freezer") + long).encode())
    assert "too long for the page's address" in text_on(page)
    assert "study" not in page.query_params


def upload(page: AppTest, content: bytes) -> AppTest:
    page.file_uploader[0].set_value(("mine.toml", content, "application/toml")).run()
    assert not page.exception
    return page


BAD_FILES = {
    "is not UTF-8 text": b"\xff\xfe\x00",
    "is not TOML": b"[tub",
    "is missing": b"",
    "more than the 1 MB allowed": b"x = 1\n" * 200_000,
    "needs a volume such as '420 L', got '3 m'": b'[tub]\nvolume = "3 m"\nvolumme = 1',
}


@pytest.mark.usefixtures("still")
def test_a_bad_file_is_told_in_words_and_changes_nothing(page: AppTest) -> None:
    at(page.run(), "your_tub")
    for told, content in BAD_FILES.items():
        assert told not in text_on(page)
        upload(page, content)
        assert told in text_on(page)
        assert text_in(page) == page_cache.demo_text("freezer"), told


@pytest.mark.usefixtures("still")
def test_a_file_is_used_and_saved_as_it_came(page: AppTest) -> None:
    at(page.run(), "your_tub")
    content = demo_file("barrel").read_bytes()
    upload(page, content)
    assert text_in(page).encode() == content
    assert field(page, "tub.volume").value == "220"


def test_names_are_shown_and_not_obeyed(page: AppTest) -> None:
    name = "![x](http://example.com/x.png) :red[a] $b$ <i>"
    data = json.loads(json.dumps(demo_with("freezer", "Pleated 10")).replace('"Pleated 10"', json.dumps(name)))
    opened(page, text_of_tables(data))
    assert page.header[0].value == page_text.plain(name)
    assert seen(page.header[0].value) == name
    assert not re.search(r"(?<!\\)!(?<!\\)\[", "".join(part.value for part in page.markdown))


def file_with(old: str, new: str) -> str:
    assert old in FEW_TEXT
    return FEW_TEXT.replace(old, new)


@pytest.mark.parametrize(
    ("old", "new", "note", "gone"),
    [
        ("turnovers_per_hour = 3", 'flow = "1200 L/h"', "", "needs.turnovers_per_hour"),
        (
            "turnovers_per_hour = 3",
            "share_of_clean_flow = 0.8",
            "",
            "needs.turnovers_per_hour",
        ),
        (
            'shutoff_head = "2.4 m"\nmax_flow = "2400 L/h"',
            'curve = [["0 L/h", "2.4 m"], ["1200 L/h", "1.9 m"], ["2400 L/h", "0 m"]]',
            "The pump is given by points of its curve",
            "pump.max_flow",
        ),
        (
            'shutoff_head = "2.4 m"\nmax_flow = "2400 L/h"\npower = "38 W"\nplaced = "in the water"',
            'power = "38 W"\n[measured]\nlift_test = [["0 m", "24 L/min"], ["1.2 m", "9 L/min"]]',
            "The lift test stands for",
            "pump.max_flow",
        ),
    ],
)
@pytest.mark.usefixtures("still")
def test_what_the_file_says_in_another_way_is_no_field(page: AppTest, old: str, new: str, note: str, gone: str) -> None:
    opened(page, file_with(old, new), "your_tub")
    assert note in text_on(page)
    few, _ = page_fields.short(tomllib.loads(file_with(old, new)))
    assert gone not in {field.place for fields in few.values() for field in fields}


@pytest.mark.usefixtures("still")
def test_never_is_shown_where_the_file_says_so(page: AppTest) -> None:
    opened(page, file_with('water_change_every = "14 day"', 'water_change_every = "never"'), "your_tub")
    assert field(page, "tub.water_change_every").placeholder == "never"
    field(page, "tub.water_change_every").set_value("14").run()
    assert tomllib.loads(text_in(page)) == FEW


def test_no_option_that_meets_the_needs_is_an_answer_too(page: AppTest) -> None:
    opened(page, file_with("turnovers_per_hour = 3", "turnovers_per_hour = 50"))
    assert "No option meets your needs" in text_on(page)
    assert not page.metric
    for name in OTHERS:
        at(page, name)


def test_where_hardly_any_water_moves_every_page_says_so(page: AppTest) -> None:
    opened(page, file_with('max_flow = "2400 L/h"', 'max_flow = "20 L/h"'))
    assert "In 20 of 20 cases no option meets your needs." in text_on(page)
    assert "No picture: no cases to show" in text_on(page)
    for name in OTHERS:
        at(page, name)


def test_where_no_water_moves_every_page_says_so(page: AppTest) -> None:
    opened(page, file_with('length = "3 m"', 'length = "3 m"\nstatic_lift = "3 m"'))
    for name in OTHERS:
        at(page, name)


def counted(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Note every call that works something out."""
    calls: list[str] = []

    def counting(name: str, call: Callable[..., Any]) -> Callable[..., Any]:
        def counted_call(*args: Any, **kwargs: Any) -> Any:
            calls.append(name)
            return call(*args, **kwargs)

        return counted_call

    for name in ("central_of", "ranked", "study_from_text", "smallest_pump", "area_for_interval", "savings"):
        monkeypatch.setattr(page_cache, name, counting(name, getattr(page_cache, name)))
    monkeypatch.setattr(page_readings, "outcome_of", counting("outcome_of", page_readings.outcome_of))
    for module in (page_cache.series, page_cache.clear):
        for name in ("answer_alone", "follow_option", "flow_runs_at", "clearness_of", "longest_water_life_days"):
            if hasattr(module, name):
                monkeypatch.setattr(module, name, counting(name, getattr(module, name)))
    return calls


@pytest.mark.parametrize("name", list(page_words.PAGES))
def test_a_change_of_looks_works_nothing_out_anew(page: AppTest, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    opened(page, FEW_TEXT, name)
    calls = counted(monkeypatch)
    page.button_group(key="which units").set_value("us").run()
    assert not page.exception
    page.button_group(key="which units").set_value("metric").run()
    drawn = [chart.proto.spec for chart in page.get("vega_lite_chart")]
    monkeypatch.setattr(ContextProxy, "theme", property(lambda _self: StreamlitTheme({"type": "dark"})))
    at(page, name)
    assert calls == []
    if drawn:  # letters have another colour, so that the theme was seen
        assert [chart.proto.spec for chart in page.get("vega_lite_chart")] != drawn
    if name == "your_tub":
        field(page, "tub.volume").set_value("433").run()
        assert "central_of" in calls  # the counter counts


def test_the_pages_take_from_the_answer_what_it_has_worked_out(page: AppTest, monkeypatch: pytest.MonkeyPatch) -> None:
    opened(page, file_with('"420 L"', '"437 L"'))
    calls = counted(monkeypatch)
    at(page, "what_if")
    assert calls == []
    at(page, "flow_pressure")
    assert sorted(calls) == ["flow_runs_at", "flow_runs_at", "follow_option", "follow_option"]  # more dirt, and less
    at(page, "clear_water")
    assert "follow_option" not in calls[4:]
    calls.clear()
    at(page, "money")
    assert calls == ["savings"]


def test_us_units_are_shown_throughout(page: AppTest, drawn_answer_of: Callable[[str], Comparison]) -> None:
    answer = drawn_answer_of("freezer")
    best = answer.advised
    assert best is not None
    page.query_params["units"] = "us"
    page.run()
    assert float(field(page, "tub.volume").value) == pytest.approx(420.0 / 3.785411784, rel=1e-3)
    assert field(page, "tub.water_temperature").value == "39.2"
    assert text_in(page) == page_cache.demo_text("freezer")  # looked at, not changed
    for name in (ANSWER, *OTHERS[:-1]):
        at(page, name)
        left = unit_words.converted(text_on(page), US, unit_words.own_names(answer.study))
        assert left == text_on(page), name  # nothing metric is left to convert
        assert not re.search(r"[0-9] ?(L/h|kPa|cm of water|°C)\b", text_on(page))
    at(page, ANSWER)
    flow = phrases.number((best.due_flow_l_per_h or 0.0) / 3.785411784, 3)
    assert figures_on(page)["Flow at rinse"] == f"{flow} gph"
    table = page.dataframe[0].value
    assert table["clean flow, gph"][0] == pytest.approx(best.clean_flow_l_per_h / 3.785411784, rel=5e-3)


@pytest.mark.usefixtures("still")
def test_a_us_value_is_written_in_its_unit(page: AppTest) -> None:
    page.query_params["units"] = "us"
    page.run()
    field(page, "tub.volume").set_value("110").run()
    assert tomllib.loads(text_in(page))["tub"]["volume"] == "110 gal"
    assert field(page, "tub.volume").value == "110"
    page.button_group(key="which units").set_value("metric").run()
    assert field(page, "tub.volume").value == "416"


def test_what_if_keeps_the_old_answer_beside_the_new(page: AppTest) -> None:
    before = answered(FEW, DRAWS)
    opened(page, FEW_TEXT, "what_if")
    page.slider[0].set_value(3.0).run()
    assert not page.exception
    answer = changed("tub", "uses_per_day", 3)
    text = text_on(page)
    assert words.headline(before)[:200] in text
    assert words.headline(answer)[:200] in text
    taken = before.spoken_of
    rows = page.dataframe[0].value.set_index(taken.name)
    alone = answer_alone(answer.study, taken.id)
    assert rows["as it is"]["first service"] == phrases.due(taken.days_to_first_service or 0.0)
    assert rows["as it would be"]["first service"] == phrases.due(alone.days_to_first_service or 0.0)
    assert text_in(page) == FEW_TEXT
    start_from(page, "Keep it so")
    assert tomllib.loads(text_in(page))["tub"]["uses_per_day"] == 3


def test_what_is_kept_of_a_what_if_keeps_the_remarks_of_the_file() -> None:
    text = page_cache.demo_text("freezer")
    moved = page_cache.moved(text, "tub", "uses_per_day", 3)
    assert tomllib.loads(moved)["tub"]["uses_per_day"] == 3
    assert [line for line in moved.splitlines() if line.startswith("#")] == [
        line for line in text.splitlines() if line.startswith("#")
    ]


def test_anything_can_be_moved(page: AppTest) -> None:
    opened(page, FEW_TEXT, "what_if")
    for place in field_words.WHAT_IFS:
        page.selectbox(key="what if").set_value(place).run()
        assert not page.exception, place
        slider = page.slider[0]
        assert slider.min <= slider.value <= slider.max, place
        assert slider.label.startswith(field_words.FIELDS[place][0]), place


def test_what_if_asks_for_sizes(page: AppTest) -> None:
    opened(page, FEW_TEXT, "what_if")
    for label, told in (("Smallest pump", "the present"), ("Area it takes", "first run")):
        start_from(page, label)
        assert told in text_on(page)


def test_the_table_goes_to_a_spreadsheet_unharmed(freezer: Comparison) -> None:
    table = page_answer.table_of(freezer)
    table.loc[0, "option"] = "=1+1"
    back = pd.read_csv(io.BytesIO(page_frame.csv_of(table)), encoding="utf-8-sig")
    assert list(back.columns) == list(table.columns)
    assert back["option"][0] == "'=1+1"
    assert list(back["option"][1:]) == [option.name for option in freezer.options[1:]]
    assert back["a year, EUR"][0] == round(freezer.options[0].cost_per_year.total or 0.0)


def test_an_answer_is_worked_out_once_and_tells_its_progress() -> None:
    text = file_with('"420 L"', '"431 L"')
    told: list[float] = []
    with page_kept.telling(lambda share, _what: told.append(share)):
        first = page_cache.answer(text)
    assert told == sorted(told)
    assert told[-1] == 1.0
    told.clear()
    with page_kept.telling(lambda share, _what: told.append(share)):
        assert page_cache.answer(text) is first
    assert not told


def test_every_page_has_its_file_and_its_words() -> None:
    files = {path.stem for path in (pages_folder() / "screens").glob("*.py")}
    assert files == set(page_words.PAGES)


def test_the_front_page_asks_for_what_fits_the_file_alone(page: AppTest) -> None:
    """Several pumps, or a curve, have no three numbers of one box; a number typed there would be a fault."""
    opened(page, page_cache.demo_text("quay"), "your_filter")
    assert not [each for each in page.text_input if ".pump." in str(each.key)]
    assert "Several pumps are compared" in text_on(page)
    assert not page.error


def test_a_click_on_the_map_looks_at_a_filter_on_every_page(page: AppTest) -> None:
    opened(page, FEW_TEXT, "your_filter")
    answer = answered(FEW, DRAWS)
    assert front.sentence(answer.spoken_of, answer) == seen(page.title[0].value)
    page.selectbox(key="which option").set_value("spun-10").run()
    assert front.sentence(answer.option("spun-10"), answer) == seen(page.title[0].value)
    (drawn,) = [chart for told, chart in charts_on(page).items() if told.startswith("Days to the first service")]
    assert [each["views"] for each in drawn["params"]] == [["cells"]]  # what is clicked is a field
    at(page, "money")
    assert page.selectbox(key="which option").value == "spun-10"
