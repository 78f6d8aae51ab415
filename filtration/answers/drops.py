"""Pressure drop at one flow against micron rating and dirt held: a curve a kind, and the options of a study."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from filtration.answers.curves import KINDS_SWEPT, RATINGS_UM, USUAL_SIZE, rated, size_of
from filtration.answers.figures import L_PER_H, Followed, entry_id, follow
from filtration.answers.series import Loading, loading_at
from filtration.base.errors import NoAnswerError
from filtration.study.values import Study


@dataclass(frozen=True, slots=True, kw_only=True)
class DropCurve:
    """One kind and size against the rating.

    Parameters
    ----------
    kind, size : str
        Kind of element, and its common size.
    rating_um : tuple of float
        Ratings, rising [um].
    loadings : tuple of Loading
        Of the element of each rating.
    """

    kind: str
    size: str
    rating_um: tuple[float, ...]
    loadings: tuple[Loading, ...]

    def losses_kpa(self, held_g: float) -> tuple[float | None, ...]:
        """Return the loss at each rating with so much dirt held; None where that chokes it [kPa]."""
        return tuple(loss_with(loading, held_g) for loading in self.loadings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drops:
    """Pressure drop at one flow on one pump.

    Parameters
    ----------
    option, pump : str
        Id of the option whose size and pump are taken; the pump's name.
    flow_l_per_h, left_kpa : float
        The flow, the least wanted with that option, and what the pump leaves for a filter at it.
    curves : tuple of DropCurve
        A curve a kind.
    own : mapping of str to Loading
        Options of the study on that pump, by id.
    """

    option: str
    pump: str
    flow_l_per_h: float
    left_kpa: float
    curves: tuple[DropCurve, ...]
    own: dict[str, Loading]


def loss_with(loading: Loading, held_g: float) -> float | None:
    """Return the loss with so much dirt held; None where that chokes the option [kPa]."""
    if held_g > loading.deposit_g[-1]:
        return None
    return float(np.interp(held_g, loading.deposit_g, loading.loss_kpa))


def drops(study: Study, own: Sequence[Followed], option: str, *, ratings: Sequence[float] = RATINGS_UM) -> Drops:
    """Work out the pressure drop of kinds and of a study's options at the least flow that one of them is to give.

    Parameters
    ----------
    study : Study
        The study.
    own : sequence of Followed
        Its options in the central case.
    option : str
        Id of the option whose size, pump and flow are taken; of those followed.
    ratings : sequence of float, optional
        Micron ratings of the curves [um].

    Returns
    -------
    Drops
        The elements of the curves are those of ``sweep``.

    Raises
    ------
    NoAnswerError
        If the pump moves no water through it.
    """
    followed = {entry_id(study, each.entry): each for each in own}
    at = followed.get(option)
    if at is None:
        raise NoAnswerError("the pump moves no water through it, so it takes no pressure")
    flow, pump, chosen = at.wanted_m3_s, at.entry.pump, at.entry.option
    size = next(filter(None, map(size_of, chosen.stages)), USUAL_SIZE)
    texts = [f"{rating} um" for rating in ratings]
    lines, elements, entries = rated(study, chosen, pump, KINDS_SWEPT, texts, [size])
    found = iter(follow(study, entries))
    curves = [
        DropCurve(
            kind=kind,
            size=of_size,
            rating_um=tuple(round(1e6 * element.rating_m, 6) for element in of_line),
            loadings=tuple(loading_at(next(found), flow) for _ in of_line),
        )
        for (kind, of_size, _), of_line in zip(lines, elements, strict=True)
    ]
    return Drops(
        option=option,
        pump=pump.name,
        flow_l_per_h=flow * L_PER_H,
        left_kpa=1e-3 * float(at.case.loop.left_pa(np.array([flow]))[0]),
        curves=tuple(curves),
        own={name: loading_at(each, flow) for name, each in followed.items() if each.entry.pump is pump},
    )
