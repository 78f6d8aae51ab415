"""Figures read back out of sentences, tables and cells, each from its own place, and held against the document."""

import io
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import openpyxl
import pytest
from plans import FIRST_DAY, SHEET, case_of, sheet_tub
from studies import WOUND, Given, changed, study_of

from filtration import Comparison, compare
from filtration.answers.results import OptionAnswer
from filtration.plan.dated import Plan
from filtration.plan.dated_plan import plan
from filtration.present import console
from filtration.present.charts import clear, rating_map
from filtration.present.documents import answer_document, plan_document
from filtration.present.exports.card import render_card
from filtration.present.exports.message import write_message
from filtration.present.exports.report import render_report
from filtration.present.exports.workbook import build_workbook
from filtration.present.words import answer as answer_words
from filtration.present.words import forecast as forecast_words
from filtration.present.words import front, odds, stories
from filtration.present.words import plan as plan_words
from filtration.present.words import short as short_words
from filtration.present.words.in_units import display_of
from filtration.readings.foretold import Estimate

N = r"([\d,]+(?:\.\d+)?)"
"""A number as it stands in a sentence."""


def shown(text: str) -> Any:
    """Return what a number may be that is told with so many digits."""
    digits = text.replace(",", "")
    whole, _, decimals = digits.partition(".")
    last = -len(decimals) if decimals else len(whole) - len(whole.rstrip("0"))
    return pytest.approx(float(digits), abs=0.501 * 10.0**last)


def figures(pattern: str, text: str) -> list[Any]:
    """Return the numbers that stand in a text where a pattern has them (%: a day, rounded down), at its one place."""
    found = list(re.finditer(re.sub("[#%]", lambda _: N, pattern), text))
    assert len(found) == 1, (pattern, text)
    kinds = re.findall("[#%]", pattern)
    return [Down(each) if kind == "%" else shown(each) for kind, each in zip(kinds, found[0].groups(), strict=True)]


class Down:
    """What a number may be that is told rounded down, to two digits or to a whole."""

    def __init__(self, text: str) -> None:
        self.least, decimals = float(text.replace(",", "")), len(text.partition(".")[2])
        self.below = self.least + (10.0**-decimals if self.least < 10.0 or decimals else 1.0)

    def __eq__(self, value: object) -> bool:
        """Whether a value reads so."""
        return isinstance(value, float) and self.least - 1e-9 <= value < self.below + 1e-9

    __hash__ = None  # type: ignore[assignment]


def by_id(answer: Comparison) -> dict[str, dict[str, Any]]:
    """Return the options of the document by their id."""
    return {each["id"]: each for each in answer_document(answer)["options"]}


def titled(answer: Comparison) -> dict[str, dict[str, Any]]:
    """Return them by what sentences call them: with its pump where there are several."""
    several = len(answer.study.pumps) > 1
    return {f"{each['name']} on {each['pump']}" if several else each["name"]: each for each in by_id(answer).values()}


def of(answer: Comparison, option: OptionAnswer) -> dict[str, Any]:
    return by_id(answer)[option.id]


def costs(one: dict[str, Any], other: dict[str, Any]) -> float:
    return float(one["cost_per_year"]["total"] - other["cost_per_year"]["total"])


def told_apart(text: str, more: float) -> bool:
    """Whether a text says by how much something costs more, or less where that is below nothing."""
    found = re.search(rf"{N} (more|less)", text)
    return found is not None and abs(more) == shown(found[1]) and found[2] == ("less" if more < 0.0 else "more")


def tens(option: dict[str, Any], figure: str) -> tuple[float, float]:
    low, _, high = option["ranges"][figure]
    return low, high


# Sentences of an answer


