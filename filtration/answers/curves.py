"""Pressure drop, flow, days, visibility and year against micron rating, a curve for each kind; or against any key."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from math import isfinite, log
from operator import itemgetter
from typing import Any

import numpy as np

from filtration.answers.figures import answer_of, follow_all, unmoved
from filtration.answers.ranking import compare
from filtration.answers.results import OptionAnswer
from filtration.base.errors import InputError, known_ones, option_of, shown
from filtration.base.frames import Frame, frame_of, html_of
from filtration.base.units import in_unit, unit_in
from filtration.loading.assembly import Entry, Loops, entry_by_id, entry_of
from filtration.physics.pump import Pump
from filtration.study.build import element_of
from filtration.study.file import study_from_dict
from filtration.study.keys import SIZES
from filtration.study.overrides import filled
from filtration.study.tables import TABLES, ElementTable
from filtration.study.values import Element, Limit, Option, Study

Value = float | str | bool
KINDS_SWEPT = ("spun", "wound", "pleated")
"""Kinds that come in any rating; what a foam catches follows from its pores per inch."""
RATINGS_UM = (
    *(1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0),
    *(10.0, 12.5, 16.0, 20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0),
)
"""Preferred numbers, ten a decade (ISO 3, series R10); a shop's ratings are among them [um]."""
RATING = "elements.rating"
USUAL_SIZE = "10 x 2.5 in"
_MOST_POINTS = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Swept:
    """The figures at one value, named as in the answer; None where physics gives none.

    Parameters
    ----------
    value : float, str or bool
        The value, in the sweep's unit; as it was given where not all are numbers.
    clean_filter_loss_kpa, due_filter_loss_kpa : float or None
        Pressure drop clean and at the rinse or replacement [kPa].
    clean_flow_l_per_h : float
        Flow with the element clean [L/h].
    days_to_first_service : float or None
        First run [day]; 0 where the clean element fails a need.
    governed_by : Limit or None
        What ends it.
    see_through_worst_m, worst_view_m : float
        Visibility just after a session, the element due; the lower of that and the element new [m].
    cost_per_year : float or None
        A year, in the study's currency; None where it does not run.
    meets_needs : bool
        Whether it does.
    """

    value: Value
    clean_filter_loss_kpa: float | None
    due_filter_loss_kpa: float | None
    clean_flow_l_per_h: float
    days_to_first_service: float | None
    governed_by: Limit | None
    see_through_worst_m: float
    worst_view_m: float
    cost_per_year: float | None
    meets_needs: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """The figures of one kind and size, value by value.

    Parameters
    ----------
    kind : str
        Kind of element, "train" for several in series.
    size : str or None
        Its common size; None for another shape.
    priced : bool
        The study has the price of such an element; else the year lacks it.
    rows : tuple of Swept
        A row a value.
    """

    kind: str
    size: str | None
    priced: bool
    rows: tuple[Swept, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """Figures against one key of a study.

    Parameters
    ----------
    study : Study
        The study as it is.
    over, unit : str, str or None
        The key that is moved, and the unit of its values.
    option, name, pump : str
        Id and name of the option that is moved, or whose size and pump are taken; its pump's name.
    curves : tuple of Curve
        A curve a kind and size.
    left_aside : tuple of str
        Elements whose maker's figures are left aside: along a curve, rating and shape alone tell.
    """

    study: Study
    over: str
    unit: str | None
    option: str
    name: str
    pump: str
    curves: tuple[Curve, ...]
    left_aside: tuple[str, ...] = ()

    @property
    def by_rating(self) -> bool:
        """Whether kinds are compared against their micron rating."""
        return self.over == RATING

    def table(self) -> Frame:
        """Return the curves one below the other.

        Returns
        -------
        pandas.DataFrame
            One row a value of a curve; columns named as in the document.
        """
        return frame_of(
            {"kind": curve.kind, "size": curve.size, "over": self.over, "unit": self.unit, **asdict(row)}
            for curve in self.curves
            for row in curve.rows
        )

    _repr_html_ = html_of


def sweep(
    given: Study | Mapping[str, Any],
    *,
    kinds: Sequence[str] = KINDS_SWEPT,
    ratings: Sequence[float | str] = (),
    sizes: Sequence[str] = (),
    option: str | None = None,
    over: str | None = None,
    values: Sequence[Value] = (),
) -> Sweep:
    """Work out kinds of element against their micron rating, or one option against a key of the study.

    Parameters
    ----------
    given : Study or mapping
        A study, or its tables as ``load_tables`` reads them, which ``over`` needs.
    kinds : sequence of {"spun", "wound", "pleated"}, optional
        Kinds, a curve each.
    ratings : sequence of float or str, optional
        Micron ratings [um], or with a unit as in a study; left out, ``RATINGS_UM``, 1 to 100.
    sizes : sequence of str, optional
        Common sizes, "10 x 2.5 in"; left out, that of the option.
    option : str, optional
        Id of an option; left out, the one to take.
    over : str, optional
        A key of the study to move instead, its table in front: "plumbing.bore", "elements.Pleated 20.price".
    values : sequence of float, str or bool, optional
        What that key is to be, as in a study: "19 mm".

    Returns
    -------
    Sweep
        Its ``table`` has a row a value of each curve.

    Raises
    ------
    InputError
        If the study has faults, or there is no such option, kind, size, key or value.

    Notes
    -----
    Against the rating each element stands alone in one housing on the option's pump. It is shaped and looked after as
    the option's own where that is of its kind and size, else as such a one of the study, else as by default; its price
    lies between those of such elements in the study, by the logarithm of the rating. Makers' figures are left aside.
    """
    if over is None or over == RATING:
        study = given if isinstance(given, Study) else study_from_dict(given)
        return _by_rating(study, *_asked(study, option), kinds, values or ratings or RATINGS_UM, sizes)
    if isinstance(given, Study):
        raise InputError(f"over: to move {shown(over)} the study's tables are needed, as load_tables reads them")
    unit, texts, read = _read_values(over, values)
    study = study_from_dict(given)
    option_id, (chosen, pump) = _asked(study, option)
    moved = [study_from_dict(filled(given, {over: text}, called="over"), where=f"{over} = {text}") for text in texts]
    found = _answers([(each, [entry_by_id(each, option_id)]) for each in moved])
    curve = Curve(
        kind=chosen.stages[0].kind if len(chosen.stages) == 1 else "train",
        size=size_of(chosen.stages[-1]),
        priced=True,
        rows=tuple(_row(value, answer) for value, (answer,) in zip(read, found, strict=True)),
    )
    return Sweep(study=study, over=over, unit=unit, option=option_id, name=chosen.name, pump=pump.name, curves=(curve,))


_Asked = tuple[Option, Pump]


def _asked(study: Study, option: str | None) -> tuple[str, _Asked]:
    """Return the id of the option asked for, else of the one to take or the nearest to it, and it on its pump."""
    option_id = compare(study).spoken_of.id if option is None else option_of(study.names, option)
    return option_id, study.on_pumps[option_id]


def _answers(asked: Sequence[tuple[Study, Sequence[Entry]]]) -> list[list[OptionAnswer]]:
    """Return the figures of some options of each study, all worked out side by side."""
    driven = [(study, [entry for entry in entries if entry.loop is not None]) for study, entries in asked]
    found = [map(answer_of, each) for each in follow_all(driven)]
    return [
        [unmoved(study, entry) if entry.loop is None else next(answers) for entry in entries]
        for (study, entries), answers in zip(asked, found, strict=True)
    ]


def _row(value: Value, answer: OptionAnswer) -> Swept:
    same = {name: getattr(answer, name) for name in Swept.__slots__ if name not in ("value", "cost_per_year")}
    return Swept(value=value, cost_per_year=answer.cost_per_year.total, **same)


# ---- against the micron rating


def _by_rating(
    study: Study, option_id: str, asked: _Asked, kinds: Sequence[str], ratings: Sequence[Value], sizes: Sequence[str]
) -> Sweep:
    option, pump = asked
    own = next(filter(None, map(size_of, option.stages)), USUAL_SIZE)
    texts, names = _read_asked(kinds, ratings, sizes or [own])
    lines, elements, entries = rated(study, option, pump, kinds, texts, names)
    answers = iter(_answers([(study, entries)])[0])
    curves = tuple(
        Curve(
            kind=kind,
            size=size,
            priced=any(element.price for element in like),
            rows=tuple(_row(round(1e6 * element.rating_m, 6), next(answers)) for element in of_line),
        )
        for (kind, size, like), of_line in zip(lines, elements, strict=True)
    )
    makers = (e.name for *_, like in lines for e in like if e.clean_loss or e.beta or e.capacity_kg is not None)
    return Sweep(
        study=study,
        over=RATING,
        unit="um",
        option=option_id,
        name=option.name,
        pump=pump.name,
        curves=curves,
        left_aside=tuple(makers),
    )


_Line = tuple[str, str, list[Element]]


def rated(
    study: Study, option: Option, pump: Pump, kinds: Sequence[str], texts: Sequence[str], sizes: Sequence[str]
) -> tuple[list[_Line], list[list[Element]], list[Entry]]:
    """Return a line a kind and size with elements of the study like it, one for each rating, and these as entries."""
    lines = [(kind, size, _like(study, option, kind, size)) for kind in dict.fromkeys(kinds) for size in sizes]
    elements = [_elements(kind, size, like, texts) for kind, size, like in lines]
    loops: Loops = {}
    entries = [
        entry_of(study, replace(option, name=element.name, stages=(element,), housings_in_parallel=1), pump, loops)
        for of_line in elements
        for element in of_line
    ]
    return lines, elements, entries


def _read_asked(kinds: Sequence[str], ratings: Sequence[Value], sizes: Sequence[str]) -> tuple[list[str], list[str]]:
    """Return ratings as a study has them, rising, and names of sizes, after telling every fault."""
    faults = [
        f"kinds: must be {', '.join(KINDS_SWEPT[:-1])} or {KINDS_SWEPT[-1]}, got {shown(kind)}"
        + ("; sweep a foam over its pores_per_inch" if kind == "foam" else "")
        for kind in kinds
        if kind not in KINDS_SWEPT
    ]
    texts = list(dict.fromkeys(each if isinstance(each, str) else f"{each} um" for each in ratings))
    read = _all_read("ratings", RATING, texts, faults)
    names = list(dict.fromkeys(map(_size_name, _all_read("sizes", "elements.size", sizes, faults))))
    if len(kinds) * len(names) * len(texts) > _MOST_POINTS:
        faults.append(f"ratings: at most {_MOST_POINTS} points, got {len(kinds) * len(names)} curves of {len(texts)}")
    if faults:
        raise InputError(*faults)
    return [text for _, text in sorted(zip(read, texts, strict=True))], names


def _like(study: Study, option: Option, kind: str, size: str) -> list[Element]:
    """Return the study's elements of a kind and size, the option's own first."""
    found = [*option.stages, *study.elements.values()]
    return [each for each in dict.fromkeys(found) if each.kind == kind and size_of(each) == size]


def _elements(kind: str, size: str, like: Sequence[Element], ratings: Sequence[str]) -> list[Element]:
    """Return an element of a kind and size for each rating, its shape, care and price as of those like it."""
    bare = {"kind": kind, "size": size}
    tables = [ElementTable.model_validate(bare | {"name": f"{kind} {text}", "rating": text}) for text in ratings]
    usual = list(map(element_of, tables))
    if not like:
        return usual
    prices = {each.rating_m: each.price for each in sorted(like, key=lambda each: -each.price)}
    known = sorted(prices)
    return [
        replace(
            like[0],
            name=each.name,
            rating_m=each.rating_m,
            clean_loss=(),
            beta=(),
            capacity_kg=None,
            price=float(np.interp(log(each.rating_m), list(map(log, known)), [prices[rating] for rating in known])),
        )
        for each in usual
    ]


def size_of(element: Element) -> str | None:
    """Return the common size of an element, None for another shape."""
    shape = element.length_m, element.outer_radius_m, element.inner_radius_m
    sizes = {(size.length_m, size.outer_radius_m, size.inner_radius_m): name for name, size in SIZES.items()}
    return sizes.get(shape)  # type: ignore[arg-type]  # a shape without a number is none of them


def _size_name(size: object) -> str:
    return next(name for name, each in SIZES.items() if each == size)


# ---- against any key


def _all_read(what: str, key: str, values: Sequence[object], faults: list[str]) -> list[Any]:
    """Return what values of a key read to; what is wrong goes to the faults."""
    table, _, rest = key.partition(".")
    name = rest.rpartition(".")[2]
    if table not in TABLES or name not in TABLES[table].model_fields:
        within = f"under {table} {known_ones(name, TABLES[table].model_fields)}" if table in TABLES else ""
        faults.append(f"over: {shown(key)} is no key of a study; {within or known_ones(table, TABLES)}")
        return []
    reader, found = TABLES[table].key(name), []
    for value in values:
        try:
            found.append(reader.read(value) if reader else value)
        except InputError as error:
            faults += [f"{what}: {fault}" for fault in error.faults]
    return found


def _read_values(over: str, values: Sequence[Value]) -> tuple[str | None, list[Value], list[Value]]:
    """Return a unit, values as they were given, and the numbers in it, rising; as given where not all are numbers."""
    faults = list[str]()
    read = _all_read("values", over, values, faults)
    if not 1 <= len(values) <= _MOST_POINTS:
        faults.append(f"values: must be 1 to {_MOST_POINTS}, got {len(values)}")
    if faults:
        raise InputError(*faults)
    if not all(isinstance(each, float | int) and not isinstance(each, bool) and isfinite(each) for each in read):
        return None, list(values), list(values)
    unit = unit_in(values[0]) if isinstance(values[0], str) else None
    read, texts = map(list, zip(*sorted(zip(read, values, strict=True), key=itemgetter(0)), strict=True))
    return unit, texts, [float(f"{in_unit(each, unit):.12g}") if unit else each for each in read]
