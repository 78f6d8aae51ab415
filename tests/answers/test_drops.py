"""Pressure drop at one flow: what sweep and answer have, and what physics demands."""

from itertools import pairwise

import pytest
from studies import demo_data, study_of

from filtration import Comparison, NoAnswerError
from filtration.answers.ranking import central_of
from filtration.answers.series import Drops, loss_with, pressure_drops
from filtration.present.charts.drops import drops_chart, most_held_g
from filtration.present.display import METRIC
from filtration.present.words.in_units import US


@pytest.fixture(scope="module")
def found() -> Drops:
    """Return the three kinds on the pump of the freezer tub, at the flow it wants."""
    study = study_of(demo_data("freezer"))
    return pressure_drops(study, central_of(study).followed, "pleated-20", ratings=[5.0, 10.0, 20.0, 50.0, 100.0])


def test_it_is_at_the_least_flow_wanted(found: Drops, freezer: Comparison) -> None:
    """420 L three times an hour."""
    assert found.flow_l_per_h == pytest.approx(3.0 * 420.0)
    due = [each.due_filter_loss_kpa for each in freezer.options if each.governed_by == "flow" and each.meets_needs]
    assert due
    assert all(each == pytest.approx(found.left_kpa, rel=1e-6) for each in due)


def test_own_filters_stand_on_the_curve_where_they_are_like_it(found: Drops) -> None:
    for curve in found.curves:
        for rating, loading in zip(curve.rating_um, curve.loadings, strict=True):
            own = found.own.get(f"{curve.kind}-{rating:g}")
            if own is not None:
                assert own.loss_kpa == pytest.approx(loading.loss_kpa)
                assert own.deposit_g == pytest.approx(loading.deposit_g)


def test_a_filter_meets_what_the_pump_leaves_with_what_it_holds_when_due(found: Drops, freezer: Comparison) -> None:
    """The answer knows the dirt held when due from elsewhere."""
    for option in freezer.options:
        if option.meets_needs and option.governed_by == "flow" and len(option.stages) == 1:
            loss = loss_with(found.own[option.id], option.deposit_when_due_g or 0.0)
            assert loss == pytest.approx(found.left_kpa, rel=0.03), option.id


def test_finer_and_dirtier_take_more(found: Drops) -> None:
    for curve in found.curves:
        clean = curve.losses_kpa(0.0)
        assert None not in clean
        assert all((finer or 0.0) > (coarser or 0.0) for finer, coarser in pairwise(clean))
        for loading in curve.loadings:
            assert all(more >= less for less, more in pairwise(loading.loss_kpa))
    pleated = next(curve for curve in found.curves if curve.kind == "pleated")
    some = pleated.losses_kpa(5.0)
    assert all((dirty or 0.0) > (new or 0.0) for dirty, new in zip(some, pleated.losses_kpa(0.0), strict=True))
    assert set(pleated.losses_kpa(1000.0)) == {None}


def test_the_picture_has_a_curve_a_kind_and_own_filters_where_they_stand(found: Drops, freezer: Comparison) -> None:
    spec = drops_chart(found, freezer, 0.0, US).to_dict()
    every = [row for data in spec["datasets"].values() for row in data] if "datasets" in spec else []
    every += [row for layer in spec["layer"] for row in layer.get("data", {}).get("values", [])]
    inch = 0.2490889  # kPa of an inch of water
    dots = {row["option"]: row for row in every if "option" in row}
    assert set(dots) == {freezer.option(name).name for name in found.own}
    for name, loading in found.own.items():
        dot = dots[freezer.option(name).name]
        assert dot["rating"] == freezer.option(name).rating_um
        assert dot["loss"] == pytest.approx(loading.loss_kpa[0] / inch, rel=1e-3)
    assert sum("kind" in row and "option" not in row for row in every) == 3 * 5
    full = drops_chart(found, freezer, most_held_g(found), METRIC).to_dict()
    assert "choked by so much" in " ".join(full["title"]["subtitle"])


def test_no_drop_where_no_water_moves() -> None:
    study = study_of(demo_data("freezer"))
    with pytest.raises(NoAnswerError, match="moves no water"):
        pressure_drops(study, [], "pleated-20")