def test_the_lines_of_the_short_answer(drawn: Comparison) -> None:
    taken = drawn.advised
    assert taken is not None
    lines, document, study = dict(short_words.lines(drawn)), by_id(drawn), drawn.study
    best, by_name = document[taken.id], titled(drawn)
    service = "rinse" if any(stage["rinses_before_replacing"] for stage in best["stages"]) else "replacement"
    new, due, wanted = figures(rf"# L/h new, # L/h at the {service}; you want # L/h", lines["Flow"])
    assert (best["clean_flow_l_per_h"], best["due_flow_l_per_h"]) == (new, due)
    assert drawn.wanted_flow_l_per_h == wanted
    view, wanted_m = figures("# m at its lowest; you want # m", lines["Visibility"])
    assert (best["worst_view_m"], study.needs.see_through_m) == (view, wanted_m)
    assert best["worst_view_m"] == min(best["see_through_new_m"], best["see_through_worst_m"])
    a_year, low, high, own = figures(r"# \(8 of 10: # to #\), cartridge and rinsing # of it", lines["A year"])
    assert best["cost_per_year"]["total"] == a_year
    assert tens(best, "cost_per_year") == (low, high)
    parts = best["cost_per_year"]
    assert own == sum(parts[name] or 0.0 for name in ("elements", "rinsing", "disposal", "own_time"))
    often, least, most = figures(
        r"after % days? \(8 of 10: % to %\)", lines["Rinse" if service == "rinse" else "Replace"]
    )
    assert best["days_to_first_service"] == often
    assert tens(best, "days_to_first_service") == (least, most)
    if "Cheaper" in lines:
        name, rest = lines["Cheaper"].split(": ", 1)
        assert told_apart(rest, costs(by_name[name], best))
        (cases,) = figures("in only # of 20", rest)
        assert 20.0 * by_name[name]["chance_of_meeting_needs"] == cases
    for told in lines.get("As good", "").split("), ") if "As good" in lines else []:
        name, rest = told.split(" (", 1)
        assert told_apart(rest, costs(by_name[name], best))
    if "Disposable" in lines:
        name, rest = lines["Disposable"].split(": ", 1)
        assert told_apart(rest, costs(by_name[name], best))
        (bought,) = figures("about # a year", rest)
        assert sum(stage["elements_per_year"] for stage in by_name[name]["stages"]) == bought


def test_what_is_thrown_away_is_told_to_be_replaced_once() -> None:
    answer = compare(
        study_of(changed({"elements.0": WOUND | {"rating": "50 um", "price": 6}, "needs": {"flow": "600 L/h"}}))
    )
    names = [name for name, _ in short_words.lines(answer)]
    assert answer.advised is not None
    assert names.count("Replace") == 1
    assert "Rinse" not in names


def test_the_headline(drawn: Comparison) -> None:
    taken = drawn.advised
    assert taken is not None
    best, text = of(drawn, taken), answer_words.headline(drawn)
    (new,) = figures("It gives # L/h when new", text)
    assert best["clean_flow_l_per_h"] == new
    (turnovers,) = figures(r"when new \(# turnovers an hour\)", text)
    assert best["clean_flow_l_per_h"] / (1e3 * drawn.study.tub.volume_m3) == turnovers
    days, low, high = figures(r"After % days? \(8 of 10 cases: % to %\) it needs", text)
    assert best["days_to_first_service"] == days
    assert tens(best, "days_to_first_service") == (low, high)
    if best["governed_by"] == "flow":
        assert [best["due_flow_l_per_h"]] == figures("with # L/h left", text)
    clean, due = figures("visibility is # m with the cartridge new, # m with it due", text)
    assert (best["see_through_new_m"], best["see_through_worst_m"]) == (clean, due)
    a_year, low, high = figures(r"A year costs \D*# \(8 of 10 cases: \D*# to \D*#\) in the long run", text)
    assert best["cost_per_year"]["total"] == a_year
    assert tens(best, "cost_per_year") == (low, high)
    meet, all_of_them = figures("# of # options meet your needs", text)
    assert [each["meets_needs"] for each in by_id(drawn).values()].count(True) == meet
    assert len(drawn.options) == all_of_them


