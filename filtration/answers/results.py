"""The answer to a study. Names and units are those of the machine-readable document."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

from filtration.answers.decision import Candidate, Decision, decide
from filtration.base.errors import option_of
from filtration.base.frames import Frame, frame_of, in_us_units, us_figure
from filtration.base.remarks import Remark
from filtration.service.events import Event, Total
from filtration.study.values import Limit, Study

Value = float | str | bool | None
_PLAIN = (float, str, int, type(None))


_WORTH_A_MINUTE = 0.9  # of the width without the reading, above which it is not worth one


@dataclass(frozen=True, slots=True, kw_only=True)
class StageAnswer:
    """How one stage of an option is looked after; per element, rates for all its housings together."""

    element: str
    service: str
    rinses_before_replacing: int | None
    life_days: float | None
    elements_per_year: float | None
    rinses_per_year: float | None
    soaks_per_year: float | None
    deposit_when_due_g: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CostPerYear:
    """Yearly cost in parts."""

    elements: float | None = None
    rinsing: float | None = None
    own_time: float | None = None
    pumping: float | None = None
    cooling: float | None = None
    disposal: float | None = None
    equipment: float | None = None
    water_changes: float | None = None
    disinfectant: float | None = None
    total: float | None = None

    @property
    def own(self) -> float:
        """What lies with the choice of an option: its elements, rinsing, disposal and own time."""
        return sum(part or 0.0 for part in (self.elements, self.rinsing, self.disposal, self.own_time))


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyPerYear:
    """Electricity a year [kWh]."""

    pumping: float | None = None
    cooling: float | None = None
    water_changes: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowRecord:
    """Flow over the first 60 days, each run to its end: one pair of series, a gap of None at each service."""

    day: tuple[float, ...] = ()
    flow_l_per_h: tuple[float | None, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sureness:
    """How sure one option's figures are, over the draws of what is not known exactly.

    Parameters
    ----------
    ranges : mapping of str to (float, float, float)
        10, 50 and 90 % by figure, over the draws in which it meets the needs; no entry where there is none.
    outcomes : mapping of str to tuple of float
        Twenty equally likely outcomes by figure, over the same.
    chance_of_meeting_needs, chance_of_being_best : float
        Chances, of all cases that decide [-].
    cost_of_choosing_wrong_per_year : float or None
        Mean cost above the cheapest that meets the needs, over the cases that decide in which this option meets them.
    """

    ranges: Mapping[str, tuple[float, float, float]]
    outcomes: Mapping[str, tuple[float, ...]]
    chance_of_meeting_needs: float
    chance_of_being_best: float
    cost_of_choosing_wrong_per_year: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """How much of a figure's variance one unknown has a part in: its total Sobol index [-]."""

    unknown: str
    of: str
    total_index: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """What one reading would do to the spread of the first run.

    Parameters
    ----------
    with_what : {"bucket", "clear tube", "clear tube with and without element", "clear tube without element"}
        A bucket and a watch, or an upright clear hose before the housing, read with the element in, once without it,
        or both.
    day : float
        When to read [day].
    before, after : (float, float)
        10 and 90 % of the first run without the reading, and with it in a typical case [day].
    width_share : float
        Width of that range with the reading over that without, meaned over all cases [-].
    """

    with_what: str
    day: float
    before: tuple[float, float]
    after: tuple[float, float]
    width_share: float

    @property
    def is_worth_a_minute(self) -> bool:
        """Whether it narrows the range enough to be taken."""
        return self.width_share <= _WORTH_A_MINUTE


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowBand:
    """Between which flows an option lies over its first run.

    Parameters
    ----------
    option : str
        Its id.
    day : tuple of float
        Days since it was new.
    low_l_per_h, middle_l_per_h, high_l_per_h : tuple of float
        10, 50 and 90 % on each day of the draws in which it meets the needs; one due earlier keeps its flow when due.
    """

    option: str
    day: tuple[float, ...]
    low_l_per_h: tuple[float, ...]
    middle_l_per_h: tuple[float, ...]
    high_l_per_h: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """How sure the whole answer is.

    Parameters
    ----------
    draws, seed : int
        How many draws ranges come from, 0 for none, and which; chances come from the cases that decide.
    chance_none_meets_needs : float
        Chance that no option meets the needs [-].
    worth_of_measuring_load_per_year : float
        What knowing the dirt a bather brings, before choosing, would save.
    chance_all_lack_flow : float
        Of that chance, the part in which every option lacks the flow even when clean [-].
    chance_too_hazy, chance_too_hazy_in_half_the_time : float
        Of the rest, the part in which haze that no cartridge catches is enough; with the water changed twice as
        often [-].
    drivers : tuple of Driver
        What drives the figures of the option to take; none without draws.
    measure : Measure or None
        The reading that would narrow its first run most.
    flow_band : FlowBand or None
        Flow of the option to take over its first run; None where it has none.
    """

    draws: int
    seed: int
    chance_none_meets_needs: float
    worth_of_measuring_load_per_year: float
    chance_all_lack_flow: float
    chance_too_hazy: float
    chance_too_hazy_in_half_the_time: float
    drivers: tuple[Driver, ...] = ()
    measure: Measure | None = None
    flow_band: FlowBand | None = None


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class OptionAnswer:
    """One option's answer; ``None`` where physics gives no figure. ``us``: its study is written in US units."""

    id: str
    name: str
    pump: str
    kind: str
    rating_um: float
    housings_in_parallel: int
    housings: int
    meets_needs: bool
    reasons: tuple[Remark, ...]
    clean_flow_l_per_h: float
    clean_turnovers_per_hour: float
    clean_filter_loss_kpa: float | None
    days_to_first_service: float | None
    flow_alone_days: float | None
    governed_by: Limit | None
    due_flow_l_per_h: float | None
    due_filter_loss_kpa: float | None
    clean_tube_kpa: float | None
    due_tube_kpa: float | None
    bare_tube_kpa: float | None
    deposit_when_due_g: float | None
    see_through_clean_m: float
    see_through_new_m: float
    see_through_worst_m: float
    hours_to_clear_after_session: float | None
    warming_k_per_day: float | None
    services_per_year: float | None
    shortest_run_days: float | None
    stages: tuple[StageAnswer, ...]
    cost_per_year: CostPerYear
    choice_cost_per_year: float | None
    energy_kwh_per_year: EnergyPerYear
    events: tuple[Event, ...]
    horizon_total: Total
    flow_record: FlowRecord
    sureness: Sureness | None = None
    us: bool = False

    @property
    def worst_view_m(self) -> float:
        """See-through just after a session, element new or due, whichever is worse [m]."""
        return min(self.see_through_new_m, self.see_through_worst_m)

    @property
    def chance(self) -> float:
        """Chance of meeting the needs, of all cases that decide; 0 where nothing was decided [-]."""
        return self.sureness.chance_of_meeting_needs if self.sureness else 0.0

    @property
    def days_range(self) -> tuple[float, float] | None:
        """10 and 90 % of the days to the first service; None without draws, or where none of them meets the needs."""
        found = self.sureness.ranges.get("days_to_first_service") if self.sureness else None
        return (found[0], found[2]) if found else None

    @property
    def cost_range(self) -> tuple[float, float] | None:
        """10 and 90 % of what a year costs; None without draws, or where none of them meets the needs."""
        found = self.sureness.ranges.get("cost_per_year") if self.sureness else None
        return (found[0], found[2]) if found else None

    @property
    def elements_per_year(self) -> float | None:
        """How many elements a year takes, of all its stages and housings together."""
        counts = [stage.elements_per_year for stage in self.stages]
        return None if None in counts else sum(count or 0.0 for count in counts)

    @property
    def total_per_year(self) -> float | None:
        """What a year costs."""
        return self.cost_per_year.total

    def __repr__(self) -> str:
        """Say in a line what it is and the figures one looks at first; the fields have all."""
        told = (f"{name}={_written(getattr(self, name))}" for name in _FIRST_FIGURES)
        return f"{type(self).__name__}({', '.join(told)})"

    def _repr_html_(self) -> str:
        """Show the same in a notebook, a figure a row, in the units of its study."""
        rows = []
        for name in _FIRST_FIGURES:
            figure, value = name, getattr(self, name)
            if self.us and isinstance(value, float):
                figure, times = us_figure(name)
                value *= times
            rows.append({"figure": figure, self.id: _written(value)})
        return str(frame_of(rows).set_index("figure").to_html())


