"""What a maker's own figures change of an element, beside what its rating and shape alone would say."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from filtration.answers.figures import L_PER_H, Followed, entry_id
from filtration.answers.results import OptionAnswer
from filtration.base.defaults import model
from filtration.base.remarks import Remark
from filtration.loading.assembly import stated_capacity
from filtration.loading.capacity import usable_kg
from filtration.physics.capture import caught_in_one_pass
from filtration.physics.media import clean_loss_pa
from filtration.physics.water import water_at
from filtration.study.values import Element, medium_of

Figures = dict[str, float | str]


def changes_by_makers(followed: Sequence[Followed], answers: Sequence[OptionAnswer]) -> Iterator[Remark]:
    """Yield for each element with figures of its maker what they change, once, as the best option that has it sees it.

    Parameters
    ----------
    followed : sequence of Followed
        Options whose pump drives the loop.
    answers : sequence of OptionAnswer
        Figures of all options, best first.

    Yields
    ------
    Remark
        Once an element.
    """
    by_id = {entry_id(of.study, of.entry): of for of in followed}
    told = set[str]()
    for of in [by_id[answer.id] for answer in answers if answer.id in by_id]:
        for stage, element in enumerate(of.entry.option.stages):
            figures = {**_of_loss(element), **_of_beta(element), **_of_capacity(of, stage)}
            if figures and element.name not in told:
                told.add(element.name)
                yield Remark(kind="maker's figures", figures={"element": element.name, **figures})


def _of_loss(element: Element) -> Figures:
    """Return the maker's clean loss at its largest flow over that of the law [-]."""
    if not element.clean_loss:
        return {}
    flow, loss = element.clean_loss[-1]
    by_law = medium_of(replace(element, clean_loss=()))
    return {"times": loss / float(clean_loss_pa(by_law, flow, water_at(element.clean_loss_at_c)))}


def _of_beta(element: Element) -> Figures:
    """Return what is caught at the rating in one pass, by the maker's beta ratios and by the rating alone [-]."""
    if not element.beta:
        return {}
    by_maker, by_rating = medium_of(element).capture, medium_of(replace(element, beta=())).capture
    return {
        "rating_um": 1e6 * element.rating_m,
        "caught": float(caught_in_one_pass(by_maker, element.rating_m)),
        "caught_by_rating": float(caught_in_one_pass(by_rating, element.rating_m)),
    }


def _of_capacity(of: Followed, stage: int) -> Figures:
    """Return what the stated capacity means: how dense a deposit, and how much of it the pump can use when due."""
    entry, tub = of.entry, of.study.tub
    element, medium = entry.option.stages[stage], entry.media[stage]
    if element.capacity_kg is None:
        return {}
    figures: Figures = {**stated_capacity(element)}
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
