"""What a reader is told: sensible sentences for every kind of answer."""

import re
import tomllib
from collections.abc import Iterator
from datetime import UTC, date, datetime
from importlib.resources import files
from typing import Any, get_args

import numpy as np
import pytest
from studies import FOAM, SHORT, WOUND, answered, changed, demo_data

from filtration import Comparison, compare, study_from_text
from filtration.base.defaults import shortest_run_words
from filtration.base.places import template_text
from filtration.physics.media import clean_loss_pa
from filtration.physics.water import water_at
from filtration.present.documents import answer_document
from filtration.present.words import answer as words
from filtration.present.words import readings as readings_words
from filtration.present.words import stories, verify
from filtration.present.words.pages import SHORT_REASONS
from filtration.present.words.phrases import CAUTIONS, day, distance, ended, moment, money, number
from filtration.present.words.sentences import single
from filtration.service.care import unstated_shortest_days
from filtration.study.file import study_from_dict
from filtration.study.values import Limit, medium_of


def answer_to(changes: dict[str, Any]) -> Comparison:
    return answered(changed(changes))


def only_reason(answer: Comparison) -> str:
    (option,) = answer.options
    assert not option.meets_needs
    (reason,) = words.why_not(option)
    assert words.headline(answer).startswith("No option meets your needs. The nearest is Pleated 20: ")
    assert reason in words.headline(answer)
    return reason


def test_a_pump_that_cannot_drive_the_loop() -> None:
    answer = answer_to({"plumbing.static_lift": "3 m"})
    assert only_reason(answer) == (
        "pump 'pump' moves no water: it lifts at most 2.4 m, and the outlet is 3 m above the water"
    )
    (option,) = answer.options
    assert (option.clean_flow_l_per_h, option.days_to_first_service, option.governed_by) == (0.0, 0.0, "flow")
    assert option.cost_per_year.total is None
    assert option.events == ()


def test_a_tub_nobody_uses() -> None:
    answer = answer_to({"tub.uses_per_day": 0})
    assert answer.litres_per_dip is None
    assert answer.options[0].governed_by == "time limit"
    assert any("Nobody uses the tub" in note for note in words.notes(answer))
    assert "it has reached your 14-day limit" in words.headline(answer)


def test_a_tub_without_any_dirt() -> None:
    """Nobody bathes and the lid stays on: nothing is ever caught, and every figure stays finite."""
    answer = answer_to({"tub.uses_per_day": 0, "tub.uncovered_hours_per_day": 0})
    (option,) = answer.options
    assert option.deposit_when_due_g == 0.0
    assert option.due_flow_l_per_h == pytest.approx(option.clean_flow_l_per_h, rel=1e-6)


def test_a_run_of_no_days() -> None:
    """A need that the clean filter fails: no days, and life and cost are left open."""
    answer = answer_to({"needs": {"turnovers_per_hour": 10}})
    assert "turnovers an hour; you want 4,200 L/h (10 an hour)" in only_reason(answer)
    (option,) = answer.options
    assert (option.days_to_first_service, option.governed_by, option.services_per_year) == (0.0, "flow", None)
    assert option.stages[0].life_days is None


def test_a_sheet_that_is_never_full() -> None:
    answer = answer_to(
        {
            "tub.uses_per_day": 0,
            "tub.disinfectant": "kept",
            "needs": {"rinse_at_least_every": "never", "share_of_clean_flow": 0.05},
        }
    )
    (option,) = answer.options
    assert (option.days_to_first_service, option.governed_by) == (365.0, "time limit")


def test_pleats_that_do_not_fit() -> None:
    """31.8 and 13.8 mm by 250 mm hold 645 cm3: 1.29 m2 of 0.5 mm sheet and nothing else."""
    answer = answer_to({"elements.0.area": "4 m^2"})
    assert "do not fit: 4.0 m² of sheet and no gap between; at most 1.3 m²" in only_reason(answer)
    assert answer.options[0].governed_by == "full"
    assert answer.options[0].cost_per_year.total is None


