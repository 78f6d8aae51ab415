"""A maker's figures: what they change is worked by hand here, and told in words, in the document and on the page."""

import tomllib
from dataclasses import replace
from typing import Any

import numpy as np
import page_link
import pytest
from pages import first_page
from scipy.optimize import brentq
from studies import SHORT

from filtration import Comparison, compare
from filtration.base.remarks import Remark
from filtration.loading.capacity import usable_kg
from filtration.physics.capture import CaptureCurve
from filtration.physics.media import Medium, depth_pad
from filtration.present.documents import answer_document
from filtration.present.words import answer as words
from filtration.present.words.makers import makers_figures as in_words
from filtration.study.file import study_from_dict
from filtration.study.text import text_of_tables

FLOW = 2e-4
TUB = study_from_dict(tomllib.loads(SHORT)).tub
MAKERS: dict[str, Any] = {
    "clean_loss": [["8 L/min", "1.2 kPa"]],
    "beta": [["10 um", 5], ["20 um", 75]],
    "dirt_capacity": "60 g",
    "dirt_capacity_at": "1.7 bar",
}


def with_figures(figures: dict[str, Any], **tables: Any) -> dict[str, Any]:
    """Return the tables of the short study, its element with figures of a maker."""
    data = tomllib.loads(SHORT)
    data["elements"][0] |= figures
    return data | tables


def told(answer: Comparison) -> Remark:
    """Return what is told of the maker's figures."""
    (remark,) = (note for note in answer.notes if note.kind == "maker's figures")
    return remark


def pad(capacity_kg: float) -> Medium:
    """Return a flat pad with a stated capacity; half a square metre, 10 mm."""
    return replace(depth_pad(rating_m=20e-6, area_m2=0.5, thickness_m=0.010), capacity_kg=capacity_kg)


@pytest.mark.parametrize("left_pa", [2e3, 1e4, 3e4])
def test_a_cake_alone_goes_with_the_pressure_to_the_power_of_two_fifths(left_pa: float) -> None:
    """All dirt on the face: loss = rest + mu a m Q / A^2, a = 5e11 (loss / 10 kPa)^0.6, solved for the mass by hand.

    Ruth's law of a compressible cake (Svarovsky, Solid-Liquid Separation, from memory), in the model's numbers.
    """
    water = TUB.water
    medium = pad(0.5)
    medium = replace(medium, onset_solid_fraction=medium.solid_fraction + 1e-9)
    a = medium.solid_fraction
    permeability = (1 - a) ** 3 * medium.fibre_diameter_m**2 / (16 * kozeny(a) * a**2)
    rest = water.viscosity_pa_s * 0.010 / (permeability * 0.5) * FLOW
    resistance = 5e11 * (left_pa / 1e4) ** 0.6
    expected = (left_pa - rest) * 0.5**2 / (water.viscosity_pa_s * resistance * FLOW)
    assert usable_kg(medium, TUB, FLOW, left_pa, water) == pytest.approx(expected, rel=5e-3)


def test_60_g_at_mains_pressure_are_19_g_at_a_small_pumps() -> None:
    """(0.1 bar / 1.7 bar)^0.4 = 0.3220 of a cake's mass, at one flow."""
    medium = pad(10.0)
    medium = replace(medium, onset_solid_fraction=medium.solid_fraction + 1e-9, permeability_factor=1e4)
    at_mains, at_pump = (usable_kg(medium, TUB, FLOW, left, TUB.water) for left in (1.7e5, 1e4))
    assert 60.0 * at_pump / at_mains == pytest.approx(60.0 * (0.1 / 1.7) ** 0.4, rel=2e-3)


def kozeny(a: float) -> float:
    """Return Kozeny's constant of a mat up to a solid fraction of 0.3, as Davies 1952 has it."""
    return float(4.0 * (1.0 - a) ** 3 * (1.0 + 56.0 * a**3) / np.sqrt(a))


def test_layers_alone_take_up_what_the_permeability_law_says() -> None:
    """Dirt spread evenly, no cake: fibres grow to a' = a + m/(rho V), d'^2 = d^2 a'/a, solved by a library's root."""
    medium = pad(0.1)
    even = CaptureCurve(rating_m=20e-6, at_rating=1e-12, slope=1e-3, bypass=0.0)
    medium = replace(medium, capture=even, onset_solid_fraction=float("inf"))
    water, a, volume = TUB.water, medium.solid_fraction, 0.5 * 0.010

    def loss(mass: float) -> float:
        b = a + mass / (100.0 * volume)
        k = (1 - b) ** 3 * medium.fibre_diameter_m**2 * (b / a) / (16 * kozeny(b) * b**2)
        return float(water.viscosity_pa_s * 0.010 / (k * 0.5) * FLOW)

    left = 1.5 * loss(0.0)
    expected = brentq(lambda mass: loss(mass) - left, 0.0, 0.04)
    assert usable_kg(medium, TUB, FLOW, left, water) == pytest.approx(expected, rel=1e-3)


def test_nothing_and_all_of_it() -> None:
    medium = pad(0.001)
    assert usable_kg(medium, TUB, FLOW, 1e-3, TUB.water) == 0.0
    assert usable_kg(medium, TUB, FLOW, 1e5, TUB.water) == 0.001


