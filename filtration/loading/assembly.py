"""From a study to options that can be run: loops, media, and what keeps an option from working at all."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.base.errors import InputError, NoAnswerError, option_of
from filtration.base.remarks import Remark
from filtration.base.roots import root_by_sections
from filtration.loading.capacity import (
    caught_of_test_dust,
    caught_of_tub,
    density_bounds_kg_m3,
    deposit_at_kg,
    fitted_to_capacity,
    makers_flow_m3_s,
)
from filtration.physics.loop import Loop, loop_of, loop_of_lift_test
from filtration.physics.media import Medium, clean_loss_pa
from filtration.physics.pump import Pump
from filtration.physics.water import water_at
from filtration.study.believed import moved
from filtration.study.values import Element, Option, Study, medium_of

_ROUNDS = 4  # of a clean flow
_FAR = 100.0  # times a capacity, how far its bound is looked for


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Entry:
    """One option on one pump.

    Parameters
    ----------
    option, pump : Option, Pump
        What is compared.
    loop : Loop or None
        Pump and plumbing; None where the pump cannot drive the loop.
    media : tuple of Medium
        The elements, in the order the water meets them.
    faults : tuple of Remark
        Why it cannot work at all.
    notes : tuple of Remark
        What the reader should know of it.
    """

    option: Option
    pump: Pump
    loop: Loop | None
    media: tuple[Medium, ...]
    faults: tuple[Remark, ...]
    notes: tuple[Remark, ...]


def loop_for(study: Study, pump: Pump, housings_in_series: int) -> Loop:
    """Return the loop of a pump with so many housings one after the other.

    Parameters
    ----------
    study : Study
        The study.
    pump : Pump
        One of its pumps.
    housings_in_series : int
        Housings, at least 1.

    Returns
    -------
    Loop
        From the lift test where there is one, else from pump and plumbing.

    Raises
    ------
    NoAnswerError
        If the pump cannot lift the water round the loop.
    """
    further = housings_in_series - 1
    plumbing, water = study.plumbing, study.tub.water
    if study.lift_test:
        return loop_of_lift_test(study.lift_test, water, plumbing.bore_m if plumbing else None, further)
    if plumbing is None:
        msg = "a study without a lift test needs its plumbing"
        raise InputError(msg)
    return loop_of(pump, plumbing, water, further)


def _medium(study: Study, element: Element, notes: list[Remark]) -> Medium:
    """Return an element's medium, and note where its maker's figures say too little or too much."""
    try:
        medium = medium_of(element)
    except ValueError as error:
        msg = f"[[elements]] {element.name!r}, {error}"
        raise InputError(msg) from None
    if element.absolute and not element.beta:
        notes.append(Remark(kind="absolute without beta", figures={"element": element.name}))
    return _with_capacity(study, element, medium, notes)


def _with_capacity(study: Study, element: Element, medium: Medium, notes: list[Remark]) -> Medium:
    """Return a medium whose deposit density follows from the maker's dirt capacity, if one was stated with its loss."""
    if element.capacity_kg is None or medium.half_gap_m <= 0.0:
        return medium
    figures: dict[str, float | str] = {"element": element.name, **stated_capacity(element)}
    if element.capacity_at_pa is None:
        notes.append(Remark(kind="capacity alone", figures=figures))
        return medium
    flow, water, loss_pa = makers_flow_m3_s(element), water_at(model("capacity.temperature")), element.capacity_at_pa
    of_dust = element.capacity_dust == "test dust"
    caught = caught_of_test_dust(medium) if of_dust else caught_of_tub(medium, study.tub, flow)
    bounds = density_bounds_kg_m3(element.capacity_dust)
    fitted = fitted_to_capacity(medium, caught, flow, loss_pa, water, bounds)
    if fitted.deposit_density_kg_m3 in bounds:
        kind = "capacity too large" if fitted.deposit_density_kg_m3 == bounds[1] else "capacity too small"
        holds_kg = deposit_at_kg(fitted, caught, flow, loss_pa, water, _FAR * medium.capacity_kg)
        figures["bound_kg_m3"] = fitted.deposit_density_kg_m3
        figures["bound_g"] = 1e3 * holds_kg / element.capacity_counts_as
        notes.append(Remark(kind=kind, figures=figures))
    return fitted


