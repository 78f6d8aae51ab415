"""What the reader should know beside the figures."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from filtration.answers.beyond_mean import misses_of_the_mean
from filtration.answers.figures import L_PER_H, Followed, entry_id
from filtration.answers.results import OptionAnswer
from filtration.base.defaults import model
from filtration.base.remarks import Remark
from filtration.loading.assembly import Entry, stated_capacity
from filtration.loading.capacity import usable_kg
from filtration.physics.capture import caught_in_one_pass, caught_inside, strained
from filtration.physics.energy import dew_point_c, hose_surface_c
from filtration.physics.media import clean_loss_pa
from filtration.physics.tub import settling_classes
from filtration.physics.water import water_at
from filtration.service.care import unstated_shortest_days
from filtration.study.values import DEPTH, Element, Study, medium_of

_Figures = dict[str, float | str]
_WARM_C = 20.0
_FINEST_M = model("media.sheet_finest") * (1.0 - 1e-9)
_COARSE_M, _MOST_FINE_CAUGHT = 19.99e-6, 0.36  # J. Water Health 10(1):31: 5 um particles, ratings of 20 um and coarser


def all_remarks(
    study: Study,
    entries: Sequence[Entry],
    followed: Sequence[Followed],
    answers: Sequence[OptionAnswer],
    advised: str | None,
    central: Sequence[Remark],
) -> tuple[Remark, ...]:
    """Return what the reader should know beside the figures.

    Parameters
    ----------
    study : Study
        The study.
    entries : sequence of Entry
        Every option on every pump.
    followed : sequence of Followed
        Those whose pump drives the loop.
    answers : sequence of OptionAnswer
        Their figures, best first.
    advised : str or None
        Id of the option to take.
    central : sequence of Remark
        What the central case says by itself, see ``central_remarks``.

    Returns
    -------
    tuple of Remark
        Each only once.
    """
    found = [
        *(remark for entry in entries for remark in entry.notes),
        *_of_pump(study, entries, answers),
        *_of_water(study, answers, advised),
        *_of_still_water(followed, answers, advised),
        *_of_hoses(study),
        *_changes_nothing(study),
        *_not_rinsed(study, answers),
        *([_remark("believed")] if study.belief is not None else []),
        *central,
    ]
    return tuple({(remark.kind, remark.figures.get("element")): remark for remark in reversed(found)}.values())[::-1]


def central_remarks(followed: Sequence[Followed], answers: Sequence[OptionAnswer]) -> tuple[Remark, ...]:
    """Return what the central case says of makers' figures, and of what lies beyond evidence or the mean.

    Parameters
    ----------
    followed : sequence of Followed
        Options whose pump drives the loop.
    answers : sequence of OptionAnswer
        Figures of all options, best first.

    Returns
    -------
    tuple of Remark
        In order.
    """
    return (*_changes_by_makers(followed, answers), *_beyond_evidence(followed), *misses_of_the_mean(followed, answers))


def _remark(kind: str, **figures: float | str) -> Remark:
    return Remark(kind=kind, figures=figures)


def _of_pump(study: Study, entries: Sequence[Entry], answers: Sequence[OptionAnswer]) -> Iterator[Remark]:
    loops = [entry.loop for entry in entries if entry.loop is not None]
    if not loops:
        return
    yield _remark("ten psi", shutoff_kpa=1e-3 * max(float(loop.left_pa(np.zeros(1))[0]) for loop in loops))
    if loops[0].measured_m3_s is not None:
        low, high = (L_PER_H * flow for flow in loops[0].measured_m3_s)
        beyond = [
            answer.name
            for answer in answers
            if answer.due_flow_l_per_h and (answer.due_flow_l_per_h < low or answer.clean_flow_l_per_h > high)
        ]
        if beyond:
            yield _remark("beyond the points", low=low, high=high, options=", ".join(beyond))
    in_series = any(entry.option.housings_in_series > 1 for entry in entries)
    if study.lift_test and in_series and study.plumbing is None:
        yield _remark("train on lift test")


def _of_water(study: Study, answers: Sequence[OptionAnswer], advised: str | None) -> Iterator[Remark]:
    tub = study.tub
    if answers and answers[0].clean_flow_l_per_h > 0.0:
        sinking = settling_classes(tub, answers[0].clean_flow_l_per_h / L_PER_H)
        if sinking.size:
            yield _remark("settling", above_um=1e6 * float(sinking.min()))
    if study.water_never_changed:
        yield _remark("never changed", days=tub.water_life_days)
    elif tub.water_life_days > study.water_rule_days * (1.0 + 1e-9):
        yield _remark("older than rule", days=tub.water_life_days, rule=study.water_rule_days)
    if answers and tub.uses_per_day > 0.0:
        seen = next((answer for answer in answers if answer.id == advised), answers[0]).worst_view_m
        if seen < tub.depth_m:
            yield _remark("bottom", seen=seen, depth=tub.depth_m)
    if tub.water.temperature_c > _WARM_C:
        yield _remark("warm")
    if tub.uses_per_day <= 0.0:
        yield _remark("nobody bathes")


def _of_still_water(
    followed: Sequence[Followed], answers: Sequence[OptionAnswer], advised: str | None
) -> Iterator[Remark]:
    """Yield what still water changes with the option to take, which is what a well-mixed tub would bring."""
    asked = advised if advised is not None else answers[0].id if answers else None
    for of in followed:
        if of.case.still is None or entry_id(of.study, of.entry) != asked:
            continue
        mixed = replace(of, case=replace(of.case, still=None))
        hours, hours_mixed = of.hours_to_clear, mixed.hours_to_clear
        if hours is not None and hours_mixed:
            flow, cakes = (of.clean_m3_s, of.case.new) if of.first is None else (of.first.due_m3_s, of.first.cakes_kg)
            yield _remark(
                "still water",
                option=of.entry.option.name,
                share_by=of.study.tub.still_share,
                even_days=of.study.tub.dye_even_after_days,
                view_by=1.0 - of.seen_m(flow, cakes) / mixed.seen_m(flow, cakes),
                clearing_by=hours / hours_mixed - 1.0,
                hours=hours,
                hours_mixed=hours_mixed,
            )


def _of_hoses(study: Study) -> Iterator[Remark]:
    plumbing = study.plumbing
    if plumbing is None or plumbing.length_outside_m <= 0.0:
        return
    surface = hose_surface_c(study.tub.water.temperature_c, study.air_temperature_c, plumbing.insulation_m)
    dew = dew_point_c(study.air_temperature_c, study.air_humidity)
    if surface < dew:
        yield _remark("sweating", surface_c=surface, dew_c=dew)


def _changes_nothing(study: Study) -> Iterator[Remark]:
    """Yield where a rating, a size or a make changes nothing in the answer."""
    elements, shell_m = study.elements.values(), model("media.depth_shell")
    fine = [
        element.name
        for element in elements
        if element.kind == "pleated" and element.rating_m < _FINEST_M and not element.clean_loss
    ]
    if fine:
        yield _remark("membrane", elements=", ".join(fine))
    thick = [
        element.name for element in elements if element.kind in DEPTH and _wall_m(element) > shell_m * (1.0 + 1e-9)
    ]
    if thick:
        yield _remark("thick body", elements=", ".join(thick), shell_mm=1e3 * shell_m)
    rated: dict[float, list[Element]] = {}
    for element in elements:
        if element.kind in DEPTH and not element.beta:
            rated.setdefault(round(1e6 * element.rating_m, 3), []).append(element)
    same = [each.name for alike in rated.values() if len({each.kind for each in alike}) > 1 for each in alike]
    if same:
        yield _remark("same rating", elements=", ".join(same))


def _wall_m(element: Element) -> float:
    """Return how thick the wall of a round element is [m]; 0 for a flat one."""
    return (element.outer_radius_m or 0.0) - (element.inner_radius_m or 0.0)


def _not_rinsed(study: Study, answers: Sequence[OptionAnswer]) -> Iterator[Remark]:
    """Yield what could be rinsed but is replaced each time because its runs would be too short."""
    if not answers or study.needs.shortest_run_days is not None or not answers[0].services_per_year:
        return
    shortest = float(unstated_shortest_days(np.asarray(answers[0].days_to_first_service or 0.0)))
    for stage in answers[0].stages:
        if stage.service == "rinse" and stage.rinses_before_replacing == 0:
            yield _remark("not worth rinsing", element=stage.element, shortest=shortest)


def _beyond_evidence(followed: Sequence[Followed]) -> Iterator[Remark]:
    """Yield elements whose cake, when due, would strain more fine dirt than was ever measured."""
    fine = np.array(5e-6)
    for of in followed:
        if of.first is None:
            continue
        for element, medium, cake_kg in zip(of.entry.option.stages, of.entry.media, of.first.cakes_kg, strict=True):
            if medium.strains and medium.capture.rating_m >= _COARSE_M:
                cake = float(cake_kg[0]) / medium.face_m2
                inside = strained(caught_inside(medium.capture, fine), cake, fine, medium.straining_kg_m2)
                if (1.0 - medium.capture.bypass) * float(inside) > _MOST_FINE_CAUGHT:
                    yield _remark("cake beyond evidence", element=element.name)


def _changes_by_makers(followed: Sequence[Followed], answers: Sequence[OptionAnswer]) -> Iterator[Remark]:
    """Yield once for each element with its maker's figures what they change, as the best option that has it sees it."""
    by_id = {entry_id(of.study, of.entry): of for of in followed}
    told = set[str]()
    for of in [by_id[answer.id] for answer in answers if answer.id in by_id]:
        for stage, element in enumerate(of.entry.option.stages):
            figures = {**_of_loss(element), **_of_beta(element), **_of_capacity(of, stage)}
            if figures and element.name not in told:
                told.add(element.name)
                yield Remark(kind="maker's figures", figures={"element": element.name, **figures})