def test_it_is_what_a_run_ends_with() -> None:
    """A run without growth and time limits ends with what its pump can use, whatever the flow was on the way."""
    needs = {"rinse_at_least_every": "never", "discard_after": "60 day", "see_through": "0.1 m"}
    data = with_figures(MAKERS, needs=needs)
    data["tub"] |= {"disinfectant": "kept", "uses_per_day": 30}
    answer = compare(study_from_dict(data), draws=0)
    assert answer.options[0].governed_by == "flow"
    assert told(answer).figures["usable_g"] == pytest.approx(answer.options[0].deposit_when_due_g, rel=0.03)


def test_figures_by_hand() -> None:
    """Of 75.8 Pa by the law, 2.2 Pa are the sheet's and 73.6 Pa the core's at 8 L/min and 20 degC.

    Sheet: 0.5 mm of 20 um fibres at 0.18, k = 6.17e-11 m2, 0.5 m2. Core: K = 2 on 25 mm. Beta 75 is 98.67 % (ISO
    16889).
    The pump leaves 2.4 m (1 - (1260/2400)^2) less the hose's loss for the filter at 1260 L/h.
    """
    figures = told(compare(study_from_dict(with_figures(MAKERS)), draws=0)).figures
    assert figures["times"] == pytest.approx(1200.0 / 75.8, rel=2e-3)
    assert figures["caught"] == pytest.approx(1.0 - 1.0 / 75.0, abs=5e-4)
    assert figures["caught_by_rating"] == pytest.approx(0.85, abs=1e-9)
    assert (figures["capacity_g"], figures["at_bar"]) == (pytest.approx(60.0), pytest.approx(1.7))
    assert figures["flow_l_per_h"] == pytest.approx(1260.0)
    speed = 1.26 / 3600.0 / (np.pi / 4.0 * 0.019**2)
    reynolds = speed * 0.019 / 1.567e-6
    friction = 0.3164 / reynolds**0.25 * 3.0 / 0.019  # Blasius 1913, a smooth hose
    bends = 2 * 0.75 + 2 * 1.5 + 4.0
    hose = (friction + bends) * 0.5 * 1000.0 * speed**2
    left = 1000.0 * 9.80665 * 2.4 * (1.0 - (1260.0 / 2400.0) ** 2) - hose
    assert figures["left_bar"] == pytest.approx(1e-5 * left, rel=0.02)
    assert 0.0 < float(figures["usable_g"]) < 60.0


def test_words_document_and_page_say_the_same() -> None:
    data = with_figures(MAKERS)
    answer = compare(study_from_dict(data), draws=0)
    line = words.note(told(answer))
    for piece in (
        "Pleated 20, by its maker's figures: the clean loss is 16 times",
        "at 20 µm it catches 98.7 % in one pass instead of 85 %",
        "60 g at 1.7 bar mean a deposit",
        f"can use {float(told(answer).figures['usable_g']):.2g} g of the 60 g at 1.7 bar",
        "expect less",
    ):
        assert piece in line
    assert line in words.notes(answer)
    assert line in answer_document(answer)["notes"]  # type: ignore[operator]  # a list
    page = first_page()
    page.query_params["study"] = page_link.packed([text_of_tables(data)])
    page.run()
    page.switch_page("screens/which_filter.py").run()
    assert not page.exception
    shown = "\n".join(part.value.replace("\\", "") for part in page.markdown)
    assert line in shown


def test_it_is_told_only_where_a_maker_says_something() -> None:
    quiet = compare(study_from_dict(with_figures({})), draws=0)
    assert not [note for note in quiet.notes if note.kind == "maker's figures"]
    part = compare(study_from_dict(with_figures({"beta": [["20 um", 10]]})), draws=0)
    assert words.note(told(part)) == (
        "Pleated 20, by its maker's figures: at 20 µm it catches 90 % in one pass instead of 85 %."
    )


def test_a_capacity_without_its_pressure_is_still_measured_against_the_pump() -> None:
    answer = compare(study_from_dict(with_figures({"dirt_capacity": "60 g"})), draws=0)
    assert "at_bar" not in told(answer).figures
    assert "g of the 60 g." in words.note(told(answer))
    few = compare(study_from_dict(with_figures({"dirt_capacity": "1 g"})), draws=0)
    assert "can use all of the 1.0 g." in words.note(told(few))


def test_each_pump_is_named_where_there_are_several_and_each_element_told_once() -> None:
    data = with_figures(MAKERS)
    pump = data.pop("pump")
    data["pumps"] = [{**pump, "name": "Small"}, {**pump, "name": "Large", "max_flow": "3000 L/h", "price": 90}]
    data["options"] = [
        {"name": "One", "stages": ["Pleated 20"]},
        {"name": "Two", "stages": ["Pleated 20"], "housings_in_parallel": 2},
    ]
    answer = compare(study_from_dict(data), draws=0)
    assert told(answer).figures["pump"] == answer.options[0].pump
    assert f"bar that {answer.options[0].pump} leaves for it" in words.note(told(answer))


def test_a_capacity_the_clean_flow_never_reaches_has_no_part_to_use() -> None:
    """A pump that lacks the flow even clean has nothing to use of it; what the figures mean is told all the same."""
    answer = compare(study_from_dict(with_figures(MAKERS, needs={"flow": "2300 L/h"})), draws=0)
    assert "usable_g" not in told(answer).figures
    assert "can use" not in words.note(told(answer))


def test_words_of_a_maker_who_says_less() -> None:
    """A deposit thinner than assumed brings no warning of mineral dust."""
    line = in_words({"element": "E", "capacity_g": 5.0, "at_bar": 1.0, "times_as_dense": 0.5})
    assert line == "E, by its maker's figures: 5.0 g at 1.0 bar mean a deposit 0.50 times as dense as is assumed."
