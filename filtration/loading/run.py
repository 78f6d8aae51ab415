"""One run of the filter from clean to due, and the limit that ends it."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from filtration.base.arrays import Array, Flags, Rows
from filtration.base.defaults import model
from filtration.base.roots import root_between
from filtration.loading.history import History
from filtration.loading.law import catch_shares, layers_resistance
from filtration.loading.site import Site, State, flow_left_m3_s, left_pa, losses_pa, removal_at
from filtration.physics.optics import see_through_m
from filtration.physics.tub import attenuation_per_m
from filtration.study.values import Needs

_SCAN, _SCAN_RISING = 24, 4
"""Steps that look for where a run ends: the view may fall and rise again, resistance and deposit only rise."""

_DAYS_TOLERANCE = 1e-6


def unstated_shortest_days(first_days: Array) -> Array:
    """Return the shortest run an owner puts up with who does not say.

    Parameters
    ----------
    first_days : (...) array
        First run [day].

    Returns
    -------
    (...) array
        Half of it, but at least 3 days, of which no more than four fifths of it count, but one day: an element that
        lasts little is still rinsed rather than thrown away, though nobody rinses more than once a day; assumption.

    Examples
    --------
    >>> unstated_shortest_days(np.array([0.5, 2.0, 4.0, 14.0])).tolist()
    [1.0, 1.6, 3.0, 7.0]
    """
    most = np.maximum(model("service.shortest_most_share") * first_days, model("service.least_days"))
    least = np.minimum(model("service.shortest_days"), most)
    shortest: Array = np.maximum(model("service.shortest_share") * first_days, least)
    return shortest


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clean:
    """Options with nothing caught yet; o options.

    Parameters
    ----------
    flow_m3_s, loss_pa : (o,) array
        Flow [m3/s] and loss of the whole filter [Pa].
    due_flow_m3_s : (o,) array
        Flow at which a run ends [m3/s].
    pressure_governs : (o,) array of bool
        The stated pressure rise asks for more flow than the owner does.
    before_m, after_m : (o,) array
        See-through just before and just after a session, at the end of the water's life [m].
    removal_per_day : (o, c) array
        Rate at which each size class is taken out [1/day].
    """

    flow_m3_s: Array
    loss_pa: Array
    due_flow_m3_s: Array
    pressure_governs: Flags
    before_m: Array
    after_m: Array
    removal_per_day: Array


def clean_state(site: Site) -> State:
    """Return the state of every option when new, shape (o, s).

    Parameters
    ----------
    site : Site
        The options.

    Returns
    -------
    State
        Clean layers, no cake.
    """
    resistance, inertia = layers_resistance(site.trains, np.zeros(site.trains.volume_m3.shape))
    nothing = np.zeros(resistance.shape)
    return State(resistance_per_m3=resistance, inertia_per_m4=inertia, layer_kg=nothing, cake_kg=nothing)


def clean_of(site: Site, needs: Needs) -> Clean:
    """Return how the options do when clean, and the flow at which a run ends.

    Parameters
    ----------
    site : Site
        The options.
    needs : Needs
        What the owner wants.

    Returns
    -------
    Clean
        Flow, loss, clarity.

    Notes
    -----
    A pressure rise is a flow in disguise: what the filter takes is what pump and pipes leave at that flow.
    """
    rows, state = site.all_rows, clean_state(site)
    largest = site.largest_flow_m3_s
    flow = flow_left_m3_s(site, rows, state, np.zeros(len(rows)), largest)
    loss = left_pa(site, rows, flow)
    wanted = flow * needs.share_of_clean_flow if needs.share_of_clean_flow else np.full(len(rows), needs.flow_m3_s)

    def below_rise(at: Array) -> Array:
        gap: Array = left_pa(site, rows, at) - (loss + needs.max_pressure_rise_pa)
        return gap

    at_rise = np.zeros(len(rows))
    if np.isfinite(needs.max_pressure_rise_pa):
        at_rise = root_between(below_rise, np.zeros(len(rows)), largest)
    _, caught = catch_shares(site.trains, rows, state.cake_kg)
    removal = removal_at(site, rows, flow, caught.sum(axis=-2))
    tub = site.tub
    return Clean(
        flow_m3_s=flow,
        loss_pa=loss,
        due_flow_m3_s=np.maximum(wanted, at_rise),
        pressure_governs=at_rise > wanted,
        before_m=see_through_m(attenuation_per_m(tub, removal, just_before=True)),
        after_m=see_through_m(attenuation_per_m(tub, removal, just_before=False)),
        removal_per_day=removal,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """Runs of some options, each from the state it starts in to the state when due; r runs.

    Parameters
    ----------
    days : (r,) array
        Length [day].
    limit : (r,) array of str
        The limit that ends the run.
    when_due : State
        Shape (r, s).
    """

    days: Array
    limit: npt.NDArray[np.str_]
    when_due: State


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runner:
    """Everything a run needs to know of the options; o options.

    Parameters
    ----------
    site, needs, clean, history : Site, Needs, Clean, History
        The options, what is wanted, how they do when clean, and how their stages load.
    clarity_counts : (o,) array of bool
        The clean filter is clear enough, so that clarity can end a run.
    """

    site: Site
    needs: Needs
    clean: Clean
    history: History
    clarity_counts: Flags

    def state_after(self, rows: Rows, used_days: Array, extra_cake_kg: Array, days: Array) -> State:
        """State (..., s) some ``days`` (...) into a run.

        The layers stand as after ``used_days`` (..., s) of use since new, and the cake is ``extra_cake_kg`` (..., s)
        above what it was then; what is on the face grows.
        """
        state = self.history.at(rows, used_days + days[..., None])
        extra = extra_cake_kg * np.exp(self.site.tub.growth_per_day * days)[..., None]
        return State(
            resistance_per_m3=state.resistance_per_m3,
            inertia_per_m4=state.inertia_per_m4,
            layer_kg=state.layer_kg,
            cake_kg=np.maximum(state.cake_kg + extra, 0.0),
        )

    def flow_of(self, rows: Rows, state: State) -> Array:
        """Flow left, shape (...), for a state (..., s) of the options ``rows`` (...) [m3/s]."""
        return flow_left_m3_s(self.site, rows, state, np.zeros(rows.shape), self.clean.flow_m3_s[rows])

    def see_through_after_session_m(self, rows: Rows, state: State, flow: Array) -> Array:
        """See-through just after a session at the end of the water's life, shape (...) [m]."""
        _, caught = catch_shares(self.site.trains, rows, state.cake_kg)
        removal = removal_at(self.site, rows, flow, caught.sum(axis=-2))
        return see_through_m(attenuation_per_m(self.site.tub, removal, just_before=False))

    def _choked(self, rows: Rows, state: State) -> Array:
        """How far the filter is beyond the flow when due: 0 is due, shape (...)."""
        flow = self.clean.due_flow_m3_s[rows]
        loss = losses_pa(self.site, rows, state, flow).sum(axis=-1)
        over: Array = np.log(loss / left_pa(self.site, rows, flow))
        return over

    def fullness(self, rows: Rows, state: State) -> Array:
        """Share of what each stage can hold that it holds, shape (..., s) [-]."""
        trains = self.site.trains
        room = np.where(trains.present, trains.layer_full_kg.sum(axis=-1), np.inf)[rows]
        held = state.layer_kg + state.cake_kg
        share: Array = np.maximum(
            np.maximum(state.cake_kg / trains.cake_full_kg[rows], held / trains.capacity_kg[rows]),
            state.layer_kg / room / (1.0 - 1e-9),
        )
        return share

    def _filled(self, rows: Rows, state: State) -> Array:
        """How far any stage is beyond full: 0 is full, shape (...)."""
        over: Array = self.fullness(rows, state).max(axis=-1) - 1.0
        return over

    def _clouded(self, rows: Rows, state: State) -> Array:
        """How far the water is beyond the least clarity: 0 is due, shape (...); far below where it cannot happen."""
        flow = self.flow_of(rows, state)
        seen = self.see_through_after_session_m(rows, state, flow)
        over: Array = np.where(self.clarity_counts[rows], self.needs.see_through_m / seen - 1.0, -1.0)
        return over

    def runs(self, rows: Rows, used_days: Array, extra_cake_kg: Array, longest_days: Array) -> Runs:
        """Return one run of each of the options ``rows``.

        Parameters
        ----------
        rows : (r,) array of int
            Which option.
        used_days, extra_cake_kg : (r, s) array
            The state at the start: layers as after so long in use since new [day], and cake above that [kg].
        longest_days : (r,) array
            Time limit [day].

        Returns
        -------
        Runs
            Length, limit and final state.
        """
        could_cloud = self._could_cloud(rows)

        def spare(days: Array, of: Rows) -> Array:
            wide = days.ndim > 1
            used = used_days[:, None] if wide else used_days
            extra = extra_cake_kg[:, None] if wide else extra_cake_kg
            state = self.state_after(of, used, extra, days)
            worst = np.maximum(self._choked(of, state), self._filled(of, state))
            if could_cloud:
                worst = np.maximum(worst, self._clouded(of, state))
            return -worst

        steps = _SCAN if could_cloud else _SCAN_RISING
        longest = np.minimum(longest_days, self._known_days(rows, used_days))
        scan = longest[:, None] * np.linspace(0.0, 1.0, steps + 1)
        left = spare(scan, np.broadcast_to(rows[:, None], scan.shape))
        ended = left <= 0.0
        first = np.where(ended.any(axis=1), ended.argmax(axis=1), steps + 1)
        each = np.arange(len(rows))
        before, after = np.clip(first - 1, 0, steps), np.minimum(first, steps)
        days = longest
        if (first <= steps).any():
            root = root_between(
                lambda at: spare(at, rows),
                scan[each, before],
                scan[each, after],
                tolerance=_DAYS_TOLERANCE,
                at_ends=(left[each, before], left[each, after]),
            )
            days = np.where(first > steps, longest, root)
        state = self.state_after(rows, used_days, extra_cake_kg, days)
        reached = np.array(
            [
                self._choked(rows, state),
                self._filled(rows, state),
                self._clouded(rows, state) if could_cloud else np.full(len(rows), -1.0),
            ]
        )
        names = np.where(self.clean.pressure_governs[rows], "pressure", "flow")
        names = np.select([reached.argmax(axis=0) == 1, reached.argmax(axis=0) == 2], ["full", "clarity"], names)
        return Runs(days=days, limit=np.where(first > steps, "time limit", names), when_due=state)

    def _could_cloud(self, rows: Rows) -> bool:
        """Whether clarity can end any run: the clean filter at the flow when due is the worst there is."""
        rows = rows[self.clarity_counts[rows]]
        state = self.history.at(rows, np.zeros((len(rows), self.history.end_days.shape[1])))
        seen = self.see_through_after_session_m(rows, state, self.clean.due_flow_m3_s[rows])
        return bool((seen < self.needs.see_through_m).any())

    def _known_days(self, rows: Rows, used_days: Array) -> Array:
        """How long the history of the longest-lived stage goes on, shape (r,) [day]."""
        rest = np.where(self.site.trains.present[rows], self.history.end_days[rows] - used_days, 0.0)
        known: Array = np.maximum(rest.max(axis=-1), 0.0)
        return known