def test_the_other_options_are_told_beside_the_one_to_take(drawn: Comparison) -> None:
    taken = drawn.advised
    assert taken is not None
    best, lines, told = of(drawn, taken), answer_words.others(drawn), 0
    for named, each in titled(drawn).items():
        line = next((line for line in lines if line.startswith(f"{named}: meets your needs at")), None)
        if line is None:
            continue
        told += 1
        assert told_apart(line, costs(each, best)), line
        assert [each["days_to_first_service"]] == figures("after % days?", line)
        assert ("rinsing" in line) == any(stage["rinses_before_replacing"] for stage in each["stages"])
    assert told >= 3


def test_how_sure_it_is_has_the_documents_chances(drawn: Comparison) -> None:
    taken = drawn.advised
    assert taken is not None
    best, lines = of(drawn, taken), "\n".join(odds.sureness(drawn))
    assert odds.sureness(drawn)[0].endswith((" of 20 cases.", "any filter will do."))
    chance, none = best["chance_of_meeting_needs"], answer_document(drawn)["chance_none_meets_needs"]
    if none >= odds.HALF_A_CASE:
        (others,) = figures("of the # of 20 cases where any filter will do", lines)
        assert 20.0 * (1.0 - none) == others
        assert [20.0 * none] == figures("In the other # of 20 no filter will do: in ", lines)
        assert ("all of the" in lines) == (round(20.0 * chance) == round(20.0 * (1.0 - none)))
    (view,) = figures("Lowest visibility: # m", lines)
    assert best["worst_view_m"] == view
    low, high = tens(best, "see_through_worst_m")
    assert [low] == figures(r"8 of 10 cases: # m to", lines)
    assert high > 10.0 if "to more than 10 m" in lines else [high] == figures("m to # m", lines)


def test_what_readings_teach_is_told_in_its_order() -> None:
    learnt = Estimate(unknown="dirt", median=1.5, p10=1.2, p90=2.0, prior_p10=0.5, prior_p90=3.0)
    text = forecast_words._learnt(learnt)
    assert "1.5" in text.split("(")[0]
    assert text.endswith("(8 of 10 cases 1.2 to 2.0; before the readings 0.50 to 3.0).")


def test_a_picture_of_the_catch_says_that_of_the_middle_of_each_size(freezer: Comparison) -> None:
    """Of germs 0.5 to 5 µm across that at 1.58, their geometric mean, and so on; far from it at either end."""
    of_sizes = {0.5: 0.9, 1.58: 0.11, 2.0: 0.9, 8.94: 0.22, 15.0: 0.9, 38.7: 0.33, 50.0: 0.9, 77.5: 0.44, 120.0: 0.9}
    caught = SimpleNamespace(diameter_um=tuple(of_sizes), new=tuple(of_sizes.values()))
    text = clear._catch_words(freezer.options[0], caught)  # type: ignore[arg-type]  # as much as it looks at
    assert "germs (0.5 to 5 µm): about 11 %" in text
    assert "hair (50 to 120 µm): about 44 %" in text
    assert re.findall(r"about (\d+) %", text) == ["11", "22", "33", "44"]


@pytest.mark.parametrize(("worth", "told"), [(47.0, "EUR 100"), (20.0, "EUR 10"), (1.0, "")])
def test_what_knowing_the_dirt_is_worth_is_told_as_an_order(
    drawn_answer_of: Callable[[str], Comparison], worth: float, told: str
) -> None:
    """The nearest power of ten, by its logarithm; nothing where it is less than a fiftieth of a year's EUR 234."""
    answer = drawn_answer_of("freezer")
    odds_then = replace(answer.odds, worth_of_measuring_load_per_year=worth)
    lines = [line for line in odds.sureness(replace(answer, odds=odds_then)) if "Knowing the dirt" in line]
    assert lines == (
        [f"Knowing the dirt a bather brings before you choose is worth something like {told} a year."] * bool(told)
    )