def test_water_never_changed() -> None:
    answer = answer_to({"tub.water_change_every": "never"})
    assert "haze that no cartridge catches leaves" in only_reason(answer)
    assert "Only changing the water more often helps" in words.headline(answer)
    assert answer.options[0].governed_by == "clarity"
    assert not [event for event in answer.options[0].events if event.what == "change water"]
    assert any("never changed" in note for note in words.notes(answer))


def test_a_pump_that_runs_one_hour_a_day() -> None:
    answer, all_day = answer_to({"pump.hours_per_day": 1}), answer_to({})
    assert answer.options[0].see_through_worst_m < all_day.options[0].see_through_worst_m
    assert answer.options[0].energy_kwh_per_year.pumping == pytest.approx(38 * 365.25 / 1000)


def test_no_option_meets_the_needs() -> None:
    answer = answer_to(
        {
            "needs": {"turnovers_per_hour": 10},
            "elements": [{**WOUND, "price": 5}, {**FOAM, "price": 5}],
        }
    )
    assert answer.advised is None
    assert words.headline(answer).startswith("No option meets your needs.")
    assert len(words.others(answer)) == 1
    assert answer_document(answer)["options"]


def test_whatever_keeps_an_option_from_the_needs_has_its_advice() -> None:
    assert single("reasons").keys() == single("advice").keys() - {"loop"}


def test_a_stated_shortest_run_is_a_need() -> None:
    answer = answer_to({"needs": {"shortest_run": "30 day"}})
    told = r"it lasts \d+ days between services; you accept 30 days at the least"
    assert re.fullmatch(told, only_reason(answer))


def test_reasons_add_up() -> None:
    """Fewer reasons stand before more, whatever the cost."""
    answer = answer_to(
        {
            "needs": {"turnovers_per_hour": 3},
            "elements": [{**FOAM, "price": 1}, {**WOUND, "price": 2}, {**WOUND, "name": "Wound 50", "rating": "50 um"}],
        }
    )
    reasons = [len(option.reasons) for option in answer.options]
    assert reasons == sorted(reasons)


def test_makers_figures_are_told() -> None:
    answer = answer_to(
        {
            "elements.0.clean_loss": [["8 L/min", "1.2 kPa"]],
            "elements.0.dirt_capacity": "60 g",
            "elements.0.dirt_capacity_at": "1.7 bar",
            "elements.0.rating_means": "absolute",
        }
    )
    notes = " ".join(words.notes(answer))
    assert "'absolute' without a measured beta ratio is only a word" in notes
    assert "the clean loss is 16 times" in notes
    assert "60 g of test dust at 1.7 bar" in notes
    assert answer.options[0].deposit_when_due_g < 6.0


def test_a_makers_loss_below_that_of_our_core_wins() -> None:
    """10 Pa at 8 L/min is less than a 25 mm core takes (73.6 Pa); the maker's figure is met all the same."""
    study = study_from_dict(changed({"elements.0.clean_loss": [["8 L/min", "10 Pa"]]}))
    (element,) = study.options[0].stages
    loss = clean_loss_pa(medium_of(element), 8e-3 / 60.0, water_at(20.0))
    assert float(loss) == pytest.approx(10.0, rel=1e-3)
    assert compare(study).options[0].meets_needs


def test_a_view_shorter_than_the_water_is_deep_is_told() -> None:
    answer = answer_to(
        {
            "needs": {"see_through": "0.2 m"},
            "tub.uses_per_day": 30,
            "tub.water_change_every": "60 day",
            "tub.depth": "1 m",
        }
    )
    assert "you would not see the bottom: nobody goes in" in " ".join(words.notes(answer))


def test_warm_water_is_told() -> None:
    for degrees, told in ((21, True), (20, False)):
        answer = answer_to({"tub.water_temperature": f"{degrees} degC"})
        assert ("Germs multiply fast" in " ".join(words.notes(answer))) is told