_FIRST_FIGURES = (
    "name", "pump", "meets_needs", "days_to_first_service", "days_range", "governed_by", "clean_flow_l_per_h",
    "due_flow_l_per_h", "worst_view_m", "elements_per_year", "total_per_year", "chance",
)  # fmt: skip


def _written(value: object) -> str:
    """Return a figure as a notebook shows it."""
    if isinstance(value, tuple):
        return f"({', '.join(map(_written, value))})"
    return f"{value:.4g}" if isinstance(value, float) else repr(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopCurve:
    """Pressure that a pump and the plumbing leave for the filter, against flow."""

    pump: str
    flow_l_per_h: tuple[float, ...]
    left_kpa: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmthAnswer:
    """First run of the option to take in warmer water, with the two effects apart [day]."""

    temperature_c: float
    days_now: float
    days_thinner_water: float
    days_faster_growth: float
    days_both: float


def decided(study: Study, options: Sequence[OptionAnswer], chances: Sequence[float], none_meets: float) -> Decision:
    """Return which of a study's options to take.

    Parameters
    ----------
    study : Study
        The study.
    options : sequence of OptionAnswer
        All of them, best first.
    chances : sequence of float
        Chance of each that it meets the needs, of all cases that decide [-].
    none_meets : float
        Chance that none does [-].

    Returns
    -------
    Decision
        See ``decision.decide``.
    """
    candidates = []
    for option, chance in zip(options, chances, strict=True):
        year, (chosen, _) = option.cost_per_year, study.on_pumps[option.id]
        candidates.append(
            Candidate(
                id=option.id,
                meets_needs=option.meets_needs,
                chance=chance / (1.0 - none_meets) if none_meets < 1.0 else 0.0,
                year=year.total or 0.0,
                own=year.own,
                set_price=chosen.set_price,
            )
        )
    return decide(candidates)


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Comparison:
    """The ranked answer to a study; ``choice_parts`` are the parts of the cost that the choice changes."""

    study: Study
    litres_per_dip: float | None
    water_change_days: float | None
    water_change_rule_days: float | None
    water_changes_per_year: float
    wanted_flow_l_per_h: float | None
    options: tuple[OptionAnswer, ...]
    choice_parts: tuple[str, ...]
    loops: tuple[LoopCurve, ...]
    warmth: WarmthAnswer | None
    notes: tuple[Remark, ...]
    odds: Odds
    decision: Decision

    @property
    def best(self) -> OptionAnswer | None:
        """The cheapest option that meets the needs, under the name it had."""
        import warnings

        warnings.warn("use cheapest for the cheapest, advised for the one to take", DeprecationWarning, stacklevel=2)
        return self.cheapest

    @property
    def cheapest(self) -> OptionAnswer | None:
        """The cheapest option that meets the needs, if any does."""
        return self._option(self.decision.cheapest)

    @property
    def advised(self) -> OptionAnswer | None:
        """The option to take: the cheapest of the about surest that cost little more, see ``decision.decide``."""
        return self._option(self.decision.advised)

    @property
    def equal(self) -> tuple[OptionAnswer, ...]:
        """Options as good as the one to take."""
        return tuple(option for option in self.options if option.id in self.decision.equal)

    def _option(self, option_id: str | None) -> OptionAnswer | None:
        return next((option for option in self.options if option.id == option_id), None)

    @property
    def spoken_of(self) -> OptionAnswer:
        """The option to take, else the nearest to the needs; raises IndexError where there is no option."""
        return self.advised or self.options[0]

    def option(self, option_id: str) -> OptionAnswer:
        """Return the option of an id, or of a name.

        Parameters
        ----------
        option_id : str
            Its id, or its name as it is written.

        Returns
        -------
        OptionAnswer
            The option.

        Raises
        ------
        InputError
            If there is none.
        """
        options = {option.id: option for option in self.options}
        names = self.study.names
        return options[option_of({each: names[each] for each in options}, option_id)]

    def table(self) -> Frame:
        """Return the options' figures, best first.

        Returns
        -------
        pandas.DataFrame
            One row an option; columns named as in the document, parts of the cost as ``cost_per_year.elements`` and so
            on, ranges as ``cost_per_year.p10`` and so on where there are draws.
        """
        rows = []
        for option in self.options:
            values = {name: getattr(option, name) for name in OptionAnswer.__slots__ if name != "us"}
            row: dict[str, Value] = {name: value for name, value in values.items() if isinstance(value, _PLAIN)}
            for group in ("cost_per_year", "energy_kwh_per_year"):
                row |= {f"{group}.{part}": value for part, value in asdict(getattr(option, group)).items()}
            rows.append(row | _sure_row(option.sureness))
        return frame_of(rows).set_index("id")

    def __repr__(self) -> str:
        """Say in a line whose answer it is and what to take; ``table`` and the fields have all."""
        taken = self.advised.name if self.advised else None
        return f"{type(self).__name__}(study={self.study.name!r}, options={len(self.options)}, advised={taken!r})"

    def _repr_html_(self) -> str:
        """Show the figures that one looks at first in a notebook, in the units of the study; ``table`` has all."""
        table = self.table()
        spare = "pump" if len(self.study.pumps) == 1 else ""
        shown = table[[name for name in _LOOKED_AT if name in table and name != spare]]
        return str((in_us_units(shown) if self.study.us else shown).to_html(float_format="{:,.4g}".format, na_rep=""))


_LOOKED_AT = (
    "name", "pump", "meets_needs", "clean_flow_l_per_h", "days_to_first_service", "governed_by", "due_flow_l_per_h",
    "see_through_worst_m", "cost_per_year.total", "choice_cost_per_year", "chance_of_meeting_needs",
    "chance_of_being_best",
)  # fmt: skip


def _sure_row(sure: Sureness | None) -> dict[str, Value]:
    """Return chances and ranges as cells of a row."""
    if sure is None:
        return {}
    row: dict[str, Value] = {
        "chance_of_meeting_needs": sure.chance_of_meeting_needs,
        "chance_of_being_best": sure.chance_of_being_best,
        "cost_of_choosing_wrong_per_year": sure.cost_of_choosing_wrong_per_year,
    }
    for figure, percentiles in sure.ranges.items():
        row |= {f"{figure}.{name}": value for name, value in zip(("p10", "p50", "p90"), percentiles, strict=True)}
    return row
