"""What would save most in a year beside the choice of a cartridge: hours, pump, water, size, and a need eased."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from math import ceil, floor, inf
from typing import Literal

from filtration.answers.clearness import longest_water_life_days
from filtration.answers.figures import answer_of, follow, follow_all
from filtration.answers.ranking import compare
from filtration.answers.results import Comparison, OptionAnswer
from filtration.answers.size_search import time_limits
from filtration.base.defaults import STUDY_DEFAULTS, model
from filtration.base.errors import InputError
from filtration.base.frames import Frame, frame_of, html_of
from filtration.base.units import written
from filtration.loading.assembly import Entry, entry_by_id
from filtration.physics.tub import LITRE_M3
from filtration.study.believed import with_belief
from filtration.study.file import study_from_dict
from filtration.study.keys import SIZE, SIZES
from filtration.study.overrides import filled
from filtration.study.values import Element, Study

_Value = float | str
SavingKind = Literal["hours", "pump", "water", "size", "turnovers", "time limit", "together"]
_SHOWN = (
    "key", "from", "to", "saves_per_year", "cost_per_year", "days_to_first_service", "see_through_worst_m",
    "meets_needs",
)  # fmt: skip
_FIELDS = {"from": "before", "to": "after"}
_PARTS: Mapping[str, tuple[str, ...]] = {"hours": ("pumping", "cooling"), "water": ("water_changes",)}
_LIKELIEST = 2
_HOURS = (12, 16, 20)
_SHAPED = {"area", "pleats", "pleat_depth", "clean_loss", "dirt_capacity"}  # what is said of an element of one size


@dataclass(frozen=True, slots=True, kw_only=True)
class Saving:
    """One change to a study, or several together, and the option with it.

    Parameters
    ----------
    kind : {"hours", "pump", "water", "size", "turnovers", "time limit", "together"}
        What is changed.
    key : str or None
        The key of the study that is set otherwise; "pumps" for another of those named; None for several together.
    before, after : float, str or None
        What it says and what it would say, as a study has it.
    settings : tuple of str
        Every key with its new value, "pump.hours_per_day=8"; none for another pump, which is in the answer already.
    saves_per_year : float
        What a year costs less, in the study's currency.
    cautions : tuple of str
        What to mind, by kind.
    then : OptionAnswer
        The figures of the option with it, as ``compare`` has them.
    """

    kind: SavingKind
    key: str | None
    before: _Value | None
    after: _Value | None
    settings: tuple[str, ...]
    saves_per_year: float
    cautions: tuple[str, ...]
    then: OptionAnswer

    @property
    def cost_per_year(self) -> float:
        """What a year then costs, in the study's currency."""
        return self.then.cost_per_year.total or 0.0

    @property
    def days_to_first_service(self) -> float | None:
        """First run then [day]."""
        return self.then.days_to_first_service

    @property
    def see_through_worst_m(self) -> float:
        """See-through just after a session then, element due [m]."""
        return self.then.see_through_worst_m

    @property
    def meets_needs(self) -> bool:
        """Whether the option then meets the needs: it always does."""
        return self.then.meets_needs


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Savings:
    """What would save most in a year, the largest first.

    Parameters
    ----------
    study : Study
        The study as it is.
    now : OptionAnswer or None
        The option looked at, as it is; None where none meets the needs.
    changes : tuple of Saving
        Each change alone, the largest saving first.
    together : Saving or None
        The best of them together; None where there are fewer than two.
    """

    study: Study
    now: OptionAnswer | None
    changes: tuple[Saving, ...]
    together: Saving | None

    def table(self) -> Frame:
        """Return the savings, the largest first, then all together.

        Returns
        -------
        pandas.DataFrame
            One row each; columns named as in the document.
        """
        each = (*self.changes, *([self.together] if self.together else ()))
        rows = ({name: getattr(saving, _FIELDS.get(name, name)) for name in _SHOWN} for saving in each)
        return frame_of(rows, _SHOWN)

    _repr_html_ = html_of


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """One key set otherwise, with what goes along; or another pump of those named, which sets none."""

    key: str
    before: _Value
    after: _Value
    cautions: tuple[str, ...]
    more: Mapping[str, _Value] = field(default_factory=dict)
    pump: str | None = None

    @property
    def settings(self) -> Mapping[str, _Value]:
        return {} if self.pump else {self.key: self.after, **self.more}


