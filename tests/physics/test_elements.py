"""Makers' figures, layers, grit and lift tests at their edges, each against a figure worked out here."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from studies import demo_data, study_of

from filtration.base.units import GRAVITY_M_S2
from filtration.loading.capacity import caught_of_tub, loaded_losses_pa
from filtration.physics.capture import layer_shares
from filtration.physics.loop import loop_of_lift_test
from filtration.physics.media import Medium, clean_loss_pa, fitted_to_clean_loss, foam, spun
from filtration.physics.soil import CLASS_DIAMETERS_M
from filtration.physics.tub import settling_classes
from filtration.physics.water import water_at

WATER = water_at(20.0)
FLOW = 20.0 / 60e3  # 20 L/min


def slim(rating_m: float = 20e-6) -> Medium:
    """Return a spun element of the common small size."""
    return spun(rating_m=rating_m, outer_radius_m=0.031, inner_radius_m=0.014, length_m=0.254)


def core_pa(medium: Medium) -> float:
    """Return what the core takes at 20 L/min: K rho v^2 / 2 is a coefficient times the square of the flow."""
    return WATER.density_kg_m3 * medium.core_inertia_per_m4 * FLOW**2


def test_what_a_common_core_takes() -> None:
    """20 L/min through a 25 mm core with K = 2: v = 0.679 m/s, 998.2 v^2 / 2 x 2 = 460 Pa, worked out by hand."""
    assert core_pa(slim()) == pytest.approx(460.3, rel=1e-3)


def test_a_clean_loss_below_that_of_the_core_shrinks_the_core() -> None:
    """The maker's figure wins: 200 Pa at 20 L/min, where the core assumed takes 460 Pa, of which 0.9 stays its part."""
    fitted = fitted_to_clean_loss(slim(), ((FLOW, 200.0),), WATER)
    assert float(clean_loss_pa(fitted, FLOW, WATER)) == pytest.approx(200.0, rel=1e-9)
    assert core_pa(fitted) == pytest.approx(0.9 * 200.0, rel=1e-9)


def test_clean_losses_that_contradict_each_other_are_met_with_the_least_squares() -> None:
    """The factor found is the one that a search for the least sum of squared relative errors finds."""
    points = ((FLOW / 4.0, 90.0), (FLOW, 900.0), (2.0 * FLOW, 4000.0))
    flow, measured = np.array(points).T

    def squares(log_factor: float) -> float:
        trial = replace(slim(), permeability_factor=float(np.exp(log_factor)))
        return float(((clean_loss_pa(trial, flow, WATER) / measured - 1.0) ** 2).sum())

    least = minimize_scalar(squares, bounds=(-10.0, 10.0), method="bounded", options={"xatol": 1e-9})
    found = float(np.log(fitted_to_clean_loss(slim(), points, WATER).permeability_factor))
    assert found == pytest.approx(least.x, abs=2e-3)


@given(st.sampled_from([slim(5e-6), slim(), foam(pores_per_inch=20, area_m2=0.02, thickness_m=0.05, rating_m=350e-6)]))
def test_an_element_with_next_to_nothing_in_it_loses_what_a_clean_one_does(medium: Medium) -> None:
    tub = study_of(demo_data("freezer")).tub
    clean = float(clean_loss_pa(medium, FLOW, WATER))
    losses = loaded_losses_pa(medium, caught_of_tub(medium, tub, FLOW), FLOW, 1e-12, WATER)
    assert losses[-1] == pytest.approx(clean, rel=1e-6)


def test_what_is_caught_for_certain_stays_in_the_outermost_layer() -> None:
    assert layer_shares(np.array([1.0]), 4).ravel() == pytest.approx([1.0, 0.0, 0.0, 0.0], abs=1e-3)


def test_grit_sinks_where_it_falls_faster_than_the_water_rises() -> None:
    """Stokes by hand, quartz of 2650 kg/m3: v = g drho d^2 / (18 mu), against the flow over the tub's floor.

    420 L, 0.7 m deep, stand on 0.6 m2; at 1200 L/h the water rises 0.56 mm/s, which grit of 31 um falls at 4 degC.
    """
    study = study_of(demo_data("freezer"))
    tub = replace(study.tub, volume_m3=0.420, depth_m=0.7, water=water_at(4.0))
    flow = 1.2 / 3600.0
    excess = 2650.0 - tub.water.density_kg_m3
    least = np.sqrt(18.0 * tub.water.viscosity_pa_s * (flow / 0.6) / (GRAVITY_M_S2 * excess))
    assert 1e6 * least == pytest.approx(31.2, abs=0.3)
    assert settling_classes(tub, flow).tolist() == CLASS_DIAMETERS_M[least < CLASS_DIAMETERS_M].tolist()


def test_a_lift_test_says_between_which_flows_it_was_made() -> None:
    points = ((0.0, 24.0 / 60e3), (0.5, 19.0 / 60e3), (1.2, 9.0 / 60e3))
    loop = loop_of_lift_test(points, WATER)
    assert loop.measured_m3_s == pytest.approx((9.0 / 60e3, 24.0 / 60e3))
    (left,) = loop.left_pa(np.array([19.0 / 60e3]))
    assert left == pytest.approx(WATER.density_kg_m3 * GRAVITY_M_S2 * 0.5, rel=2e-4)  # read between points of a table
