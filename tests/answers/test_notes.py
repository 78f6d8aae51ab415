"""Which notes an answer carries, each where its cause is and nowhere else, with the figures of a hand's reckoning."""

from collections.abc import Mapping
from math import inf, sqrt
from typing import Any

import pytest
from studies import DIRT_ALONE, WOUND, Given, central, changed, study_of

from filtration.answers.ranking import Central
from filtration.answers.remarks import all_remarks
from filtration.base.remarks import Remark

ALWAYS = {"ten psi", "settling"}
OF_THE_MEAN = {
    "due at a session", "views with memory", "clearing with memory", "clearing in a short run", "cake beyond evidence",
}  # fmt: skip
"""Held against a tub that is followed event by event, in ``test_unsteady``."""
RULE_DAYS = 420.0 / 3.785411784 / 3.0 / 6.0  # US gallons over three for each bather a day
SPUN = {"kind": "spun", "size": "10 x 2.5 in", "rating": "5 um", "name": "Spun 5"}
LIFT = {
    "pump.shutoff_head": None, "pump.max_flow": None, "plumbing": None,
    "measured": {"lift_test": [["0.1 m", "24 L/min"], ["0.5 m", "22.5 L/min"]]},
}  # fmt: skip
PAIR = [{"name": "Both", "stages": ["Wound 5", "Pleated 20"]}]
CAPACITY = {"element": "Pleated 20", "capacity_g": 60.0, "counts_g": 6.0}  # of grit, of which a gram is a tenth

CASES: list[tuple[Given, dict[str, Mapping[str, Any]]]] = [
    ({}, {}),
    ({"tub.water_temperature": "20 degC"}, {}),
    ({"tub.water_temperature": "20.1 degC"}, {"warm": {}}),
    ({"tub.uses_per_day": 0}, {"nobody bathes": {}}),
    ({"tub.water_change_every": "6.1 day"}, {}),
    ({"tub.water_change_every": "6.2 day"}, {"older than rule": {"days": 6.2, "rule": RULE_DAYS}}),
    ({"tub.water_change_every": "never"}, {"never changed": {"days": 5 * 365.25}, "bottom": {"depth": 0.7}}),
    ({"plumbing.length_outside": "1 m"}, {"sweating": {}}),
    ({"plumbing.length_outside": "1 m", "plumbing.insulation": "30 mm"}, {}),
    ({"plumbing.length_outside": "1 m", "tub.air_humidity": 0.3}, {}),  # dew point 2 degC, below the water
    ({"elements.0.rating": "1 um"}, {}),
    ({"elements.0.rating": "0.9 um"}, {"membrane": {"elements": "Pleated 20"}}),
    ({"elements.1": SPUN}, {}),
    ({"elements.1": WOUND, "elements.2": SPUN}, {"same rating": {"elements": "Wound 5, Spun 5"}}),
    ({"elements.1": WOUND, "elements.2": SPUN | {"rating": "10 um"}}, {}),
    ({"elements.1": WOUND, "elements.2": SPUN | {"beta": [["5 um", 2]]}}, {"maker's figures": {"element": "Spun 5"}}),
    ({"elements.1": SPUN | {"size": "10 x 4.5 in"}}, {"thick body": {"elements": "Spun 5", "shell_mm": 18.0}}),
    ({"elements.0.rinse_recovery": 0.3}, {"not worth rinsing": {"element": "Pleated 20"}}),
    ({"elements.0.rinse_recovery": 0.3, "needs.shortest_run": "5 day"}, {}),
    ({"elements.0.rating_means": "absolute"}, {"absolute without beta": {"element": "Pleated 20"}}),
    (
        {"elements.0.beta": [["20 um", 75]]},
        {"maker's figures": {"rating_um": 20.0, "caught": 1.0 - 1.0 / 75.0, "caught_by_rating": 0.85}},
    ),
    (
        {"elements.0.dirt_capacity": "60 g"},
        {"capacity alone": CAPACITY, "maker's figures": CAPACITY | {"flow_l_per_h": 1260.0}},
    ),
    (
        {"elements.0.dirt_capacity": "60 g", "elements.0.dirt_capacity_at": "1.7 bar"},
        {"maker's figures": CAPACITY | {"at_bar": 1.7, "flow_l_per_h": 1260.0}},
    ),
    (
        {"tub.dye_even_after": "30 min"},
        {"still water": {"share_by": 0.3, "even_days": 0.5 / 24, "option": "Pleated 20"}},
    ),
    (LIFT, {"beyond the points": {"low": 1350.0, "high": 1440.0, "options": "Pleated 20"}}),
    (
        LIFT | {"needs": DIRT_ALONE, "elements.1": WOUND, "options": PAIR},
        {"beyond the points": {"options": "Both"}, "train on lift test": {}},
    ),
]