def test_what_is_not_worth_rinsing_is_told() -> None:
    """A run of a day or two of which a rinse brings back half, four fifths being put up with: replaced each time."""
    answer = answer_to({"needs": {"flow": "1355 L/h"}, "elements.0.rinse_recovery": 0.5})
    assert "is replaced each time" in " ".join(words.notes(answer))
    assert "it needs replacing" in words.headline(answer)


def test_where_the_loop_itself_falls_short_no_element_helps() -> None:
    answer = answer_to({"needs": {"turnovers_per_hour": 10}})
    assert "no cartridge does" in words.headline(answer)


def test_a_capacity_alone_is_a_ceiling() -> None:
    answer = answer_to({"elements.0.dirt_capacity": "20 g"})
    (option,) = answer.options
    assert option.governed_by == "full"
    assert option.deposit_when_due_g == pytest.approx(2.0, rel=1e-3)
    ceiling = "20 g of test dust, counted as 2 g of dirt like the tub's, is taken as a ceiling"
    assert ceiling in " ".join(words.notes(answer))


@pytest.mark.parametrize(("grams", "bound"), [("3 kg", "denser than 265 kg/m³"), ("10 g", "thinner than 10 kg/m³")])
def test_a_capacity_that_no_deposit_gives_stays_at_the_bound_and_is_told(grams: str, bound: str) -> None:
    answer = answer_to({"elements.0.dirt_capacity": grams, "elements.0.dirt_capacity_at": "1.7 bar"})
    (told,) = (note for note in words.notes(answer) if "believed of" in note)
    assert bound in told
    assert f"{'3,000' if grams == '3 kg' else '10'} g of test dust at 1.7 bar" in told
    assert "the maker's test would end at" in told


def test_flows_nobody_measured_are_told() -> None:
    lift = [["0.5 m", "24 L/min"], ["0.6 m", "22 L/min"]]
    answer = answer_to({"measured": {"lift_test": lift}, "plumbing": None, "elements": [FOAM, {**WOUND, "price": 1}],
                        "options": [{"name": "Both", "stages": ["Wound 5", "Wound 5"]}]})  # fmt: skip
    notes = " ".join(words.notes(answer))
    assert "which is a guess" in notes
    assert "what a second one takes is left out" in notes


@pytest.mark.parametrize(
    ("dye", "even", "view"), [("30 min", "30 min", "less than 0.1 %"), ("1 day", "24 h", r"[0-9.]+ %")]
)
def test_water_that_lags_is_told_with_what_mixing_it_would_bring(dye: str, even: str, view: str) -> None:
    notes = " ".join(words.notes(answer_to({"tub.dye_even_after": dye})))
    assert (
        f"30 % of the water lags behind the rest: dye is even only after {even}. With Pleated 20 the visibility"
        in notes
    )
    assert re.search(rf"is {view} less, and it takes [0-9.]+ % longer to clear \([0-9.]+ h instead of", notes)
    assert "that is all a second outlet or a turned intake would bring" in notes
    assert "lags behind" not in " ".join(words.notes(answer_to({})))


def test_sweating_hoses_are_told() -> None:
    answer = answer_to({"plumbing.length_outside": "2 m", "tub.air_humidity": 0.8})
    assert "sweat" in " ".join(words.notes(answer))
    dry = answer_to({"plumbing.length_outside": "2 m", "plumbing.insulation": "19 mm"})
    assert "sweat" not in " ".join(words.notes(dry))


def test_a_cake_beyond_evidence_is_told() -> None:
    """A wide gap and a strong pump let a cake grow that would strain more than 36 % of 5 um dirt."""
    answer = answer_to({
        "pump.shutoff_head": "30 m",
        "needs": {"share_of_clean_flow": 0.1, "rinse_at_least_every": "never"},
        "elements.0": {"name": "Pleated 20", "kind": "pleated", "size": "20 x 4.5 in", "area": "1 m^2",
                       "rating": "20 um", "price": 20},
    })  # fmt: skip
    assert "do not count on that clarity" in " ".join(words.notes(answer))


