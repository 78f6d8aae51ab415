"""Options at one tub: what each pushes with, what it takes, and the flow that is left."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from filtration.base.arrays import Array, Rows
from filtration.base.roots import root_between
from filtration.base.units import SECONDS_PER_DAY
from filtration.loading.law import Trains, cake_drag, stage_loss_pa
from filtration.physics.loop import Loop
from filtration.physics.tub import Tub, removal_per_day


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Site:
    """Options at one tub: what each pushes with, and what it is loaded by; o options.

    Parameters
    ----------
    tub : Tub
        The tub.
    trains : Trains
        The elements.
    flow_step_m3_s : (o,) array
        Step of flow between the points of ``left_pa`` [m3/s].
    left_pa : (o, p) array
        Pressure left for the filter at flows 0, step, 2 step … [Pa].
    share_of_day : (o,) array
        Share of the day the pump runs [-].
    """

    tub: Tub
    trains: Trains
    flow_step_m3_s: Array
    left_pa: Array
    share_of_day: Array

    @property
    def all_rows(self) -> Rows:
        """Index of every option."""
        return np.arange(len(self.share_of_day))

    @property
    def largest_flow_m3_s(self) -> Array:
        """Flow without any filter, shape (o,) [m3/s]."""
        largest: Array = self.flow_step_m3_s * (self.left_pa.shape[1] - 1)
        return largest


def site_of(tub: Tub, trains: Trains, loops: Sequence[Loop], share_of_day: Sequence[float]) -> Site:
    """Put options and their loops together.

    Parameters
    ----------
    tub : Tub
        The tub.
    trains : Trains
        The elements of each option.
    loops : sequence of Loop
        The loop of each option, all sampled at equally many flows.
    share_of_day : sequence of float
        Share of the day each option's pump runs [-].

    Returns
    -------
    Site
        The same as arrays.
    """
    return Site(
        tub=tub,
        trains=trains,
        flow_step_m3_s=np.array([loop.flow_m3_s[1] for loop in loops]),
        left_pa=np.array([loop.left_pa for loop in loops]),
        share_of_day=np.array(share_of_day, dtype=np.float64),
    )


def left_pa(site: Site, rows: Rows, flow_m3_s: Array) -> Array:
    """Return the pressure left for the filter.

    Parameters
    ----------
    site : Site
        The options.
    rows : (...) array of int
        Which option each flow belongs to.
    flow_m3_s : (...) array
        Flow [m3/s].

    Returns
    -------
    (...) array
        Pressure [Pa].
    """
    at = np.clip(flow_m3_s / site.flow_step_m3_s[rows], 0.0, site.left_pa.shape[1] - 1.000001)
    below = at.astype(np.intp)
    part = at - below
    pressure: Array = site.left_pa[rows, below] * (1.0 - part) + site.left_pa[rows, below + 1] * part
    return pressure


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class State:
    """How the stages of some options stand; shape (..., s), one element each.

    Parameters
    ----------
    resistance_per_m3, inertia_per_m4 : (..., s) array
        Of layers and core [1/m3], [1/m4].
    layer_kg, cake_kg : (..., s) array
        Deposit in all layers and on the face [kg].
    """

    resistance_per_m3: Array
    inertia_per_m4: Array
    layer_kg: Array
    cake_kg: Array

    def of(self, places: Rows) -> "State":
        """Return the states at some places of the first axis."""
        return State(
            resistance_per_m3=self.resistance_per_m3[places],
            inertia_per_m4=self.inertia_per_m4[places],
            layer_kg=self.layer_kg[places],
            cake_kg=self.cake_kg[places],
        )


def losses_pa(site: Site, rows: Rows, state: State, flow_m3_s: Array) -> Array:
    """Return the loss of each stage at a flow.

    Parameters
    ----------
    site : Site
        The options.
    rows : (...) array of int
        Which option each state belongs to.
    state : State
        Shape (..., s).
    flow_m3_s : (...) array
        Flow through the whole option [m3/s].

    Returns
    -------
    (..., s) array
        Loss [Pa].
    """
    water = site.tub.water
    each = (flow_m3_s / site.trains.housings[rows])[..., None]
    drag = cake_drag(site.trains, rows, state.cake_kg, water)
    linear = water.viscosity_pa_s * state.resistance_per_m3
    return stage_loss_pa(each, linear, water.density_kg_m3 * state.inertia_per_m4, drag)


def flow_left_m3_s(site: Site, rows: Rows, state: State, low: Array, high: Array, *, tolerance: float = 1e-8) -> Array:
    """Return the flow at which the filter takes all that is left for it.

    Parameters
    ----------
    site : Site
        The options.
    rows : (...) array of int
        Which option each state belongs to.
    state : State
        Shape (..., s).
    low, high : (...) array
        Flows to look between [m3/s]; a bound is the answer where the flow lies outside.
    tolerance : float, optional
        See ``root_between``.

    Returns
    -------
    (...) array
        Flow [m3/s].
    """

    def spare(flow: Array) -> Array:
        gap: Array = left_pa(site, rows, flow) - losses_pa(site, rows, state, flow).sum(axis=-1)
        return gap

    return root_between(spare, low, high, tolerance=tolerance)


def removal_at(site: Site, rows: Rows, flow: Array, caught: Array) -> Array:
    """Return the rate at which options take each size class out of the tub.

    Parameters
    ----------
    site : Site
        The options.
    rows : (...) array of int
        Which option each flow belongs to.
    flow : (...) array
        Flow while the pump runs [m3/s].
    caught : (..., c) array
        Share caught in one pass by the whole option [-].

    Returns
    -------
    (..., c) array
        Rate [1/day].
    """
    return removal_per_day(site.tub, flow * SECONDS_PER_DAY * site.share_of_day[rows], caught)