@dataclass(frozen=True, slots=True, kw_only=True)
class _State:
    """An option of a study some of whose keys are set otherwise."""

    study: Study
    entry: Entry
    answer: OptionAnswer
    settings: Mapping[str, _Value] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    change: _Change | None = None

    @property
    def cost(self) -> float:
        return self.answer.cost_per_year.total or 0.0

    @property
    def volumes_a_day(self) -> float:
        """How often a day the tub goes through the filter at the least flow of the first run."""
        litres = self.study.tub.volume_m3 / LITRE_M3
        return self.entry.pump.hours_per_day * (self.answer.due_flow_l_per_h or 0.0) / litres

    @property
    def turned_over(self) -> bool:
        """Whether fewer pump hours than now, if they are, turn over enough."""
        fewer = any(key.endswith(".hours_per_day") for key in self.settings)
        return not fewer or self.volumes_a_day >= model("advice.least_volumes_a_day")


_Tries = Iterator[list[_Change]]


def savings(of: Study | Comparison, option: str | None = None) -> Savings:
    """Return what would save most in a year beside the choice of a cartridge.

    Parameters
    ----------
    of : Study or Comparison
        The study, or the answer to it.
    option : str, optional
        Id of the option to look at; left out, the one to take.

    Returns
    -------
    Savings
        Each change alone and the best together, all in the central case. The option meets the needs with each.

    Raises
    ------
    InputError
        If there is no such option.

    Notes
    -----
    Pump hours: never fewer than 8 a day nor than turn over four volumes (assumptions), and as they are where a
    disinfectant is kept or the public bathes. Water: as long as the wanted view lasts, at most twice as long as now
    (assumption) and 60 days, for the public never longer than the rule. A larger cartridge: a common size at its price
    in the study, else at one in proportion to its area. A need: half a turnover an hour less, or a time limit half as
    long again (assumptions), never where the public bathes.
    """
    answer = compare(of) if isinstance(of, Study) else of
    now = answer.advised if option is None else answer.option(option)
    base = _as_it_is(answer, now)
    if now is None or base is None:
        return Savings(study=answer.study, now=now, changes=(), together=None)
    alone = {kind: best for kind in _CHANGES if (best := _best(base, kind)) is not None}
    in_order = sorted(alone, key=lambda kind: alone[kind].cost)
    return Savings(
        study=answer.study,
        now=now,
        changes=tuple(_saving(base, alone[kind], kind) for kind in in_order),
        together=_together(base, in_order),
    )


def largest_saving(answer: Comparison) -> Saving | None:
    """Return the largest saving for the option to take, in little time: of the two kinds that can save most.

    Parameters
    ----------
    answer : Comparison
        The answer to a study.

    Returns
    -------
    Saving or None
        As ``savings`` has it; None where nothing saves anything.
    """
    base = _as_it_is(answer, answer.advised)
    if base is None:
        return None
    found, most = list[Saving](), 0.0
    for kind in sorted(_CHANGES, key=lambda kind: -_at_most(base, kind)):
        if len(found) == _LIKELIEST or most >= _at_most(base, kind):
            break
        best = _best(base, kind)
        if best is not None:
            found.append(_saving(base, best, kind))
            most = max(most, found[-1].saves_per_year)
    return max(found, key=lambda saving: saving.saves_per_year, default=None)


def _at_most(at: _State, kind: SavingKind) -> float:
    """Return what a kind of change can save at most: the parts of the year's cost that it lowers."""
    if kind == "pump":
        return at.cost if len(at.study.pumps) > 1 else 0.0
    year = at.answer.cost_per_year
    share = 1.0 - 1.0 / model("advice.longer_water") if kind == "water" else 1.0
    parts = _PARTS.get(kind)
    return share * (sum(getattr(year, part) or 0.0 for part in parts) if parts else year.own)


def _as_it_is(answer: Comparison, option: OptionAnswer | None) -> _State | None:
    """Return an option as the study has it; None where it has no cost."""
    if option is None or option.cost_per_year.total is None:
        return None
    return _State(study=answer.study, entry=entry_by_id(answer.study, option.id), answer=option)