def test_what_decides_shows_both_parts_of_warmth(freezer: Comparison) -> None:
    text = " ".join(words.deciding(freezer))
    assert "Area decides" in text
    assert "thinner water alone makes it" in text
    assert "faster growth in the deposit alone" in text
    warmth = freezer.warmth
    assert warmth is not None
    assert warmth.days_faster_growth < warmth.days_now < warmth.days_thinner_water


def test_cautions_apply_where_they_apply() -> None:
    guests = words.cautions(study_from_text(SHORT.replace("[pump]", "shared_with_public = true\n[pump]")))
    home = words.cautions(study_from_text(SHORT.replace("[pump]", 'surroundings = "indoors"\n[pump]')))
    assert CAUTIONS["codes"] in guests
    assert CAUTIONS["codes"] not in home
    assert CAUTIONS["frost"] in guests
    assert CAUTIONS["frost"] not in home
    for key in ("clear", "electricity", "suction", "cold", "bottom", "health", "lids", "freezer", "dirty"):
        assert CAUTIONS[key] in home
    wound = study_from_dict(changed({"elements": [{**WOUND, "price": 5}]}))
    assert CAUTIONS["chemicals"] not in words.cautions(wound)


def test_cautions_name_the_dangers() -> None:
    """Each danger the trade knows is named (common practice)."""
    text = " ".join(CAUTIONS.values())
    named = (
        "disinfect", "codes", "licensed", "RCD (GFCI)", "unplug", "hair", "guard every intake", "pump off",
        "never alone", "child", "refrigerant", "flammable", "gloves", "spray", "acid and chlorine", "degreaser",
        "frost", "open wounds", "weak immune system", "cannot see the bottom",
    )  # fmt: skip
    assert [word for word in named if word not in text] == []


def test_cautions_stand_where_the_hand_is() -> None:
    """In the very sentence that tells one to do it, on a page, in a forecast and in a new study."""
    texts = list(_texts(tomllib.loads(files("filtration.present.words").joinpath("sentences.toml").read_text("utf-8"))))
    notes = re.sub(r"\n# +(?=[a-zA-Z])", " ", template_text()).splitlines()
    asked = {
        r"element out( too)?\b|filter out|take the element|without it;": ("unplug",),
        "hold the (outlet|hose's end)": ("unplug", "RCD (GFCI)", "hose"),
        "power meter": ("dry hands", "away from the tub", "RCD (GFCI)"),
        r"\btimer\b": ("dry", "away from the tub", "RCD (GFCI)"),
        r"soak it in|[Ss]oak in|soak overnight|soak it \(": ("loves", "mix", "rinse"),
    }
    for what, cautions in asked.items():
        told = [text for text in (*texts, *notes) if re.search(what, text) and "spent element out" not in text]
        assert told, what
        assert [text for text in told if not all(word.lower() in text.lower() for word in cautions)] == []


def _texts(given: object) -> Iterator[str]:
    """Yield every text in tables and lists."""
    if isinstance(given, str):
        yield given
    elif isinstance(given, dict | list):
        for each in given.values() if isinstance(given, dict) else given:
            yield from _texts(each)


def test_the_public_rule_stands_beside_older_water() -> None:
    assert "rule for public spas asks for a change every 6.2 days" in stories.public_rule(6.16)
    assert stories.public_rule(None) == ""


def test_every_reason_has_its_advice_and_its_short_form() -> None:
    reasons = set(single("reasons"))
    assert reasons <= set(single("advice"))
    assert reasons <= set(SHORT_REASONS)