def stated_capacity(element: Element) -> dict[str, float]:
    """Return the figures of an element's stated capacity: its maker's grams, what they count as, at which pressure."""
    if element.capacity_kg is None:
        return {}
    figures = {"capacity_g": 1e3 * element.capacity_kg}
    if element.capacity_counts_as != 1.0:
        figures["counts_g"] = figures["capacity_g"] * element.capacity_counts_as
    return figures | ({} if element.capacity_at_pa is None else {"at_bar": 1e-5 * element.capacity_at_pa})


def _clean_flow_each(loop: Loop, media: Sequence[Medium], study: Study, housings: int) -> float:
    """Return the flow through one clean element [m3/s]."""
    water = study.tub.water

    def spare(flow: Array) -> Array:
        return loop.left_pa(flow) - sum(clean_loss_pa(medium, flow / housings, water) for medium in media)

    return float(root_by_sections(spare, np.zeros(1), loop.end_m3_s, rounds=_ROUNDS)[0]) / housings


def clean_flow_m3_s(study: Study, entry: Entry) -> float:
    """Return the clean flow of an entry.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.

    Returns
    -------
    float
        Flow through the whole option [m3/s]; 0 where the pump moves no water.
    """
    if entry.loop is None:
        return 0.0
    housings = entry.option.housings_in_parallel
    return housings * _clean_flow_each(entry.loop, entry.media, study, housings)


Loops = dict[tuple[str, int], Loop]


def entries_of(study: Study) -> list[Entry]:
    """Put every option on every pump.

    Parameters
    ----------
    study : Study
        The study.

    Returns
    -------
    list of Entry
        Pump by pump; a loop is worked out once for each pump and number of housings in series.

    Raises
    ------
    InputError
        If a maker's figures are impossible.
    """
    loops: Loops = {}
    return [entry_of(study, option, pump, loops) for pump in study.pumps for option in study.options]


def entry_of(study: Study, option: Option, pump: Pump, loops: Loops | None = None) -> Entry:
    """Put one option on one pump.

    Parameters
    ----------
    study : Study
        The study.
    option, pump : Option, Pump
        One of its options and one of its pumps.
    loops : dict, optional
        Loops known by pump and housings in series; a new one is added.

    Returns
    -------
    Entry
        Loop and media, or why it cannot work.

    Raises
    ------
    InputError
        If a maker's figures are impossible.
    """
    notes: list[Remark] = []
    faults: list[Remark] = []
    media = [_medium(study, element, notes) for element in option.stages]
    for element, medium in zip(option.stages, media, strict=True):
        if medium.half_gap_m <= 0.0:
            figures: dict[str, float | str] = {"element": element.name, "area_m2": medium.face_m2}
            figures["most_m2"] = medium.face_m2 * medium.times_to_fill
            faults.append(Remark(kind="does not fit", figures=figures))
    loop = None
    try:
        known, key = {} if loops is None else loops, (pump.name, option.housings_in_series)
        if key not in known:
            known[key] = loop_for(study, pump, option.housings_in_series)
        loop = known[key]
    except NoAnswerError as error:
        faults.append(Remark(kind="no flow", figures={"why": str(error)}))
    media = [moved(medium, study) for medium in media]
    return Entry(option=option, pump=pump, loop=loop, media=tuple(media), faults=tuple(faults), notes=tuple(notes))


def entry_by_id(study: Study, option_id: str) -> Entry:
    """Put the option of an id, or of a name, on its pump.

    Parameters
    ----------
    study : Study
        The study.
    option_id : str
        Its id, with ``@`` and its pump's name where there are several pumps; or its name.

    Returns
    -------
    Entry
        The option.

    Raises
    ------
    InputError
        If there is none; or if a maker's figures are impossible.
    """
    return entry_of(study, *study.on_pumps[option_of(study.names, option_id)])