def _best(at: _State, kind: SavingKind) -> _State | None:
    """Return the change of a kind that saves most; None where none saves anything and meets the needs.

    A list of changes is tried only where nothing in the ones before it does.
    """
    for changes in _CHANGES[kind](at):
        tried = _tried(at, changes)
        good = [each for each in tried if each.answer.meets_needs and each.cost < at.cost and each.turned_over]
        if good:
            return min(good, key=lambda state: state.cost)
    return None


def _tried(at: _State, changes: Sequence[_Change]) -> list[_State]:
    """Return an option with each of some changes, side by side; without those that a study cannot have."""
    there: list[tuple[_Change, Study, Entry]] = []
    for change in changes:
        with suppress(InputError):
            study = _set(at.study, change.settings)
            pumps = {pump.name: pump for pump in study.pumps}
            pump = pumps[change.pump or at.entry.pump.name]
            entry = entry_by_id(study, study.id_of(at.entry.option, pump))
            there += [(change, study, entry)] if entry.loop is not None else []
    followed = follow_all([(study, [entry]) for _, study, entry in there])
    return [
        _State(
            study=study,
            entry=one.entry,
            answer=answer_of(one),
            settings={**at.settings, **change.settings},
            cautions=tuple(dict.fromkeys((*at.cautions, *change.cautions))),
            change=change,
        )
        for (change, study, _), (one,) in zip(there, followed, strict=True)
    ]


def _set(study: Study, settings: Mapping[str, _Value]) -> Study:
    """Return a study with keys set otherwise, as its file would be read, seen in the light of the same readings."""
    if not settings:
        return study
    there = study_from_dict(filled(study.tables, settings))
    return there if study.belief is None else with_belief(there, study.belief)


def _saving(base: _State, state: _State, kind: SavingKind) -> Saving:
    change = None if kind == "together" else state.change
    key, before, after = (change.key, change.before, change.after) if change else (None, None, None)
    return Saving(
        kind=kind,
        key=key,
        before=before,
        after=after,
        settings=tuple(f"{key}={_text(value)}" for key, value in state.settings.items()),
        saves_per_year=base.cost - state.cost,
        cautions=state.cautions,
        then=state.answer,
    )


def _text(value: _Value) -> str:
    """Return a value with all its digits, as a study has it without quotes."""
    return str(value).removesuffix(".0")


def _together(base: _State, kinds: Sequence[SavingKind]) -> Saving | None:
    """Return the best of each kind together, another pump first, then the largest first, as far as the needs allow."""
    state, taken = base, 0
    for kind in sorted(kinds, key=lambda kind: kind != "pump"):
        best = _best(state, kind)
        if best is not None:
            state, taken = best, taken + 1
    return _saving(base, state, "together") if taken > 1 else None


def _hours(at: _State) -> _Tries:
    """Yield the fewest pump hours that are proposed, then more."""
    study, pump = at.study, at.entry.pump
    if study.disinfectant == "kept" or study.shared_with_public or at.volumes_a_day <= 0.0:
        return
    key = f"pumps.{pump.name}.hours_per_day" if "pumps" in study.tables else "pump.hours_per_day"
    turning_over = model("advice.least_volumes_a_day") / at.volumes_a_day * pump.hours_per_day
    least = ceil(max(model("advice.least_hours"), turning_over))
    cautions = ("residual", *(("frost",) if study.surroundings == "outdoors" else ()), "timer")
    fewer = [
        _Change(key=key, before=pump.hours_per_day, after=hours, cautions=cautions)
        for hours in (least, *(hours for hours in _HOURS if hours > least))
        if hours < pump.hours_per_day
    ]
    yield from (fewer[:1], fewer[1:])


def _pump(at: _State) -> _Tries:
    """Yield the other pumps named."""
    now, pumps = at.entry.pump.name, at.study.pumps
    others = [pump.name for pump in pumps if pump.name != now]
    yield [_Change(key="pumps", before=now, after=name, cautions=("less sure",), pump=name) for name in others]


