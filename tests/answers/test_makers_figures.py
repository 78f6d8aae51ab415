"""A maker's figures: what they change is worked by hand here, and told in words, in the document and on the page."""

import tomllib
from dataclasses import replace
from typing import Any

import numpy as np
import page_link
import pytest
from pages import first_page
from scipy.optimize import brentq
from slow_solver import element_of, loss_at_capacity_pa
from studies import DIRT_ALONE, SHORT

from filtration import Comparison, compare
from filtration.base.errors import InputError
from filtration.base.remarks import Remark
from filtration.loading.assembly import entries_of
from filtration.loading.capacity import (
    caught_of_test_dust,
    caught_of_tub,
    fitted_to_capacity,
    loaded_losses_pa,
    makers_flow_m3_s,
    usable_kg,
)
from filtration.physics import media
from filtration.physics.capture import CaptureCurve
from filtration.physics.media import Medium
from filtration.physics.water import water_at
from filtration.present.documents import answer_document
from filtration.present.words import answer as words
from filtration.present.words.makers import makers_figures as in_words
from filtration.study.file import study_from_dict
from filtration.study.text import text_of_tables
from filtration.study.values import Element, medium_of

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
    data = tomllib.loads(SHORT) | {"needs": {"turnovers_per_hour": 2}}
    data["elements"][0] |= figures
    return data | tables


def told(answer: Comparison) -> Remark:
    """Return what is told of the maker's figures."""
    (remark,) = (note for note in answer.notes if note.kind == "maker's figures")
    return remark


def pad(capacity_kg: float) -> Medium:
    """Return a flat pad with a stated capacity; half a square metre, 10 mm."""
    return replace(media.pad(rating_m=20e-6, area_m2=0.5, thickness_m=0.010), capacity_kg=capacity_kg)


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
    data = with_figures(MAKERS, needs={**needs, "turnovers_per_hour": 2})
    data["tub"] |= {"disinfectant": "kept", "uses_per_day": 30}
    answer = compare(study_from_dict(data), draws=0)
    assert answer.options[0].governed_by == "flow"
    assert told(answer).figures["usable_g"] == pytest.approx(answer.options[0].deposit_when_due_g, rel=0.03)


def test_figures_by_hand() -> None:
    """Of 75.8 Pa by the law, 2.2 Pa are the sheet's and 73.6 Pa the core's at 8 L/min and 20 degC.

    Sheet: 0.5 mm of 20 um fibres at 0.18, k = 6.17e-11 m2, 0.5 m2. Core: K = 2 on 25 mm. Beta 75 is 98.67 % (ISO
    16889).
    The pump leaves 2.4 m (1 - (840/2160)^1.6) less the hose's loss for the filter at 840 L/h, 2160 being nine tenths of
    the flow on its box.
    """
    figures = told(compare(study_from_dict(with_figures(MAKERS)), draws=0)).figures
    assert figures["times"] == pytest.approx(1200.0 / 75.8, rel=2e-3)
    assert figures["caught"] == pytest.approx(1.0 - 1.0 / 75.0, abs=5e-4)
    assert figures["caught_by_rating"] == pytest.approx(0.85, abs=1e-9)
    assert (figures["capacity_g"], figures["at_bar"]) == (pytest.approx(60.0), pytest.approx(1.7))
    assert figures["counts_g"] == pytest.approx(6.0)
    assert figures["flow_l_per_h"] == pytest.approx(840.0)
    speed = 0.84 / 3600.0 / (np.pi / 4.0 * 0.019**2)
    reynolds = speed * 0.019 / 1.567e-6
    friction = 0.3164 / reynolds**0.25 * 3.0 / 0.019  # Blasius 1913, a smooth hose
    bends = 2 * 0.75 + 2 * 1.5 + 4.0
    hose = (friction + bends) * 0.5 * 1000.0 * speed**2
    left = 1000.0 * 9.80665 * 2.4 * (1.0 - (840.0 / 2160.0) ** 1.6) - hose
    assert figures["left_bar"] == pytest.approx(1e-5 * left, rel=0.02)
    assert 0.0 < float(figures["usable_g"]) < 6.0