def test_days_are_written_alike() -> None:
    """Whatever prints a day for a person prints it so."""
    assert day(date(2028, 2, 29)) == "Tue 29 Feb 2028"
    assert moment(datetime(2028, 2, 29, 8, 5, tzinfo=UTC)) == "Tue 29 Feb 2028 08:05 (+00:00)"


def test_a_year_by_hand(demo: Comparison) -> None:
    """The printed amounts times their prices come to the printed total, to a cent."""
    for option in demo.options:
        if option.cost_per_year.total is not None:
            lines = words.cost_lines(option, demo)
            by_hand = sum(round(amount, 4) * round(price, 4) for _, amount, _, price, _ in lines)
            assert by_hand == pytest.approx(option.cost_per_year.total, abs=0.01)
            assert sum(round(100.0 * paid) for *_, paid in lines) == round(100.0 * option.cost_per_year.total)
            assert all(abs(paid - amount * price) < 0.011 for _, amount, _, price, paid in lines)


def test_a_reason_shows_enough_digits_to_see_why() -> None:
    """A need a hair above what there is: both would read 5.9 m."""
    seen = answered(demo_data("freezer")).option("pleated-10").see_through_new_m
    data = demo_data("freezer")
    data["needs"]["see_through"] = f"{1e3 * seen + 4.0:.1f} mm"
    (told,) = words.why_not(answered(data).option("pleated-10"))
    have, want = re.findall(r"([\d.]+) m", told)[:2]
    assert float(have) < float(want)
    assert len(want) < 6


def test_the_rule_for_the_shortest_run_is_told_as_it_is_worked_out() -> None:
    """The words' own figures give what the function gives; the template and ``assumed`` have the same words."""
    half, least_days, four_fifths, one_day = 0.5, 3.0, 0.8, 1.0
    words_of_it = shortest_run_words()
    assert words_of_it == "half the first run, at least 3 days; of a short run four fifths, at least 1 day"
    for first in (0.5, 2.0, 3.6, 4.0, 30.0):
        by_hand = max(half * first, min(least_days, max(four_fifths * first, one_day)))
        assert unstated_shortest_days(np.array(first)) == pytest.approx(by_hand)
    assert words_of_it in template_text()
    assert f"needs.shortest_run = {words_of_it}" in [str(each) for each in answered(demo_data("freezer")).study.assumed]


def test_numbers_are_rounded_to_what_is_known() -> None:
    assert [number(value) for value in (0.0, 3.14159, 99.6, 123456.0)] == ["0", "3.1", "100", "120,000"]
    assert distance(10.0) == "10 m"
    assert money(-3.0, "EUR") == "EUR -3.00"
    assert all(ended(limit, 14.0) for limit in get_args(Limit))


def test_table_and_notebook(freezer: Comparison) -> None:
    table = freezer.table()
    assert list(table.index) == [option.id for option in freezer.options]
    assert table.loc["pleated-20", "cost_per_year.total"] == freezer.options[1].cost_per_year.total
    assert "<table" in freezer._repr_html_()


def test_what_is_saved_of_readings_is_said() -> None:
    state = readings_words.saved_state
    assert state("Own", 2, 0, 0, "book") == "Saved for Own: 2 readings in book. Nothing is unsaved."
    unsaved = "Not saved yet: 1 reading new or changed, 2 readings taken out."
    assert state("Own", 2, 1, 2, "book") == f"Saved for Own: 2 readings in book. {unsaved}"
    assert state("Own", 0, 1, 0, None) == "Not saved anywhere: 1 reading."
    assert state("Own", 0, 0, 0, None) == "Nothing here yet."


def test_a_check_is_named_with_its_unit_and_marked_where_it_fails() -> None:
    cells = {"what": "pressure drop", "unit": "kPa", "holds": "yes"}
    assert verify.what(cells) == "pressure drop, kPa"
    assert verify.what(cells | {"unit": "", "holds": "no"}) == "DOES NOT HOLD: pressure drop"