def test_the_first_page_says_days_cost_and_buckets(drawn: Comparison) -> None:
    """A bucket of 10 L at so many litres an hour takes 36,000 s over those."""
    document = by_id(drawn)
    for option in drawn.options:
        if not (option.meets_needs and option.days_to_first_service) or display_of(drawn.study).us:
            continue
        each, text = document[option.id], front.sentence(option, drawn)
        (days,) = figures("about every % days?", text)
        assert each["days_to_first_service"] == days
        a_year, own = figures(r"\. \D*# a year, # of it the", text)
        assert each["cost_per_year"]["total"] == a_year
        assert option.cost_per_year.own == own
        new, due = figures("10 L in # s new, # s at the", front.buckets(option))
        assert (36_000 / each["clean_flow_l_per_h"], 36_000 / each["due_flow_l_per_h"]) == (new, due)


def test_a_cell_of_the_map_has_days_and_money_of_its_option(drawn: Comparison) -> None:
    document = by_id(drawn)
    cells = [row for row in rating_map._rows(drawn) if row["ends"] != rating_map.FAILS]
    assert cells
    for cell in cells:
        each = document[cell["id"]]
        assert figures("% days?", cell["first"]) == [each["days_to_first_service"]]
        assert figures("EUR #", cell["second"]) == [each["cost_per_year"]["total"]]


def test_two_options_beside_each_other(freezer: Comparison) -> None:
    """What if: each figure of both in its own row and column, none of the one in the other's."""
    document = by_id(freezer)
    one, other = (freezer.option(name) for name in ("pleated-10", "spun-20"))
    rows = {row[0]: row[1:] for row in stories.beside(one, other, "EUR", display_of(freezer.study))}
    for name, key in (
        ("first service", "days_to_first_service"),
        ("flow when new", "clean_flow_l_per_h"),
        ("flow at rinse", "due_flow_l_per_h"),
        ("lowest visibility", "worst_view_m"),
    ):
        for text, option in zip(rows[name], (one, other), strict=True):
            assert [document[option.id][key]] == figures("%" if "days" in key else "#", text), name
    for text, option in zip(rows["a year"], (one, other), strict=True):
        assert [document[option.id]["cost_per_year"]["total"]] == figures("EUR #", text)
    assert rows["meets your needs"] == ("yes", "yes")


def test_each_cell_of_the_table_is_the_documents(drawn: Comparison) -> None:
    """The table a terminal shows, option by option and heading by heading."""
    document, display = by_id(drawn), display_of(drawn.study)
    for option in drawn.options:
        each = document[option.id]
        cells = {heading.replace("\n", " "): cell for heading, cell in console._figures(option, drawn).items()}
        flow, length, currency = display.flow, display.length, drawn.study.currency
        expected = {
            f"clean flow {flow}": display.flow_of(each["clean_flow_l_per_h"]),
            "first service days": each["days_to_first_service"],
            f"flow at rinse {flow}": each["due_flow_l_per_h"] and display.flow_of(each["due_flow_l_per_h"]),
            f"lowest visibility {length}": each["worst_view_m"] and display.length_of(each["worst_view_m"]),
            f"a year {currency}": each["cost_per_year"]["total"],
            f"cartridge- related {currency}": each["choice_cost_per_year"],
        }
        for heading, value in expected.items():
            cell = cells[heading]
            if value is None:
                assert cell == "-", (option.id, heading)
            elif cell.startswith("> "):
                assert value > float(cell[2:])
            else:
                assert value == (Down(cell) if "days" in heading else shown(cell)), (option.id, heading)
        assert cells["meets needs (of 20)"].startswith("yes" if each["meets_needs"] else "no")
        assert cells["limited by"] == (each["governed_by"] or "-")


# Money and days of a plan

LEAD = 10.4


