"""Hoses, bends and what a pump gives, against another library and by hand, one thing at a time."""

import numpy as np
import pytest
from fluids.friction import friction_factor
from fluids.numerics import brenth

from filtration.physics.loop import loop_of
from filtration.physics.plumbing import Plumbing, loss_coefficient, plumbing_loss_pa
from filtration.physics.pump import Pump, head_curve
from filtration.physics.return_line import return_of
from filtration.physics.water import water_at

WATER = water_at(4.0)
FLOW = 1300.0 / 3.6e6
BORE, LENGTH = 0.019, 3.0
SPEED = FLOW / (np.pi / 4.0 * BORE**2)
DYNAMIC = 0.5 * WATER.density_kg_m3 * SPEED**2
REYNOLDS = WATER.density_kg_m3 * SPEED * BORE / WATER.viscosity_pa_s


def loss(**more: float) -> float:
    """Return the loss of a hose of 19 mm and 3 m with more of something."""
    hose = Plumbing(bore_m=BORE, length_m=LENGTH, **more)  # type: ignore[arg-type]
    return float(plumbing_loss_pa(np.array([FLOW]), hose, WATER)[0])


def test_a_bare_hose_takes_friction_alone() -> None:
    """No bend, barb, fitting, lift or roughness unless it is said."""
    assert loss() == pytest.approx(friction_factor(Re=REYNOLDS, eD=0.0) * LENGTH / BORE * DYNAMIC, rel=0.02)
    assert loss_coefficient(Plumbing(bore_m=BORE, length_m=LENGTH)) == 0.0


@pytest.mark.parametrize(
    ("more", "coefficient"),
    [
        ({"elbows_90": 3}, 3 * 0.75),
        ({"hose_barbs": 2}, 2 * 1.5),
        ({"other_k": 4.0}, 4.0),
        ({"elbows_90": 2, "hose_barbs": 2, "other_k": 4.0, "k_factor": 1.2}, 1.2 * (1.5 + 3.0 + 4.0)),
    ],
)
def test_each_fitting_takes_its_coefficient(more: dict[str, float], coefficient: float) -> None:
    assert loss(**more) - loss() == pytest.approx(coefficient * DYNAMIC, rel=1e-6)


def test_what_changes_no_loss_and_what_does() -> None:
    """A hose outside, its foam and what lies after a tee lose nothing more; roughness and lift do."""
    assert loss(length_outside_m=2.0) == loss(insulation_m=0.01) == loss(return_factor=1.5) == loss()
    rough = friction_factor(Re=REYNOLDS, eD=1e-4 / BORE) * LENGTH / BORE * DYNAMIC
    assert loss(roughness_m=1e-4) == pytest.approx(rough, rel=0.02)


def test_a_lift_takes_head() -> None:
    """Half a metre of lift leaves so much less for the filter at every flow."""
    pump = Pump(name="a", shutoff_head_m=2.4, max_flow_m3_s=2400.0 / 3.6e6)
    hoses = [Plumbing(bore_m=BORE, length_m=LENGTH, static_lift_m=lift) for lift in (0.0, 0.5)]
    low, high = (float(loop_of(pump, hose, WATER).left_pa(np.array([FLOW]))[0]) for hose in hoses)
    assert low - high == pytest.approx(0.5 * 9.80665 * WATER.density_kg_m3, rel=1e-6)


def test_a_pump_and_its_hose_by_hand() -> None:
    """The head of the box falls with the 1.6th power to nothing at nine tenths of its flow; the bare flow is a root."""
    most = 0.9 * 2400.0 / 3.6e6
    pump = Pump(name="a", shutoff_head_m=2.4, max_flow_m3_s=2400.0 / 3.6e6)
    assert head_curve(pump)(np.array([0.0, FLOW, most])) == pytest.approx(
        [2.4, 2.4 * (1.0 - (FLOW / most) ** 1.6), 0.0]
    )
    hose = Plumbing(bore_m=BORE, length_m=LENGTH, elbows_90=2, hose_barbs=2, other_k=4.0)

    def left(flow: float) -> float:
        head = 2.4 * (1.0 - (flow / most) ** 1.6) * 9.80665 * WATER.density_kg_m3
        return head - float(plumbing_loss_pa(np.array([flow]), hose, WATER)[0])

    found = loop_of(pump, hose, WATER)
    assert float(found.bare_m3_s[0]) == pytest.approx(brenth(left, 1e-6, most), rel=1e-5)
    assert float(found.left_pa(np.array([FLOW]))[0]) == pytest.approx(left(FLOW), rel=1e-4)
    assert (pump.power_w, pump.in_water, pump.share_of_day, pump.price) == (0.0, True, 1.0, 0.0)


def test_what_lies_after_the_tee_goes_with_its_factor() -> None:
    """As handbooks have it unless readings say otherwise."""
    shown = [
        float(return_of(Plumbing(bore_m=BORE, length_m=LENGTH, other_k=4.0, **more), WATER, 1).pressure_pa(FLOW))
        for more in ({}, {"return_factor": 1.0}, {"return_factor": 1.5})
    ]
    assert shown == pytest.approx([shown[0], shown[0], 1.5 * shown[0]])