def _of_loss(element: Element) -> _Figures:
    """Return the maker's clean loss at its largest flow over that of the law [-]."""
    if not element.clean_loss:
        return {}
    flow, loss = element.clean_loss[-1]
    by_law = medium_of(replace(element, clean_loss=()))
    return {"times": loss / float(clean_loss_pa(by_law, flow, water_at(element.clean_loss_at_c)))}


def _of_beta(element: Element) -> _Figures:
    """Return what is caught at the rating in one pass, by the maker's beta ratios and by the rating alone [-]."""
    if not element.beta:
        return {}
    by_maker, by_rating = medium_of(element).capture, medium_of(replace(element, beta=())).capture
    return {
        "rating_um": 1e6 * element.rating_m,
        "caught": float(caught_in_one_pass(by_maker, element.rating_m)),
        "caught_by_rating": float(caught_in_one_pass(by_rating, element.rating_m)),
    }


def _of_capacity(of: Followed, stage: int) -> _Figures:
    """Return what the stated capacity means: how dense a deposit, and how much of it the pump can use when due."""
    entry, tub = of.entry, of.study.tub
    element, medium = entry.option.stages[stage], entry.media[stage]
    if element.capacity_kg is None:
        return {}
    figures: _Figures = {**stated_capacity(element)}
    if element.capacity_at_pa is not None:
        figures["times_as_dense"] = medium.deposit_density_kg_m3 / model("loading.deposit_density")
    if of.life is None:
        return figures
    each_m3_s = of.wanted_m3_s / entry.option.housings_in_parallel
    others = [each for place, each in enumerate(entry.media) if place != stage]
    left_pa = float(of.case.loop.left_pa(np.array([of.wanted_m3_s]))[0])
    left_pa -= sum(float(clean_loss_pa(each, each_m3_s, tub.water)) for each in others)
    figures |= {
        "usable_g": 1e3 * usable_kg(medium, tub, each_m3_s, left_pa, tub.water),
        "left_bar": 1e-5 * left_pa,
        "flow_l_per_h": L_PER_H * each_m3_s,
    }
    return figures | ({"pump": entry.pump.name} if len(of.study.pumps) > 1 else {})