def lead_time_tub() -> Given:
    """Return a tub whose sheet is soaked at each second rinse and comes after some days and a bit."""
    soaked = SHEET | {"soak_every_rinses": 2, "soak_recovery": 0.9, "soak_price": 1.5, "soak_minutes": 10}
    sheet = soaked | {"lead_time": f"{LEAD} day", "suppliers": 1}
    return sheet_tub(sheet, prices={"discount_rate": 0.1, "horizon": "2 year"})


@pytest.fixture(scope="module")
def dated() -> tuple[Comparison, Plan]:
    case = case_of(lead_time_tub(), option="sheet")
    return case.answer, case.plan


def present_value(made: Plan) -> float:
    """Return what a plan's events come to at 10 % a year, each paid on its day."""
    return float(sum(event["amount"] / 1.1 ** (event["day"] / 365.25) for event in plan_document(made)["events"]))


def test_the_plans_headline_tells_both_sums_apart(dated: tuple[Comparison, Plan]) -> None:
    answer, made = dated
    document, text = plan_document(made), plan_words.headline(made)
    whole, average, long_run = figures("In all it comes to EUR #: on average EUR # a year .*, EUR # in the", text)
    (discounted,) = figures("Discounted to the first day it is EUR #", text)
    paid = sum(event["amount"] for event in document["events"])
    assert (paid, 0.5 * paid) == (whole, pytest.approx(float(average.expected), abs=0.2))
    assert of(answer, answer.option("sheet"))["cost_per_year"]["total"] == long_run
    assert present_value(made) == discounted
    assert present_value(made) < 0.97 * paid


def test_a_plan_is_printed_with_what_to_mind_at_a_service(
    dated: tuple[Comparison, Plan], capsys: pytest.CaptureFixture[str]
) -> None:
    made = dated[1]
    console.print_plan(made)
    printed = capsys.readouterr().out
    below = " ".join(printed.partition("\nAt a service\n")[2].split())
    assert below
    assert all(" ".join(line.split()) in below for line in plan_words.cautions(made))


def test_what_is_ordered_comes_in_time(dated: tuple[Comparison, Plan]) -> None:
    """An order placed on the last day arrives before it may be wanted: part of a day is a day."""
    _, made = dated
    line = next(line for line in made.shopping if line.what == "element")
    assert line.next_needed is not None
    assert line.order_by is not None
    assert LEAD <= (line.next_needed - line.order_by).days < LEAD + 1.0
    text = "\n".join(plan_words.shopping(made))
    assert f"needed on {line.next_needed:%a} {line.next_needed.day} {line.next_needed:%b %Y}" in text
    assert f"order by {line.order_by:%a} {line.order_by.day} {line.order_by:%b %Y}" in text
    soaks = sum(event.count for event in made.events if event.what == "soak" and event.day < 365.25)
    assert soaks > 0
    assert f"cleaner for {soaks:g} soaks of Sheet: EUR {1.5 * soaks:.2f}." in text


def cells_of(data: bytes, sheet: str) -> list[tuple[Any, ...]]:
    return list(openpyxl.load_workbook(io.BytesIO(data))[sheet].iter_rows(values_only=True))


def test_sums_and_days_of_the_workbook_stand_in_their_cells(dated: tuple[Comparison, Plan]) -> None:
    answer, made = dated
    data = build_workbook(answer, made)
    sums = {str(row[0]): row[1] for row in cells_of(data, "Answer") if row[1] is not None}
    of_all, discounted, average = sums.items()
    assert "in all" in of_all[0]
    assert of_all[1] == pytest.approx(sum(event.amount for event in made.events), abs=0.005)
    assert discounted == ("discounted to the first day, EUR", pytest.approx(present_value(made), abs=0.005))
    assert average == ("a year on average, EUR", pytest.approx(made.gap.average, abs=0.005))
    headings = {"Answer", "How sure", "The plan", "The others", "Notes", "Before anyone gets in"}
    assert {str(row[0]) for row in cells_of(data, "Answer")} >= headings - {"The others"}
    head, first, *rest = cells_of(data, "Shopping")
    row = dict(zip(head, first, strict=True))
    assert row["next needed"].date() > row["order by"].date()
    assert row["next needed"].date() - row["order by"].date() == timedelta(days=11)
    line = made.shopping[0]
    assert (row["price each"], row["amount for spares"]) == (20.0, 20.0 * (line.spares + line.swap))
    assert row["spares to keep"] == line.spares + line.swap > 0
    assert [each[0] for each in rest[:1]] == ["cleaner, a soak"]
    schedule = cells_of(data, "Schedule")
    dates = [dict(zip(schedule[0], each, strict=True)) for each in schedule[1:]]
    for cells, event in zip(dates, made.events, strict=True):
        assert cells["earliest"].date() == event.earliest
        assert (cells["latest"] and cells["latest"].date()) == event.latest