def _water(at: _State) -> _Tries:
    """Yield the longest life of the water, in whole days, that is proposed and leaves the view wanted."""
    study, life = at.study, at.study.tub.water_life_days
    rule_days = study.water_rule_days if study.shared_with_public else inf
    most = min(model("advice.longer_water") * life, model("water.life_most"), rule_days)
    if study.water_never_changed or floor(most) <= life:
        return
    (followed,) = follow(study, [at.entry])
    days = floor(longest_water_life_days(followed, study.needs.see_through_m, most))
    if days > life:
        before = study.tables["tub"].get("water_change_every", written(life, "day", 2))
        yield [_Change(key="tub.water_change_every", before=before, after=f"{days} day", cautions=("old water",))]


def _size(at: _State) -> _Tries:
    """Yield the larger common sizes of each element, those left out of which more is said than a size."""
    rows = {row["name"].strip(): row for row in at.study.tables["elements"]}
    elements = {stage.name: stage for stage in at.entry.option.stages if stage.price}
    sized = {name: row["size"] for name, row in rows.items() if "size" in row and not _SHAPED & row.keys()}
    yield [
        _in_size(at.study, elements[name], size, larger)
        for name, size in sized.items()
        if name in elements
        for larger in _larger(elements[name], size)
    ]


def _larger(element: Element, size: str) -> list[str]:
    return [name for name in SIZES if _extent(element, name) > _extent(element, size)]


def _in_size(study: Study, element: Element, before: str, after: str) -> _Change:
    """Return an element in another size, at the price that the study has of one, else in proportion to its area."""
    known, times = _price(study, element, after), _extent(element, after) / _extent(element, before)
    return _Change(
        key=f"elements.{element.name}.size",
        before=before,
        after=after,
        more={f"elements.{element.name}.price": round(element.price * times, 2) if known is None else known},
        cautions=("housing", "guessed price") if known is None else ("housing",),
    )


def _extent(element: Element, named: str) -> float:
    """Return the area of an element of a common size: the sheet of a pleated one, in proportion the face of another."""
    size = SIZE.read(named)
    return size.pleated_m2 if element.kind == "pleated" else size.length_m * size.outer_radius_m


def _price(study: Study, element: Element, named: str) -> float | None:
    """Return what a study's element of the same sort costs in another size; None where it has none with a price."""
    size = SIZE.read(named)
    wanted = element.kind, element.rating_m, element.absolute, size.length_m, size.outer_radius_m
    for each in study.elements.values():
        if each.price and (each.kind, each.rating_m, each.absolute, each.length_m, each.outer_radius_m) == wanted:
            return each.price
    return None


def _turnovers(at: _State) -> _Tries:
    """Yield a little less flow wanted, where the flow ends the run."""
    key, needs = "needs.turnovers_per_hour", at.study.tables.get("needs", {})
    if at.study.shared_with_public or at.answer.governed_by != "flow" or {"flow", "share_of_clean_flow"} & needs.keys():
        return
    wanted = float(needs.get("turnovers_per_hour", STUDY_DEFAULTS[key]))
    fewer = round(wanted - model("advice.fewer_turnovers"), 9)
    if fewer > 0.0:
        yield [_Change(key=key, before=wanted, after=fewer, cautions=("less flow",))]


def _time_limit(at: _State) -> _Tries:
    """Yield a longer time between services, where that limit ends the run."""
    study, needs = at.study, at.study.tables.get("needs", {})
    if study.shared_with_public or at.answer.governed_by != "time limit":
        return
    limits = time_limits(study.needs, at.entry.option)
    ends = (at.answer.days_to_first_service or 0.0) * (1.0 + 1e-9)
    yield [
        _Change(
            key=key,
            before=needs.get(key.removeprefix("needs."), STUDY_DEFAULTS[key]),
            after=f"{ceil(model('advice.longer_limit') * limits[key])} day",
            cautions=("growth",),
        )
        for key in ("needs.rinse_at_least_every", "needs.replace_at_least_every")
        if limits.get(key, inf) <= ends
    ]


_CHANGES: Mapping[SavingKind, Callable[[_State], _Tries]] = {
    "hours": _hours,
    "pump": _pump,
    "water": _water,
    "size": _size,
    "turnovers": _turnovers,
    "time limit": _time_limit,
}
