"""A tub whose water mixes slowly: what it changes in figures, notes and what stands beside it."""

from dataclasses import replace

import numpy as np
import pytest
from studies import Given, answered, demo_data

from filtration.answers.figures import Followed, follow, follow_all
from filtration.answers.water_memory import views_with_memory
from filtration.loading.assembly import entries_of
from filtration.physics.tub import life_mean_share, see_through_at_end_m
from filtration.study.file import study_from_dict
from filtration.study.values import Study

SINGLE = 2e-6


def freezer(**tub: object) -> Given:
    data = demo_data("freezer")
    data["tub"] |= tub
    return data


def followed_in(study: Study) -> list[Followed]:
    return follow(study, [entry for entry in entries_of(study) if entry.loop is not None])


def test_an_hour_until_dye_is_even_changes_the_view_little_and_clearing_more() -> None:
    """By the model's own figures: behind 20 µm the view is a tenth of a percent shorter, clearing takes 3 % longer."""
    mixed, lags = answered(freezer()), answered(freezer(dye_even_after="60 min"))
    before = {option.id: option for option in mixed.options}
    for option in lags.options:
        was = before[option.id]
        assert option.hours_to_clear_after_session is not None
        assert was.hours_to_clear_after_session is not None
        assert 0.0 < 1.0 - option.see_through_clean_m / was.see_through_clean_m < 2e-3
        assert 0.0 < option.hours_to_clear_after_session - was.hours_to_clear_after_session < 1.0
        assert option.days_to_first_service == pytest.approx(was.days_to_first_service, rel=1e-3)
        if option.id == "pleated-20":
            assert option.see_through_clean_m / was.see_through_clean_m - 1.0 == pytest.approx(-1e-3, rel=0.2)
            longer = option.hours_to_clear_after_session / was.hours_to_clear_after_session - 1.0
            assert longer == pytest.approx(0.03, rel=0.5)


def test_dye_that_is_even_at_once_changes_no_figure() -> None:
    mixed, at_once = answered(freezer()), answered(freezer(dye_even_after="0 s"))
    assert [option.see_through_worst_m for option in at_once.options] == [o.see_through_worst_m for o in mixed.options]
    assert at_once.options[0].cost_per_year == mixed.options[0].cost_per_year


def test_pump_hours_mix_the_water_too() -> None:
    """Half the hours at twice the speed of mixing are the same tub."""
    data = freezer(dye_even_after="60 min")
    half = freezer(dye_even_after="30 min")
    half["pump"] |= {"hours_per_day": 12}
    (one, *_), (other, *_) = (followed_in(study_from_dict(each)) for each in (data, half))
    assert one.case.still is not None
    assert other.case.still is not None
    assert other.case.still.exchange_per_day == pytest.approx(one.case.still.exchange_per_day)


def test_a_case_catches_and_sees_what_the_tub_holds() -> None:
    study = study_from_dict(freezer(dye_even_after="3 h", still_share=0.5))
    for of in followed_in(study):
        removal, none = of.removal_per_day(of.clean_m3_s, of.case.new), of.case.new
        life, housings = study.tub.water_life_days, of.entry.option.housings_in_parallel
        caught = housings * np.sum(of.case.catches(np.array([of.clean_m3_s]), none), axis=0)[:, 0]
        share = life_mean_share(removal * life, of.case.still, life)
        assert caught == pytest.approx(study.tub.deposit_load_kg_day * share, rel=10 * SINGLE)
        for before in (False, True):
            seen = float(see_through_at_end_m(study.tub, removal, just_before=before, still=of.case.still))
            assert of.seen_m(of.clean_m3_s, none, just_before=before) == pytest.approx(seen, rel=SINGLE)


def test_tubs_with_and_without_still_water_stand_beside_each_other() -> None:
    """Followed together, each is what it is alone: a share of one tub's water is never another's."""
    tubs: tuple[Given, ...] = ({}, {"dye_even_after": "2 h"}, {"dye_even_after": "1 day", "still_share": 0.6})
    studies = [study_from_dict(freezer(**tub)) for tub in tubs]
    rows = [(study, entries_of(study)[:8]) for study in studies]
    for (study, entries), together in zip(rows, follow_all(rows), strict=True):
        for alone, beside in zip(follow(study, entries), together, strict=True):
            assert beside.hours_to_clear == alone.hours_to_clear
            assert (beside.first is None) == (alone.first is None)
            if alone.first is not None and beside.first is not None:
                assert beside.first.days == alone.first.days


@pytest.mark.parametrize(("dye", "days"), [("20 min", 20.0), ("5 h", 20.0), ("3 day", 20.0), ("3 day", 400.0)])
def test_water_followed_behind_a_filter_that_stays_as_it_is_holds_what_the_closed_form_says(
    dye: str, days: float
) -> None:
    """Runs of a moment: the filter is new all the time. Without dust both follow sessions alone."""
    tub = {
        "dye_even_after": dye,
        "uncovered_hours_per_day": 0,
        "water_change_every": f"{days} day",
        "sessions_per_day": 2,
    }
    study = study_from_dict(freezer(**tub))
    running = [of for of in followed_in(study) if of.life is not None]
    lives = [of.life for of in running if of.life is not None]
    views = views_with_memory(study.tub, lives, np.full(len(lives), 1e-3))
    for of, before, after, hours in zip(running, views.clean_m, views.worst_m, views.hours_to_clear, strict=True):
        removal, still = of.removal_per_day(of.clean_m3_s, of.case.new), of.case.still
        one_less = replace(study.tub, water_life_days=days - 0.5)  # the next session would be the last
        assert float(before) == pytest.approx(
            float(see_through_at_end_m(one_less, removal, just_before=True, still=still)), rel=1e-5
        )
        assert float(after) == pytest.approx(
            float(see_through_at_end_m(study.tub, removal, just_before=False, still=still)), rel=1e-5
        )
        assert float(hours) == pytest.approx(of.hours_to_clear, rel=0.02)


def test_a_note_says_what_still_water_changes_and_that_is_all_a_second_outlet_brings() -> None:
    lags, mixed = answered(freezer(dye_even_after="60 min")), answered(freezer())
    (note,) = (remark for remark in lags.notes if remark.kind == "still water")
    assert lags.advised is not None
    assert mixed.advised is not None
    assert note.figures["option"] == lags.advised.name
    assert note.figures["hours"] == lags.advised.hours_to_clear_after_session
    assert note.figures["hours_mixed"] == mixed.advised.hours_to_clear_after_session
    assert 0.0 < float(note.figures["view_by"]) < 2e-3
    assert not [remark for remark in mixed.notes if remark.kind == "still water"]