def text_of(page: str) -> str:
    """Return what is read on a page."""
    bare = re.sub(r"(?s)<(style|svg|script).*?</\1>", "", page)
    return " ".join(re.sub(r"<[^>]+>", " ", bare).split())


def test_the_report_tells_sums_and_buckets(dated: tuple[Comparison, Plan]) -> None:
    answer, made = dated
    text, option = text_of(render_report(answer, made)), answer.option("sheet")
    whole, discounted = figures("in all # discounted to the first day # From", text)
    assert (sum(event.amount for event in made.events), present_value(made)) == (whole, discounted)
    each = of(answer, option)
    for name, key in (("new", "clean_flow_l_per_h"), ("at rinse", "due_flow_l_per_h")):
        litres, seconds = figures(rf"{name} # L/min: a 10 L bucket in # seconds", text)
        assert (each[key] / 60.0, 36_000 / each[key]) == (litres, seconds)


def test_the_card_tells_the_flow_when_due_and_when_new(dated: tuple[Comparison, Plan]) -> None:
    answer, made = dated
    each = of(answer, answer.option("sheet"))
    text = text_of(render_card(answer, made))
    due_s, due, new_s, new = figures("bucket takes # seconds that is # L/min left; new: # seconds, # L/min", text)
    assert (36_000 / each["due_flow_l_per_h"], each["due_flow_l_per_h"] / 60.0) == (due_s, due)
    assert (36_000 / each["clean_flow_l_per_h"], each["clean_flow_l_per_h"] / 60.0) == (new_s, new)


def test_a_card_by_share_takes_it_of_the_clean_flow() -> None:
    """Due by the calendar with less flow than when new; sooner at half of that when new."""
    answer = compare(study_of(changed({"needs.share_of_clean_flow": 0.5, "needs.rinse_at_least_every": "15 day"})))
    (option,) = answer.options
    assert option.governed_by == "time limit"
    assert option.due_flow_l_per_h is not None
    assert option.due_flow_l_per_h < 0.95 * option.clean_flow_l_per_h
    made = plan(answer.study, answer=answer, today=FIRST_DAY, draws=16)
    (seconds,) = figures("sooner when a 10 L bucket takes # seconds", text_of(render_card(answer, made)))
    assert 36_000 / (0.5 * option.clean_flow_l_per_h) == seconds


def test_a_message_names_soaks_too(dated: tuple[Comparison, Plan]) -> None:
    """The next three things to do with the filter, as the plan has them, whatever they are."""
    answer, made = dated
    ahead = [event for event in made.events if event.what in {"rinse", "soak", "replace"}]
    first = next(place for place, event in enumerate(ahead) if event.what == "soak")
    later = replace(made, events=tuple(ahead[first - 1 :]))
    lines = [line for line in write_message(answer, later).splitlines() if line.startswith("- ")]
    assert [line.rsplit(": ", 1)[1] for line in lines] == [f"{event.what} Sheet" for event in ahead[first - 1 :][:3]]
    days = [f"{event.date:%a} {event.date.day} {event.date:%b %Y}" for event in ahead[first - 1 :][:3]]
    assert all(line.startswith(f"- {day}") for line, day in zip(lines, days, strict=True))
