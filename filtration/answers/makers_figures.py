"""What a maker's own figures change of an element, beside what its rating and shape alone would say."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from filtration.answers.figures import L_PER_H, Schedule, entry_id
from filtration.answers.results import OptionAnswer
from filtration.base.defaults import model
from filtration.base.remarks import Remark
from filtration.loading.assembly import Entry
from filtration.loading.capacity import usable_kg
from filtration.physics.capture import caught_in_one_pass
from filtration.physics.media import clean_loss_pa
from filtration.physics.water import water_at
from filtration.study.values import Element, Study, medium_of

Figures = dict[str, float | str]


def makers_figures(
    study: Study, entries: Sequence[Entry], schedule: Schedule | None, answers: Sequence[OptionAnswer]
) -> Iterator[Remark]:
    """Yield for each element with figures of its maker what they change.

    Parameters
    ----------
    study : Study
        The study.
    entries : sequence of Entry
        Options whose pump drives the loop.
    schedule : Schedule or None
        What became of those that can be scheduled.
    answers : sequence of OptionAnswer
        Their figures, best first.

    Yields
    ------
    Remark
        Once an element, as the best option that has it sees it.
    """
    row_of = {entry_id(study, entry): row for row, entry in enumerate(entries)}
    told = set[str]()
    for row in [row_of[answer.id] for answer in answers if answer.id in row_of]:
        for stage, element in enumerate(entries[row].option.stages):
            capacity = _of_capacity(study, entries[row], stage, schedule, row)
            figures = {**_of_loss(element), **_of_beta(element), **capacity}
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


def _of_capacity(study: Study, entry: Entry, stage: int, schedule: Schedule | None, row: int) -> Figures:
    """Return what the stated capacity means: how dense a deposit, and how much of it the pump can use when due."""
    element, medium, loop = entry.option.stages[stage], entry.media[stage], entry.loop
    if element.capacity_kg is None:
        return {}
    figures: Figures = {"capacity_g": 1e3 * element.capacity_kg}
    if element.capacity_at_pa is not None:
        dense = medium.deposit_density_kg_m3 / model("loading.deposit_density")
        figures |= {"at_bar": 1e-5 * element.capacity_at_pa, "times_as_dense": dense}
    if loop is None or schedule is None or row not in schedule.rows:
        return figures
    water, housings = study.tub.water, entry.option.housings_in_parallel
    flow = float(schedule.runner.clean.due_flow_m3_s[row])
    others = [each for place, each in enumerate(entry.media) if place != stage]
    left_pa = float(loop.left_at(flow)) - sum(float(clean_loss_pa(each, flow / housings, water)) for each in others)
    figures |= {
        "usable_g": 1e3 * usable_kg(medium, study.tub, flow / housings, left_pa, water),
        "left_bar": 1e-5 * left_pa,
        "flow_l_per_h": L_PER_H * flow / housings,
    }
    return figures | ({"pump": entry.pump.name} if len(study.pumps) > 1 else {})