def test_words_document_and_page_say_the_same() -> None:
    data = with_figures(MAKERS)
    answer = compare(study_from_dict(data), draws=0)
    line = words.note(told(answer))
    for piece in (
        "Pleated 20, by its maker's figures: the clean loss is 16 times",
        "at 20 µm it catches 98.7 % in one pass instead of 85 %",
        "60 g of test dust at 1.7 bar count as 6 g of dirt like the tub's and are taken to mean a deposit",
        f"can use {float(told(answer).figures['usable_g']):.2g} g of the 6 g",
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
    assert "can use all 6 g." in words.note(told(answer))
    many = compare(study_from_dict(with_figures({"dirt_capacity": "600 g"})), draws=0)
    assert "g of the 60 g." in words.note(told(many))


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
    line = in_words({"element": "E", "capacity_g": 5.0, "at_bar": 1.0, "times_as_dense": 0.5})
    means = "5 g at 1.0 bar are taken to mean a deposit 0.50 times as dense as is assumed"
    assert line == f"E, by its maker's figures: {means}."


# ---- a capacity and what it was measured with

SPUN = {"kind": "spun", "rating": "50 um"}
TO = {"dirt_capacity_at": "1.7 bar"}  # assumed where a figure comes without its pressure
LIKE = {"dirt_capacity_dust": "like the tub's"}
ALONE = DIRT_ALONE | {"turnovers_per_hour": 2, "discard_after": "10 year"}


def element(**figures: Any) -> Element:
    """Return the element of the short study, with other figures."""
    (option,) = study_from_dict(with_figures(figures)).options
    return option.stages[0]


def dense_kg_m3(**figures: Any) -> float:
    """Return how dense a deposit of the short study's element is taken to be."""
    (entry,) = entries_of(study_from_dict(with_figures(figures)))
    return entry.media[0].deposit_density_kg_m3


@pytest.mark.parametrize("kind", [{}, SPUN], ids=["pleated", "spun"])
def test_more_capacity_never_shortens_a_run(kind: dict[str, Any]) -> None:
    """Nor does a test dust lengthen it past four times what the label alone gives: it packs 2.65 times at most."""

    def days(**figures: Any) -> float:
        answer = compare(study_from_dict(with_figures(kind | figures, needs=ALONE)), draws=0)
        assert answer.options[0].days_to_first_service is not None
        return answer.options[0].days_to_first_service

    found = [days(dirt_capacity=f"{grams} g", **TO) for grams in (30, 60, 80, 100, 150, 200, 300)]
    assert min(found) > 0.0
    assert all(np.diff(found) >= -1e-3 * np.array(found[:-1]))
    assert found[-1] < 4.0 * days()


@pytest.mark.parametrize(
    ("figures", "stage"),
    [
        ({"dirt_capacity": "95 g"}, {"kind": "pleated", "rating_m": 20e-6, "area_m2": 0.5}),
        ({"dirt_capacity": "300 g"}, {"kind": "pleated", "rating_m": 20e-6, "area_m2": 0.5}),
        ({"dirt_capacity": "150 g", "rating": "15 um"}, {"kind": "depth", "make": "spun", "rating_m": 15e-6}),
        ({"dirt_capacity": "80 g", "rating": "50 um"}, {"kind": "depth", "make": "spun", "rating_m": 50e-6}),
    ],
)
def test_a_test_dust_so_dense_brings_the_slow_solver_to_the_stated_loss(
    figures: dict[str, Any], stage: dict[str, Any]
) -> None:
    """One that strains with its cake and takes other steps."""
    shape = {"length_m": 0.250, "outer_radius_m": 0.0318, "inner_radius_m": 0.0138}
    grams = float(figures["dirt_capacity"].removesuffix(" g"))
    new = element_of(stage | shape | {"dirt_capacity_kg": 1e-3 * grams})
    made = SPUN | figures if "rating" in figures else figures
    loaded = replace(new, deposit_density_kg_m3=dense_kg_m3(**made, **TO))
    assert loss_at_capacity_pa(loaded, 3.0 * 3.785411784e-3 / 60.0) == pytest.approx(1.7e5, rel=0.05)


def test_published_capacities_ask_for_what_they_are_known_to() -> None:
    """Pleated 190 g/m2, about half the default density; depth 150 g at 15 um, 450 g at 100 um, two to seven times it.

    Makers' printed figures with a test dust. They do not say their pressure: 1.7 bar is assumed.
    """

    def times_as_dense(**figures: Any) -> float:
        each = element(**figures)
        medium, flow = medium_of(each), makers_flow_m3_s(each)
        fitted = fitted_to_capacity(medium, caught_of_test_dust(medium), flow, 1.7e5, water_at(20.0), (1.0, 5000.0))
        return fitted.deposit_density_kg_m3 / 100.0

    assert times_as_dense(dirt_capacity="95 g") == pytest.approx(0.5, abs=0.1)
    fine, coarse = ({"dirt_capacity": "150 g", "rating": "15 um"}, {"dirt_capacity": "450 g", "rating": "100 um"})
    assert 2.0 < times_as_dense(**SPUN | fine) < times_as_dense(**SPUN | coarse) < 7.0


def test_dirt_like_the_tubs_counts_gram_for_gram() -> None:
    """Its density causes the stated loss with the tub's own dirt, in water of 20 degC; its grams are the ceiling."""
    (entry,) = entries_of(study_from_dict(with_figures({"dirt_capacity": "20 g", **TO, **LIKE})))
    medium, flow = entry.media[0], makers_flow_m3_s(element())
    assert medium.capacity_kg == pytest.approx(0.020)
    losses = loaded_losses_pa(medium, caught_of_tub(medium, TUB, flow), flow, 0.020, water_at(20.0))
    assert losses[-1] == pytest.approx(1.7e5, rel=1e-3)
    assert dense_kg_m3(dirt_capacity="5 kg", **TO, **LIKE) == 1200.0


@pytest.mark.parametrize("dust", [{}, LIKE], ids=["test dust", "like the tub's"])
@pytest.mark.parametrize("grams", [2.0, 5000.0])
def test_a_bound_is_told_with_the_grams_it_gives(dust: dict[str, Any], grams: float) -> None:
    """Stated themselves, those grams ask for the bound."""
    study = study_from_dict(with_figures({"dirt_capacity": f"{grams} g", **TO, **dust}))
    (entry,) = entries_of(study)
    (remark,) = entry.notes
    assert remark.kind == ("capacity too small" if grams < 100.0 else "capacity too large")
    bound, given = (float(remark.figures[key]) for key in ("bound_kg_m3", "bound_g"))
    assert bound == entry.media[0].deposit_density_kg_m3
    assert (given > grams) == (grams < 100.0)
    assert entry.media[0].capacity_kg == pytest.approx(1e-3 * grams * (1.0 if dust else 0.1))
    assert dense_kg_m3(dirt_capacity=f"{given:.9g} g", **TO, **dust) == pytest.approx(bound, rel=0.01)


def test_the_flow_of_a_makers_test() -> None:
    """Of the clean loss, else usual for the size; other shapes by the nearest, in proportion to length or face."""
    gpm = 3.785411784e-3 / 60.0
    plain = {"size": None, "area": "0.4 m^2", "inner_diameter": "28 mm"}

    def flow(**figures: Any) -> float:
        figures = {"size": "10 x 2.5 in"} | figures
        data = with_figures({})
        data["elements"][0] |= figures
        data["elements"][0] = {key: value for key, value in data["elements"][0].items() if value is not None}
        (option,) = study_from_dict(data).options
        return makers_flow_m3_s(option.stages[0]) / gpm

    sizes = {"5 x 2.5 in": 1.5, "10 x 2.5 in": 3.0, "20 x 2.5 in": 6.5, "10 x 4.5 in": 7.5, "20 x 4.5 in": 12.5}
    for size, usual in sizes.items():
        assert flow(size=size) == pytest.approx(usual)
    assert flow(clean_loss=[["8 L/min", "0.2 kPa"], ["15 L/min", "0.5 kPa"]]) * gpm == pytest.approx(2.5e-4)
    assert flow(**plain, length="300 mm", outer_diameter="60 mm") == pytest.approx(3.0 * 300.0 / 250.0)
    assert flow(**plain, length="600 mm", outer_diameter="110 mm") == pytest.approx(12.5 * 600.0 / 508.0)
    flat = {"kind": "spun", "size": None, "area": "0.1 m^2", "thickness": "10 mm"}
    assert flow(**flat) == pytest.approx(3.0 * 0.1 / (2.0 * np.pi * 0.0318 * 0.250))


def test_the_dust_is_assumed_only_where_a_capacity_is_stated() -> None:
    def assumed(**figures: Any) -> bool:
        study = study_from_dict(with_figures(figures))
        return 'elements.dirt_capacity_dust = "test dust"' in map(str, study.assumed)

    assert assumed(dirt_capacity="60 g")
    assert not assumed()
    assert not assumed(dirt_capacity="60 g", **LIKE)
    with pytest.raises(InputError, match="dirt_capacity_dust: says with what dirt_capacity was measured"):
        element(**LIKE)


# ---- where a rating, a size or a make changes nothing


def test_what_changes_nothing_is_told() -> None:
    """Sheets finer than 1 um lose alike, of thick bodies the shell counts, spun and wound of a rating catch alike."""
    data = tomllib.loads(SHORT)
    (plain,) = data["elements"]
    fine = [{**plain, "name": f"Fine {um}", "rating": f"{um} um"} for um in (0.5, 0.2, 1)]
    known = {**plain, "name": "Known", "rating": "0.5 um", "clean_loss": [["8 L/min", "5 kPa"]]}
    depth = [
        {**plain, "name": f"{kind} {um}", "kind": kind, "size": size, "rating": f"{um} um"}
        for kind, um, size in (("spun", 50, "10 x 4.5 in"), ("wound", 50, "10 x 2.5 in"), ("wound", 75, "10 x 2.5 in"))
    ]
    notes = words.notes(compare(study_from_dict(data | {"elements": [*fine, known, *depth]}), draws=0))
    (membrane,) = (note for note in notes if "is a membrane" in note)
    assert membrane.startswith("Fine 0.5, Fine 0.2: below 1 µm")
    (thick,) = (note for note in notes if "of so thick a body" in note)
    assert thick.startswith("spun 50: of so thick a body the outer 18 mm count")
    (same,) = (note for note in notes if "taken to catch the same" in note)
    assert same.startswith("spun 50, wound 50: ")
    quiet = " ".join(words.notes(compare(study_from_dict(with_figures({})), draws=0)))
    assert not [each for each in ("membrane", "thick a body", "catch the same") if each in quiet]