def notes_of(worked: Central) -> dict[str, Remark]:
    """Return the notes by kind, the first option taken for the one advised."""
    entries, followed, options = worked.entries, worked.followed, worked.options
    found = all_remarks(worked.study, entries, followed, options, options[0].id, worked.notes)
    return {each.kind: each for each in found}


@pytest.mark.parametrize(("changes", "wanted"), CASES, ids=[" ".join(changes) or "as it is" for changes, _ in CASES])
def test_a_note_where_its_cause_is(changes: Given, wanted: dict[str, Mapping[str, Any]]) -> None:
    """No other, and not a step before it."""
    worked = central(study_of(changed(changes)))
    best, found = worked.options[0], notes_of(worked)
    assert found.keys() - OF_THE_MEAN == wanted.keys() | ALWAYS
    for kind, figures in wanted.items():
        there = found[kind].figures
        assert {name: there[name] for name in figures} == pytest.approx(figures)
    if "bottom" in found:
        assert found["bottom"].figures["seen"] == best.worst_view_m
    if "sweating" in found:
        surface, dew = found["sweating"].figures["surface_c"], found["sweating"].figures["dew_c"]
        assert 4.0 < float(surface) < float(dew) == pytest.approx(12.0, abs=0.1)  # 20 degC at 60 %, off a chart
    if "not worth rinsing" in found:
        assert found["not worth rinsing"].figures["shortest"] == pytest.approx(
            0.5 * (best.days_to_first_service or inf)
        )
    if "flow_l_per_h" in wanted.get("maker's figures", {}) and best.governed_by == "flow":
        left_bar = 1e-2 * (best.due_filter_loss_kpa or 0.0)
        assert found["maker's figures"].figures["left_bar"] == pytest.approx(left_bar, rel=1e-3)


def test_the_pumps_head_and_what_sinks_by_hand() -> None:
    """2.4 m of water at 4 degC; grit that falls through 0.7 m of 420 L faster than the flow lifts it, by Stokes."""
    worked = central(study_of(changed({})))
    found = notes_of(worked)
    assert found["ten psi"].figures["shutoff_kpa"] == pytest.approx(2.4 * 9.80665 * 0.999975)
    rise_m_s = worked.options[0].clean_flow_l_per_h / 3.6e6 / (0.420 / 0.7)
    stokes_um = 1e6 * sqrt(18.0 * 1.567e-3 * rise_m_s / 9.80665 / (2650.0 - 1000.0))
    assert stokes_um < float(found["settling"].figures["above_um"]) < 1.5 * stokes_um


def test_a_makers_loss_is_told_by_what_it_changes() -> None:
    """Twice the loss, twice as many times that of the law."""
    losses = [central(study_of(changed({"elements.0.clean_loss": [["8 L/min", loss]]}))) for loss in ("1 kPa", "2 kPa")]
    one, other = (float(notes_of(each)["maker's figures"].figures["times"]) for each in losses)
    assert other == pytest.approx(2.0 * one)
